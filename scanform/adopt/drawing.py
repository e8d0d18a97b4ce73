"""Find what lines draw on a form: level rules, dotted or whole, and the rectangles that lines close in.

The same for a PDF, drawn without noise, and a scan: whatever way a program has drawn a border, or a stationer printed
it, it is dark and straight. At 12 px/mm a border's middle is found to 0.05 mm in the one and to about 0.1 mm in the
other.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from scanform.adopt.found import FoundRule
from scanform.form import Box

__all__ = ["LINE_PX_PER_MM", "cells_of", "ink_of", "line_mask", "rules_of", "scaled", "without_lines"]

LINE_PX_PER_MM = 12.0  # 305 dpi

# Lengths in mm. Chosen on the forms named in DEVELOPERS.md as those that adopting was fitted on.
_BLOB_MM = 2.5  # what is dark over more than this is a bar or a shaded row: its own paper
_LEAST_CONTRAST = 0.16  # of white: a hairline at 200 dpi is a third as dark as its ink
_SHORTEST_SIDE_MM = 2.0  # of a box; letters have shorter strokes, but for headings, whose strokes close in nothing
_BRIDGED_MM = 0.4  # gaps in a line that a scan leaves
_THICKEST_MM = 1.4
_SHORTEST_RULE_MM = 8.0
_LONGEST_RUN_MM, _RUN_HIGH_MM = 8.0, 0.75
_CORNER_MM, _FRAME_SIDE_MM = 0.6, 6.0
_ALONG = 0.3  # of the shorter line; the feet of a word may run into the dots after it
_LARGEST_DOT_MM, _WIDEST_DOT_GAP_MM = 0.9, 2.2
# A row is one of dots if so much of it is dots that touch nothing; a shorter piece of it that looks whole is no rule.
_DOTTED, _PIECE, _SAME_LINE_MM = 0.08, 0.8, 0.4
_FILLS = 0.86  # of its rectangle that a closed region must fill; a circle fills 0.79
_LEAST_FRAME_MM = 4.5
_FILLS_ROUNDED = 0.9  # a larger frame, its corners round: only what they cut off is missing, and its label
_ROUND, _ROUND_MM = (0.72, 0.86), (2.6, 9.0)  # and is taken for a place to tick if many of one size are on the page
_FEWEST_ROUND, _SAME_SIZE_MM = 6, 0.35
_SMALL_BOX_MM = (2.2, 9.0)  # found by its ink alone, rounded corners and all
_MOST_OF_PAGE = 0.6
_NO_LETTER_MM = 6.0
_NO_WORD_MM = 12.0  # serifs of bold capitals run into each other along a short word
_LEADER_MARGIN_MM = 0.25
_BAR_MM, _BAR_GREY = 3.0, 125  # black print of any weight leaves more white on so much paper


def scaled(grey: np.ndarray, by: float) -> np.ndarray:
    """The picture ``by`` times as fine, exactly: its sides need not be whole numbers of pixels then."""
    how = cv2.INTER_AREA if by < 1 else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(grey, None, fx=by, fy=by, interpolation=how))


def ink_of(grey: np.ndarray) -> np.ndarray:
    """Print on its own ground, uint8 (height, width) of 0 and 1, from a uint8 grey picture at 12 px/mm."""
    side = _odd(_BLOB_MM)
    paper = cv2.morphologyEx(grey, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    return (cv2.subtract(paper, grey) > _LEAST_CONTRAST * 255).astype(np.uint8)


def line_mask(ink: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Level and upright strokes of the ink at least as long as a box's side, uint8 (height, width) each."""
    return _strokes(ink), np.ascontiguousarray(_strokes(np.ascontiguousarray(ink.T)).T)


def _strokes(ink: np.ndarray) -> np.ndarray:
    """Level ones. A line that is a little slanted steps from row to row: neighbouring rows help it over the step."""
    bridged = cv2.morphologyEx(ink, cv2.MORPH_CLOSE, np.ones((1, _odd(_BRIDGED_MM)), np.uint8))
    thick = cv2.dilate(bridged, np.ones((3, 1), np.uint8))
    long = cv2.morphologyEx(thick, cv2.MORPH_OPEN, np.ones((1, _px(_SHORTEST_SIDE_MM)), np.uint8))
    return cv2.bitwise_and(cv2.dilate(long, np.ones((1, 3), np.uint8)), bridged)


