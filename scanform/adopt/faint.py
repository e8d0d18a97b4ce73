"""Rooms that no whole line closes in: dashed lines, frames that their own label breaks, patches of another grey."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import cv2
import numpy as np

from scanform.adopt.drawing import LINE_PX_PER_MM, cells_of
from scanform.adopt.found import FoundWord, phrases
from scanform.form import Box

__all__ = ["all_cells", "dashed_lines", "patches_of", "through_labels"]

_DASH_THICK_MM, _DASH_LONG_MM, _DASH_GAP_MM, _DASHED_MM = 0.6, 3.2, 3.2, 8.0
_CORNER_MM = 1.2
# Where the frame runs through its label, as shares of the label's height: between the tops of small letters and their
# feet. A line to write on is lower.
_THROUGH = (0.15, 0.68)
_STUB_MM, _STUB_WITHIN_MM, _EDGE_MM, _EDGE_WITHIN_MM = 0.5, 3.0, 2.0, 5.0
# Bars: white print on them takes up less than half.
_DARK, _LETTER_MM, _BAR_HIGH_MM, _BAR_LONG_MM, _BAR_DARK = 110, 1.2, 3.0, 12.0, 0.6
# Patches: looked for at 4 px/mm, where an edge is still found to 0.15 mm.
_COARSER, _PATCH_PX_PER_MM = 3, LINE_PX_PER_MM / 3
_PRINT_MM = 2.6  # print and lines are thinner
_LEAST_PATCH_MM, _MOST_PATCH = 4.5, 0.3
_FILLS = 0.96
_DARKEST, _SAME_GREY, _FEWEST_MM2 = 130, 3, 60.0
_MARGIN_MM, _STRAY = 0.8, 0.002


def all_cells(
    grey: np.ndarray, ink: np.ndarray, lines: tuple[np.ndarray, np.ndarray], words: Sequence[FoundWord]
) -> list[Box]:
    """What lines close in, whole or dashed or broken by a label, or with a dark bar; and what only its grey sets apart.

    ``grey``, ``ink`` and ``lines``, level and upright: uint8 (height, width) at 12 px/mm.
    """
    level, upright = lines
    across, down = dashed_lines(ink)
    broken = through_labels(ink, level, [line.box_mm for line in phrases(words)])
    cells = cells_of(ink | broken, level | across | broken, upright | down)
    cells += under_bars(grey, ink | broken, (level | across | broken, upright | down), cells)
    return cells + patches_of(grey, ink, cells, [word.box_mm for word in words])


def dashed_lines(ink: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Level and upright lines of dashes or dots, made whole; uint8 (height, width) each, as the ink at 12 px/mm."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    if count < 2:
        return np.zeros_like(ink), np.zeros_like(ink)
    wide, high = stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]
    thick, long = _px(_DASH_THICK_MM), _px(_DASH_LONG_MM)
    level, upright = (high <= thick) & (wide <= long), (wide <= thick) & (high <= long)
    level[0] = upright[0] = False
    across = _made_whole(level[labels].astype(np.uint8))
    down = _made_whole(np.ascontiguousarray(upright[labels].astype(np.uint8).T)).T
    return across, np.ascontiguousarray(down)


def _made_whole(dashes: np.ndarray) -> np.ndarray:
    thick = cv2.dilate(dashes, np.ones((3, 1), np.uint8))
    joined = cv2.morphologyEx(thick, cv2.MORPH_CLOSE, np.ones((1, _px(_DASH_GAP_MM) | 1), np.uint8))
    whole = cv2.morphologyEx(joined, cv2.MORPH_OPEN, np.ones((1, _px(_DASHED_MM)), np.uint8))
    # The dash in a corner belongs to two lines, and to neither of them by its shape.
    return np.asarray(cv2.dilate(whole, np.ones((1, 2 * _px(_CORNER_MM) + 1), np.uint8)))


def under_bars(
    grey: np.ndarray, ink: np.ndarray, lines: tuple[np.ndarray, np.ndarray], cells: Sequence[Box]
) -> list[Box]:
    """Cells that a dark bar closes on one side, as a heading in white on black does those of the row under it.

    Arguments as for :func:`all_cells`; ``cells``: that are found already.
    """
    dark = (grey < _DARK).astype(np.uint8)
    letters = _px(_LETTER_MM) | 1
    filled = cv2.morphologyEx(dark, cv2.MORPH_CLOSE, np.ones((letters, letters), np.uint8))
    solid = cv2.morphologyEx(filled, cv2.MORPH_OPEN, np.ones((_px(_BAR_HIGH_MM), _px(_BAR_LONG_MM)), np.uint8))
    count, labels, _, _ = cv2.connectedComponentsWithStats(solid, connectivity=4)
    if count < 2:
        return []
    share = np.bincount(labels.ravel(), dark.ravel(), count) / np.bincount(labels.ravel(), minlength=count)
    share[0] = 0.0  # what is no bar; and a line of bold print, its letters run together, is light for the most part
    bars = (share > _BAR_DARK)[labels].astype(np.uint8)
    edges = cv2.subtract(bars, cv2.erode(bars, np.ones((3, 3), np.uint8)))
    level, upright = lines
    return [
        box
        for box in cells_of(ink | edges, level | edges, upright | edges)
        if _share(box, bars) < _BAR_DARK / 2 and not any(box.overlaps(cell.grown(-_MARGIN_MM)) for cell in cells)
    ]


def _share(box: Box, mask: np.ndarray) -> float:
    x, y, w, h = (_px(value) for value in box)
    part = mask[y : y + h, x : x + w]
    return float(part.mean()) if part.size else 1.0


def through_labels(ink: np.ndarray, level: np.ndarray, labels: Iterable[Box]) -> np.ndarray:
    """The lines that are missing where a label is set into the upper edge of its frame; uint8 as the ink.

    ``labels``: printed phrases. ``level``: level strokes of the ink.
    """
    mended = np.zeros_like(ink)
    width = ink.shape[1]
    for label in labels:
        top, bottom = (_px(label.y_mm + share * label.h_mm) for share in _THROUGH)
        left, right = _px(label.x_mm), _px(label.right_mm)
        stub = ink[top:bottom, max(0, left - _px(_STUB_WITHIN_MM)) : left].sum(axis=1) >= _px(_STUB_MM)
        edge = level[top:bottom, right : right + _px(_EDGE_WITHIN_MM)].sum(axis=1) >= _px(_EDGE_MM)
        if stub.any() and edge.any() and (stub & edge).any():
            row = top + int(np.flatnonzero(stub & edge)[0])
            start, end = max(0, left - _px(_STUB_WITHIN_MM)), min(width, right + _px(_EDGE_WITHIN_MM))
            mended[row : row + 2, start:end] = 1
    return mended


def patches_of(grey: np.ndarray, ink: np.ndarray, cells: Sequence[Box], words: Sequence[Box]) -> list[Box]:
    """Empty rectangles that differ from what is round them by their grey alone.

    ``grey`` and ``ink``: uint8 (height, width) at 12 px/mm. None that touches one of the ``cells`` but those that hold
    it whole, and none with words in it.
    """
    small = cv2.resize(grey, None, fx=1 / _COARSER, fy=1 / _COARSER, interpolation=cv2.INTER_AREA)
    side = round(_PRINT_MM * _PATCH_PX_PER_MM) | 1
    ground = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    counts = np.bincount(ground.ravel(), minlength=256)
    greys = [g for g in range(_DARKEST, 256) if counts[g] >= _FEWEST_MM2 * _PATCH_PX_PER_MM**2]
    found: list[Box] = []
    for level in greys if len(greys) > 1 else ():
        for box in _rectangles(ground, level):
            alone = not any(box.overlaps(cell) and not cell.grown(_MARGIN_MM).contains(box) for cell in cells)
            held = any(box.contains(Box(*word.centre_mm, 0.01, 0.01)) for word in words)
            # A cell of the same size is this patch with a frame round it.
            framed = any(abs(c.w_mm - box.w_mm) < 2 and abs(c.h_mm - box.h_mm) < 2 and c.overlaps(box) for c in cells)
            if alone and not held and not framed and _empty(box, ink) and not any(box.overlaps(o) for o in found):
                found.append(box)
    return found


def _rectangles(ground: np.ndarray, level: int) -> list[Box]:
    alike = cv2.inRange(ground, max(0, level - _SAME_GREY), min(255, level + _SAME_GREY))  # type: ignore[call-overload]
    _, _, stats, _ = cv2.connectedComponentsWithStats(alike, connectivity=4)
    height, width = ground.shape
    least = _LEAST_PATCH_MM * _PATCH_PX_PER_MM
    boxes = []
    for x, y, w, h, area in stats[1:].tolist():
        inside = x > 0 and y > 0 and x + w < width and y + h < height
        if inside and min(w, h) >= least and area >= _FILLS * w * h and w * h <= _MOST_PATCH * height * width:
            boxes.append(Box(*(float(value) / _PATCH_PX_PER_MM for value in (x, y, w, h))))
    return boxes


def _empty(box: Box, ink: np.ndarray) -> bool:
    x, y, w, h = box.grown(-_MARGIN_MM)
    part = ink[_px(y) : _px(y + h), _px(x) : _px(x + w)]
    return bool(part.size and part.mean() < _STRAY)


def _px(mm: float) -> int:
    return max(0, round(mm * LINE_PX_PER_MM))
