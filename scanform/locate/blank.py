"""Tell an empty page (a blank back, a separator) from one with something on it, however faint."""

from __future__ import annotations

from enum import StrEnum

import cv2
import numpy as np

from scanform.locate.marks import find_marks, reduced

__all__ = ["Traces", "clearer", "ink_share", "traces"]

_LONG_SIDE_PX = 900
_EDGE_SHARE = 0.04  # scanners draw their own shadow round the paper's edge
# Fitted on nothing: a blank office back has at most 0.01 % of its area darker than the paper, a sheet 2 % and more.
_BLANK_INK_SHARE = 0.0004
_INK = 0.14  # of the paper's own grey: fainter than the lightest pencil, above show-through of most paper
_TRACE = 0.03  # far above the noise that is left in blocks of 4 x 4 pixels
_FEWEST_MIRRORED = 2
_ABOVE_SHOW_THROUGH = 1.6  # show-through is uneven; ink of this side is several times as dark
_CLEAR = 0.5  # print this much darker than its paper needs no help
_MOST_GAIN = 12.0


class Traces(StrEnum):
    """What there is on a page: ``nothing``; the print of its other side (``shows-through``); something ``faint``, be
    it print or shadows; ``ink``.
    """

    NOTHING = "nothing"
    SHOWS_THROUGH = "shows-through"
    FAINT = "faint"
    INK = "ink"


def traces(pixels: np.ndarray) -> Traces:
    """What there is on a uint8 (height, width) page on which no registration mark was seen."""
    if ink_share(pixels, _TRACE) < _BLANK_INK_SHARE:
        return Traces.NOTHING
    level = _show_through(pixels)
    if level is not None and ink_share(pixels, max(_INK, _ABOVE_SHOW_THROUGH * level)) < _BLANK_INK_SHARE:
        return Traces.SHOWS_THROUGH
    return Traces.FAINT if ink_share(pixels, _INK) < _BLANK_INK_SHARE else Traces.INK


def ink_share(pixels: np.ndarray, darker: float) -> float:
    """Share of a uint8 (height, width) page that is darker than the paper around it, scanner edges left out.

    ``darker``: by how much of the paper's own grey.
    """
    small, _ = reduced(pixels, _LONG_SIDE_PX)
    inner = _inner(small)
    if inner.size == 0:
        return 0.0
    below = cv2.blur(inner, (3, 3)) < _paper(inner) * (1 - darker)
    # Single specks are dust: what counts has neighbours.
    return float(cv2.morphologyEx(below.astype(np.uint8), cv2.MORPH_OPEN, np.ones((2, 2), np.uint8)).mean())


def clearer(pixels: np.ndarray) -> np.ndarray:
    """The page with its faint print made dark, for looking at only; the page itself if its print is dark enough."""
    small, _ = reduced(pixels, _LONG_SIDE_PX)
    inner = _inner(small)
    if inner.size == 0:
        return pixels
    paper = _paper(inner)
    darkest = 1 - float(np.percentile(cv2.blur(inner, (3, 3)) / np.maximum(paper, 1), 0.5))
    if darkest > _CLEAR:
        return pixels
    gain = min(_MOST_GAIN, 1 / max(darkest, 1e-3))
    level = float(np.median(paper))
    return cv2.LUT(pixels, np.clip(250 - (level - np.arange(256)) * gain * 250 / level, 0, 255).astype(np.uint8))


def _inner(small: np.ndarray) -> np.ndarray:
    edge_y, edge_x = (max(1, round(size * _EDGE_SHARE)) for size in small.shape)
    return small[edge_y:-edge_y, edge_x:-edge_x]


def _paper(inner: np.ndarray) -> np.ndarray:
    """Grey of the paper around each pixel, float32."""
    paper = cv2.morphologyEx(cv2.medianBlur(inner, 5), cv2.MORPH_CLOSE, np.ones((31, 31), np.uint8))
    return cv2.blur(paper, (31, 31)).astype(np.float32)


def _show_through(pixels: np.ndarray) -> float | None:
    """How dark the other side's print shows, as a share of the paper's grey; None if no marks are mirrored."""
    mirrored = np.ascontiguousarray(clearer(pixels)[:, ::-1])
    marks = find_marks(mirrored)
    if len(marks) < _FEWEST_MIRRORED:
        return None
    levels = []
    for mark in marks:
        x, y, w, h = cv2.boundingRect(mark.corners_px)
        part = pixels[max(0, y) : y + h, max(0, pixels.shape[1] - x - w) : pixels.shape[1] - x]
        paper, print_ = np.percentile(part, (95, 10))
        levels.append(1 - print_ / max(paper, 1.0))
    return float(np.max(levels))