def rules_of(ink: np.ndarray, level: np.ndarray, upright: np.ndarray) -> list[FoundRule]:
    """Level lines, whole and dotted, that are no upper edge of a frame. Masks as :func:`line_mask` gives them."""
    whole = cv2.morphologyEx(level, cv2.MORPH_OPEN, np.ones((1, _px(_SHORTEST_RULE_MM / 2)), np.uint8))
    whole = cv2.morphologyEx(whole, cv2.MORPH_CLOSE, np.ones((3, _odd(1.0)), np.uint8))
    found = [FoundRule(box) for box in _long_ones(whole) if not _turns_down(box, upright)]
    dots = _dots(ink)
    # Some of a row of fine dots run into each other for so long that they pass for a rule.
    rows = cv2.morphologyEx(
        cv2.dilate(dots | whole, np.ones((3, 1), np.uint8)),
        cv2.MORPH_CLOSE,
        np.ones((1, _odd(_WIDEST_DOT_GAP_MM)), np.uint8),
    )
    rows = cv2.morphologyEx(rows, cv2.MORPH_OPEN, np.ones((1, _px(_SHORTEST_RULE_MM)), np.uint8))
    dotted = [FoundRule(box, True) for box in _long_ones(rows) if _dotted_share(box, dots) >= _DOTTED]
    found = [rule for rule in found if not any(_is_piece_of(rule.box_mm, other.box_mm) for other in dotted)]
    return found + [rule for rule in dotted if not any(_along(rule.box_mm, other.box_mm) for other in found)]


def _dotted_share(row: Box, dots: np.ndarray) -> float:
    """How much of a row of dots' length is dots that stand by themselves, 0 to 1."""
    x, y, w, h = (round(value * LINE_PX_PER_MM) for value in row.grown(1 / LINE_PX_PER_MM))
    part = dots[max(0, y) : y + h, max(0, x) : x + w]
    return float(part.any(axis=0).mean()) if part.size else 0.0


def _is_piece_of(rule: Box, row: Box) -> bool:
    return (
        abs(rule.centre_mm[1] - row.centre_mm[1]) < _SAME_LINE_MM
        and rule.w_mm < _PIECE * row.w_mm
        and (row.x_mm - _SAME_LINE_MM < rule.x_mm and rule.right_mm < row.right_mm + _SAME_LINE_MM)
    )


def _turns_down(rule: Box, upright: np.ndarray) -> bool:
    """Whether a line goes down from the rule's right end, and none up: then it is the upper edge of a frame."""
    x, y = round(rule.right_mm * LINE_PX_PER_MM), round(rule.centre_mm[1] * LINE_PX_PER_MM)
    near, reach, gap = _px(_CORNER_MM), _px(_FRAME_SIDE_MM), _px(_THICKEST_MM)
    beside = upright[:, max(0, x - near) : x + near]
    down, up = beside[y + gap : y + reach], beside[max(0, y - reach) : max(0, y - gap)]
    return bool(down.size and down.any(axis=1).all() and not up.any(axis=1).all())


def _long_ones(mask: np.ndarray) -> list[Box]:
    _, _, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    boxes = []
    for x, y, w, h, area in stats[1:].tolist():
        if w >= _px(_SHORTEST_RULE_MM) and area / w <= _px(_THICKEST_MM):
            # A line that is slanted a little is as high as it rises; its middle is what counts.
            thick = max(area / w, 1.0)
            boxes.append(_box(x, y + h / 2 - thick / 2, w, thick))
    return boxes


def _dots(ink: np.ndarray) -> np.ndarray:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    small = (stats[:, 2:4].max(axis=1) <= 2 * _px(_LARGEST_DOT_MM)) & (stats[:, 3] <= _px(_LARGEST_DOT_MM))
    # Copied dots run into each other; what they make is lower than letters.
    small |= (stats[:, 2] <= _px(_LONGEST_RUN_MM)) & (stats[:, 3] <= _px(_RUN_HIGH_MM))
    small[0] = False
    return small[labels].astype(np.uint8) if count > 1 else np.zeros_like(ink)


def _along(a: Box, b: Box) -> bool:
    shared = min(a.right_mm, b.right_mm) - max(a.x_mm, b.x_mm)
    return abs(a.centre_mm[1] - b.centre_mm[1]) < 1.0 and shared > _ALONG * min(a.w_mm, b.w_mm)


