"""What all copies of a stack have in common at each place: print coincides from copy to copy, strokes of a pen do not.

Where something is dark on most copies it may still be handwriting: ticks that always stand in the same column, dots in
the middle of boxes, the same name on the same line. Its edges tell: those of print lie at the same place on every copy,
those of a pen's strokes at another one each time.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from scanform.form import Box

__all__ = ["CommonPrint", "common_print"]

_STRIP_ROWS = 256  # memory: a strip of all copies at once, not the pages
# How often an edge has to be seen to be print's: on all but so many of the copies. A fifth of them may be torn, dirty,
# starved of toner or laid over badly just there.
_EDGE_QUANTILE = 0.3
_EDGE_BLUR_MM = 0.07
_EDGE_AGREES = 0.42  # of the average steepness; print has 0.6 and more, recurring ticks 0.3 and less
_FAINTEST_EDGE = 10.0  # of the average steepness, in ink levels a pixel: paper's noise is below
_ON_EDGE_MM = 0.15
_EDGE_REACH_MM = 0.4  # strokes of print are no farther from their edges; what is wider is dark on all copies
_SOLID_QUANTILE, _SOLID_INK = 0.1, 128
# Black and white scans leave of a dark bar its rim alone, so not all copies have to show it: no pen is so wide.
_BAR_MM = 1.6
_SEEN_INK, _PALE_INK = 64, 28
_LEAST_PLACE_MM = 0.8
_LEAST_EDGE_PX = 5  # round the smallest full stop, of 6 pt print, are eight
_SPECK_MM2, _DOT_INK = 0.5, 110


@dataclass(frozen=True, eq=False)
class CommonPrint:
    """``ink``: uint8 (height, width), 0 paper to 255 solid print. ``agreement``: share of its edges that nearly all
    copies show. ``left_out_mm``: where ink recurs that was not taken for print, largest first.
    """

    ink: np.ndarray = field(repr=False)
    agreement: float
    left_out_mm: tuple[Box, ...]


def common_print(copies: np.ndarray, px_per_mm: float) -> CommonPrint:
    """The print in uint8 (n, height, width) ink of n copies that lie over each other."""
    middle = np.empty(copies.shape[1:], np.uint8)
    solid = np.empty(copies.shape[1:], np.uint8)
    lower = np.empty(copies.shape[1:], np.uint8)
    agrees = np.empty(copies.shape[1:], np.float32)
    margin = 8
    for top in range(0, copies.shape[1], _STRIP_ROWS):
        rows = slice(top, min(top + _STRIP_ROWS, copies.shape[1]))
        ranked = np.sort(copies[:, rows], axis=0)
        last = len(copies) - 1
        middle[rows] = ranked[len(copies) // 2] if len(copies) % 2 else ranked[last // 2 : last // 2 + 2].mean(axis=0)
        solid[rows] = ranked[int(_SOLID_QUANTILE * last)]
        lower[rows] = ranked[int(_EDGE_QUANTILE * last)]
        start = max(0, top - margin)
        found = _edges_agree(copies[:, start : rows.stop + margin], px_per_mm)
        agrees[rows] = found[top - start : top - start + rows.stop - top]
    edges = _larger((agrees > _EDGE_AGREES).astype(np.uint8), _LEAST_EDGE_PX)
    on_edge = _within(edges, _ON_EDGE_MM * px_per_mm)
    within_stroke = _within(edges, _EDGE_REACH_MM * px_per_mm)
    full = (solid > _SOLID_INK) | _bars(middle, px_per_mm)
    kept = within_stroke | full
    # Beside an edge what most copies show; farther in what nearly all do: boxes are small, and ticks stand in them.
    ink = np.where(on_edge | full, middle, np.where(within_stroke, lower, 0)).astype(np.uint8)
    ink[ink < _PALE_INK] = 0
    ink[_specks(ink, px_per_mm)] = 0
    shown = agrees[(ink > _SEEN_INK) & (agrees > 0)]
    sure = float((shown > _EDGE_AGREES).mean()) if len(shown) else 0.0
    return CommonPrint(ink, sure, _left_out(middle, kept, px_per_mm))


def _edges_agree(strip: np.ndarray, px_per_mm: float) -> np.ndarray:
    """Of each pixel, how steep the copies' ink is there in its common direction, all but the least steep, against the
    average of all copies in any direction: float32 (height, width), 1 for the same edge on all, 0 where nothing is.
    """
    blur = _EDGE_BLUR_MM * px_per_mm
    soft = np.stack([cv2.GaussianBlur(one, (0, 0), blur) for one in strip]).astype(np.float32)
    gx = np.stack([cv2.Sobel(one, cv2.CV_32F, 1, 0, scale=0.125) for one in soft])
    gy = np.stack([cv2.Sobel(one, cv2.CV_32F, 0, 1, scale=0.125) for one in soft])
    steep = np.hypot(gx, gy).mean(axis=0)
    along_x, along_y = gx.mean(axis=0), gy.mean(axis=0)
    length = np.maximum(np.hypot(along_x, along_y), 1e-3)
    projected = gx * (along_x / length) + gy * (along_y / length)
    at = int(_EDGE_QUANTILE * (len(strip) - 1))
    common = np.partition(projected, at, axis=0)[at]
    return np.where(steep > _FAINTEST_EDGE, common / np.maximum(steep, 1e-3), 0.0).astype(np.float32)


def _bars(middle: np.ndarray, px_per_mm: float) -> np.ndarray:
    """Where most copies are dark over more than any pen's width, bool (height, width)."""
    side = round(_BAR_MM * px_per_mm)
    return cv2.morphologyEx((middle > _SOLID_INK).astype(np.uint8), cv2.MORPH_OPEN, np.ones((side, side), np.uint8)) > 0


def _within(mask: np.ndarray, reach_px: float) -> np.ndarray:
    """Bool (height, width): no farther than that from the uint8 mask."""
    reach = max(1, round(reach_px))
    return cv2.dilate(mask, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))) > 0


def _larger(mask: np.ndarray, least_px: int) -> np.ndarray:
    """The parts of a uint8 mask that have so many pixels: two strokes of a pen cross in the same place by chance."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    large = stats[:, cv2.CC_STAT_AREA] >= least_px
    large[0] = False
    return large[labels].astype(np.uint8)


def _specks(ink: np.ndarray, px_per_mm: float) -> np.ndarray:
    """Where small pale spots are, bool (height, width): what is left of recurring strokes; print's dots are dark."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats((ink > 0).astype(np.uint8))
    darkest = np.zeros(count, np.uint8)
    np.maximum.at(darkest, labels.ravel().astype(np.intp), ink.ravel())
    speck = (stats[:, cv2.CC_STAT_AREA] < _SPECK_MM2 * px_per_mm**2) & (darkest < _DOT_INK)
    speck[0] = False
    return speck[labels]


def _left_out(middle: np.ndarray, kept: np.ndarray, px_per_mm: float) -> tuple[Box, ...]:
    recurring = ((middle > _SEEN_INK) & ~kept).astype(np.uint8)
    joined = cv2.morphologyEx(recurring, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    _, _, stats, _ = cv2.connectedComponentsWithStats(joined)
    boxes = [Box(*(float(v) / px_per_mm for v in row[:4])) for row in stats[1:]]
    large = [box for box in boxes if max(box.w_mm, box.h_mm) >= _LEAST_PLACE_MM]
    return tuple(sorted(large, key=lambda box: -box.w_mm * box.h_mm))
