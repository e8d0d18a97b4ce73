"""Pictures of what was seen: a page with its boxes, readings and doubts; and the ink of one doubt."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from scanform.binder import Binder, Doubt, RecordedPage
from scanform.intake import load_page
from scanform.report.wording import value_in_words
from scanform.settle import SettledField, State

__all__ = ["draw_page", "write_crop"]

# Blue, green, red as OpenCV wants them. State is told by the line's form too, not by colour alone.
_COLOURS = {State.ACCEPTED: (90, 140, 0), State.DOUBTFUL: (0, 80, 230), State.CONFIRMED: (170, 90, 0)}
_MARK_COLOUR = (200, 0, 160)
_LONG_SIDE_PX = 2400
_CROP_MARGIN = 0.35  # of the field's height, so that the neighbourhood shows
_CROP_LEAST_HEIGHT_PX = 160

Polygon = Sequence[Sequence[float]]


def draw_page(page: RecordedPage, marks_px: Sequence[Polygon], folder: Path) -> Path:
    """Draw a page with marks, field outlines and readings into ``folder`` as PNG; returns the file."""
    record = page.record
    name = f"{Path(record.source).stem}-{record.page_number:03d}-{record.outcome.value}.png"
    try:
        pixels = load_page(Path(record.source_path), record.page_number).pixels
    except Exception:
        pixels = np.full((800, 600), 255, np.uint8)
    factor = min(1.0, _LONG_SIDE_PX / max(pixels.shape))
    small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    canvas = cv2.cvtColor(small, cv2.COLOR_GRAY2BGR)
    for mark in marks_px:
        cv2.polylines(canvas, [_points(mark, factor)], True, _MARK_COLOUR, 3, cv2.LINE_AA)
    for field in record.fields:
        _draw_field(canvas, field, factor)
    title = f"{record.outcome.value}: {record.reason}" if record.reason else record.outcome.value
    _label(canvas, title, (12, 30), (0, 0, 0), 0.7)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    cv2.imwrite(str(path), canvas)
    return path


def _draw_field(canvas: np.ndarray, field: SettledField, factor: float) -> None:
    colour = _COLOURS[field.state]
    points = _points(field.polygon_px, factor)
    cv2.polylines(canvas, [points], True, colour, 4 if field.state is State.DOUBTFUL else 2, cv2.LINE_AA)
    if field.value not in (None, False) or field.state is State.DOUBTFUL:
        shown = value_in_words(field.value)
        sign = "? " if field.state is State.DOUBTFUL else ""
        _label(canvas, f"{sign}{shown}", (int(points[:, 0].min()) + 2, int(points[:, 1].min()) - 4), colour, 0.5)


def _label(canvas: np.ndarray, text: str, at: tuple[int, int], colour: tuple[int, int, int], size: float) -> None:
    plain = text.encode("ascii", "replace").decode()
    cv2.putText(canvas, plain, at, cv2.FONT_HERSHEY_SIMPLEX, size, (255, 255, 255), 4, cv2.LINE_AA)
    cv2.putText(canvas, plain, at, cv2.FONT_HERSHEY_SIMPLEX, size, colour, 1, cv2.LINE_AA)


def _points(polygon: Polygon, factor: float) -> np.ndarray:
    return np.round(np.array(polygon, float) * factor).astype(np.int32)


def write_crop(binder: Binder, doubt: Doubt, folder: Path) -> Path | None:
    """Write the ink of a doubt, upright and with a little of what is around it; None if its page is not archived."""
    archived = binder.archived(doubt.sha256)
    if archived is None or not doubt.field.polygon_px:
        return None
    pixels = load_page(archived, doubt.page_number).pixels
    corners = np.array(doubt.field.polygon_px, np.float32)
    across, down = corners[1] - corners[0], corners[3] - corners[0]
    width, height = float(np.linalg.norm(across)), float(np.linalg.norm(down))
    margin = _CROP_MARGIN * height
    scale = max(1.0, _CROP_LEAST_HEIGHT_PX / (height + 2 * margin))
    size = (round((width + 2 * margin) * scale), round((height + 2 * margin) * scale))
    source = corners[[0, 1, 3]]
    left, top = margin * scale, margin * scale
    target = np.array([[left, top], [left + width * scale, top], [left, top + height * scale]], np.float32)
    crop = cv2.warpAffine(pixels, cv2.getAffineTransform(source, target), size, flags=cv2.INTER_CUBIC, borderValue=255)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{doubt.ref}.png"
    cv2.imwrite(str(path), crop)
    return path