def cells_of(ink: np.ndarray, level: np.ndarray, upright: np.ndarray) -> list[Box]:
    """Rectangles that lines close in, drawn to the middle of their lines, none twice."""
    lines = cv2.morphologyEx(level | upright, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    found = _regions(lines, (_SHORTEST_SIDE_MM * 0.8, max(ink.shape)))
    # Rounded corners and the boxes of typefaces leave gaps between their straight sides.
    closed = cv2.morphologyEx(ink, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    small = [*_regions(closed, _SMALL_BOX_MM), *_round_boxes(closed)]
    for box in [*small, *_regions(closed, (_LEAST_FRAME_MM, max(ink.shape)), (_FILLS_ROUNDED, 1.0))]:
        if not any(_same(box, other) for other in found):
            found.append(box)
    return found


def _round_boxes(walls: np.ndarray) -> list[Box]:
    """Rings of one size that are as wide as high, at least six: the counters of letters are not."""
    rings = [box for box in _regions(walls, _ROUND_MM, _ROUND) if abs(box.w_mm - box.h_mm) < _SAME_SIZE_MM]
    return [box for box in rings if sum(abs(box.w_mm - other.w_mm) < _SAME_SIZE_MM for other in rings) >= _FEWEST_ROUND]


def _regions(walls: np.ndarray, sides_mm: tuple[float, float], fills: tuple[float, float] = (_FILLS, 1.0)) -> list[Box]:
    """Closed regions whose sides and whose share of their rectangle lie within these bounds."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(1 - walls, connectivity=4)
    height, width = walls.shape
    low, high = (side * LINE_PX_PER_MM for side in sides_mm)
    boxes = []
    for n, (x, y, w, h, area) in enumerate(stats[1:].tolist(), start=1):
        inside = x > 0 and y > 0 and x + w < width and y + h < height
        if not inside or min(w, h) < low or max(w, h) > high or w * h > _MOST_OF_PAGE * height * width:
            continue
        if area / (w * h) < fills[0] and max(w, h) <= _px(_SMALL_BOX_MM[1]):
            area = _with_holes(labels[y : y + h, x : x + w] == n)  # a letter may be printed in a box
        if fills[0] <= area / (w * h) <= fills[1]:
            boxes.append(_to_middles(walls, x, y, w, h))
    return boxes


def _with_holes(region: np.ndarray) -> int:
    """How many pixels a bool (height, width) region has with what it lies round."""
    outlines, _ = cv2.findContours(region.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = cv2.drawContours(np.zeros(region.shape, np.uint8), outlines, -1, 1, cv2.FILLED)
    return int(filled.sum())


def _to_middles(walls: np.ndarray, x: int, y: int, w: int, h: int) -> Box:
    """The inside of a rectangle grown to the middle of each of its four lines, which another may meet anywhere."""
    most = _px(_THICKEST_MM)
    rows, columns = [y + h * k // 4 for k in (1, 2, 3)], [x + w * k // 4 for k in (1, 2, 3)]
    left = np.median([_run(walls[row, max(0, x - most) : x][::-1]) for row in rows]) / 2
    right = np.median([_run(walls[row, x + w : x + w + most]) for row in rows]) / 2
    above = np.median([_run(walls[max(0, y - most) : y, column][::-1]) for column in columns]) / 2
    below = np.median([_run(walls[y + h : y + h + most, column]) for column in columns]) / 2
    return _box(x - left, y - above, w + left + right, h + above + below)


def _run(values: np.ndarray) -> int:
    gaps = np.flatnonzero(values == 0)
    return int(gaps[0]) if len(gaps) else len(values)


def _same(a: Box, b: Box) -> bool:
    return (
        abs(a.centre_mm[0] - b.centre_mm[0]) < 1.0
        and abs(a.centre_mm[1] - b.centre_mm[1]) < 1.0
        and abs(a.w_mm - b.w_mm) < 1.5
        and abs(a.h_mm - b.h_mm) < 1.5
    )


def without_lines(grey: np.ndarray, ink: np.ndarray, rules: Sequence[FoundRule]) -> np.ndarray:
    """The picture for a reader of words: long lines, leaders and small closed boxes painted over, bars turned light.

    Bridged strokes are of no use here: they run through lines of small bold print.
    """
    long = cv2.morphologyEx(
        cv2.dilate(ink, np.ones((3, 1), np.uint8)), cv2.MORPH_OPEN, np.ones((1, _px(_NO_WORD_MM)), np.uint8)
    )
    tall = cv2.morphologyEx(
        cv2.dilate(ink, np.ones((1, 3), np.uint8)), cv2.MORPH_OPEN, np.ones((_px(_NO_LETTER_MM), 1), np.uint8)
    )
    lines = cv2.dilate(cv2.bitwise_or(long, tall), np.ones((3, 3), np.uint8))
    closed = cv2.morphologyEx(ink, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    for box in [*_regions(closed, _SMALL_BOX_MM), *_round_boxes(closed)]:
        x, y, w, h = (round(value * LINE_PX_PER_MM) for value in box)
        cv2.rectangle(lines, (x, y), (x + w, y + h), 1, 5)
    for rule in (rule.box_mm.grown(_LEADER_MARGIN_MM) for rule in rules if rule.dotted):
        x, y, w, h = (max(0, round(value * LINE_PX_PER_MM)) for value in rule)
        lines[y : y + h, x : x + w] = 1
    clean = grey.copy()
    clean[lines > 0] = 255
    return _bars_turned(clean, grey)


def _bars_turned(clean: np.ndarray, grey: np.ndarray) -> np.ndarray:
    """White print on dark bars made dark on white. ``clean``: the same picture as ``grey`` with lines painted over."""
    side = _odd(_BAR_MM)
    dark = (cv2.blur(grey, (side, side)) < _BAR_GREY).astype(np.uint8)
    bars = cv2.dilate(
        cv2.morphologyEx(dark, cv2.MORPH_OPEN, np.ones((_px(1.0), _px(_BAR_MM)), np.uint8)),
        np.ones((_px(1.0), _px(1.0)), np.uint8),
    )
    if not bars.any():
        return clean
    turned = np.where(bars > 0, 255 - grey, clean)
    return np.asarray(turned, dtype=np.uint8)


def _box(x: float, y: float, w: float, h: float) -> Box:
    return Box(*(float(value) / LINE_PX_PER_MM for value in (x, y, w, h)))


def _px(mm: float) -> int:
    return max(1, round(mm * LINE_PX_PER_MM))


def _odd(mm: float) -> int:
    return _px(mm) | 1
