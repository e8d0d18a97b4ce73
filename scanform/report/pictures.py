"""Pictures of what was seen: a page with its boxes, readings and doubts; and the ink of one doubt."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap

import cv2
import numpy as np

from scanform.binder import Binder, Doubt, RecordedPage
from scanform.errors import ScanformError, UsageError
from scanform.files import told
from scanform.intake import load_page
from scanform.report.ink import cut_ink
from scanform.report.wording import value_in_words
from scanform.settle import SettledField, State

__all__ = ["draw_page", "ink_of", "write_crop"]

# Blue, green, red as OpenCV wants them. State is told by the line's form too, not by colour alone.
_COLOURS = {State.ACCEPTED: (90, 140, 0), State.DOUBTFUL: (0, 80, 230), State.CONFIRMED: (170, 90, 0)}
_MARK_COLOUR = (200, 0, 160)
_LONG_SIDE_PX = 2400
_LETTERS = 0.62  # OpenCV's unit; capitals 13 px high
_CROP_MARGIN = 0.35  # of the field's height, so that the neighbourhood shows
_CROP_LEAST_HEIGHT_PX = 160

Polygon = Sequence[Sequence[float]]


def draw_page(page: RecordedPage, marks_px: Sequence[Polygon], folder: Path, archived: Path | None) -> Path:
    """Draw a page with marks, field outlines and readings into ``folder`` as PNG; returns the file.

    ``archived`` is the page's file in the archive: the one that was read may be gone, or hold something else by now.
    """
    record = page.record
    # The page's number in the record leads: files of two folders may have one name.
    stem = Path(record.source).stem
    name = f"{page.number:04d}-{stem}-{record.page_number:03d}-{record.outcome.value}.png"
    try:
        pixels = load_page(archived or Path(record.source_path), record.page_number).pixels
    except ScanformError:  # the reason is on record, and the picture's title says it
        pixels = np.full((800, 600), 255, np.uint8)
    factor = min(1.0, _LONG_SIDE_PX / max(pixels.shape))
    small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    canvas = cv2.cvtColor(small, cv2.COLOR_GRAY2BGR)
    for mark in marks_px:
        cv2.polylines(canvas, [_points(mark, factor)], True, _MARK_COLOUR, 3, cv2.LINE_AA)
    for field in record.fields:
        if field.polygon_px:  # a sheet entered by hand: nobody knows where on the page its fields lie
            _draw_field(canvas, field, factor)
    title = f"{record.outcome.value}: {record.reason}" if record.reason else record.outcome.value
    return _saved(_titled(canvas, title), folder / name)


def _titled(canvas: np.ndarray, title: str) -> np.ndarray:
    """The picture with a white band on top that says what became of the page."""
    lines = wrap(title.encode("ascii", "replace").decode(), max(20, canvas.shape[1] // 13))
    banded = cv2.copyMakeBorder(canvas, 12 + 28 * len(lines), 0, 0, 0, cv2.BORDER_CONSTANT, value=(255, 255, 255))
    for n, line in enumerate(lines):
        cv2.putText(banded, line, (12, 28 + 28 * n), cv2.FONT_HERSHEY_SIMPLEX, 0.7, (0, 0, 0), 2, cv2.LINE_AA)
    return banded


def _draw_field(canvas: np.ndarray, field: SettledField, factor: float) -> None:
    colour = _COLOURS[field.state]
    points = _points(field.polygon_px, factor)
    doubtful = field.state is State.DOUBTFUL
    cv2.polylines(canvas, [points], True, colour, 4 if doubtful else 2, cv2.LINE_AA)
    if field.value not in (None, False) or doubtful:
        text = f"{'? ' if doubtful else ''}{value_in_words(field.value)}"
        _label(canvas, text, (int(points[:, 0].max()), int(points[:, 1].min()) - 3), colour)


def _label(canvas: np.ndarray, text: str, right_foot: tuple[int, int], colour: tuple[int, int, int]) -> None:
    """Words on a white ground, their lower right corner at ``right_foot``."""
    plain = text.encode("ascii", "replace").decode()
    (width, height), _ = cv2.getTextSize(plain, cv2.FONT_HERSHEY_SIMPLEX, _LETTERS, 2)
    x, y = max(right_foot[0] - width, 2), max(right_foot[1], height + 4)
    cv2.rectangle(canvas, (x - 3, y - height - 4), (x + width + 3, y + 3), (255, 255, 255), -1)
    cv2.putText(canvas, plain, (x, y - 1), cv2.FONT_HERSHEY_SIMPLEX, _LETTERS, colour, 2, cv2.LINE_AA)


def _points(polygon: Polygon, factor: float) -> np.ndarray:
    return np.round(np.array(polygon, float) * factor).astype(np.int32)


def write_crop(binder: Binder, doubt: Doubt, folder: Path) -> Path | None:
    """Write the ink of a doubt, upright and with a little of what is around it; None if its page is not archived."""
    archived = binder.archived(doubt.sha256)
    if archived is None or not doubt.field.polygon_px:
        return None
    crop = ink_of(load_page(archived, doubt.page_number).pixels, doubt.field.polygon_px)
    return _saved(crop, folder / f"{doubt.ref}.png")


def ink_of(pixels: np.ndarray, polygon_px: Polygon) -> np.ndarray:
    """A field's ink out of its page (uint8, height x width), upright and with a little of what is around it.

    ``polygon_px``: four corners, clockwise from the field's upper left one.
    """
    corners = np.array(polygon_px, np.float32)
    height = float(np.linalg.norm(corners[3] - corners[0]))
    margin = _CROP_MARGIN * height
    scale = max(1.0, _CROP_LEAST_HEIGHT_PX / (height + 2 * margin))
    return cut_ink(pixels, polygon_px, margin, margin, scale)


def _saved(picture: np.ndarray, path: Path) -> Path:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(cv2.imencode(".png", picture)[1].tobytes())
    except OSError as problem:
        raise UsageError(
            f"{path} cannot be written: {told(problem)}, or name another folder; what was read is on record."
        ) from problem
    return path
