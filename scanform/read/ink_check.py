"""What the plain ink in and about a box says, as a second opinion on the network."""

from __future__ import annotations

import cv2
import numpy as np

from scanform.read.boxes import BORDER_PX, MAP_PX_PER_MM, MAP_SIDE, MARGIN_MM

__all__ = ["mark_extents_mm", "runs_in"]

_LEVEL = 0.35
_PALEST = 0.08  # paper and sensor noise stay below on grey scans
_OF_DARKEST, _DARKEST_PX = 0.45, 6  # a speck of 0.4 mm2 decides how dark ink is
_SPECK_MM2 = 0.3
_DEEPEST = 0.75  # of the width inside a box: an end that reaches further may be a mark of its own
_JOIN_MM = 1.2


def _without_border() -> np.ndarray:
    """True where neither the printed border nor its blur is: bool (32, 32)."""
    outer = round(MARGIN_MM * MAP_PX_PER_MM) - 1
    inner = BORDER_PX
    free = np.ones((MAP_SIDE, MAP_SIDE), bool)
    free[outer:-outer, outer:-outer] = False
    free[inner:-inner, inner:-inner] = True
    return free


_FREE = _without_border()


def mark_extents_mm(box_maps: np.ndarray) -> np.ndarray:
    """Diagonal in mm of the largest connected piece of ink in or beside each box, border left out: float (n,).

    ``box_maps``: float32 (n, 32, 32), as :func:`scanform.read.boxes.box_maps` makes them. What counts as ink goes by
    the darkest there is in a box, so that pale pencil is measured like a pen.
    """
    n = len(box_maps)
    found = np.zeros(n)
    if not n:
        return found
    free = np.where(_FREE, box_maps, 0)
    darkest = np.partition(free.reshape(n, -1), -_DARKEST_PX, axis=1)[:, -_DARKEST_PX]
    level = np.clip(_OF_DARKEST * darkest, _PALEST, _LEVEL)
    # All in one picture, one under the other, with an empty row between.
    ink = np.zeros((n, MAP_SIDE + 1, MAP_SIDE), np.uint8)
    ink[:, :MAP_SIDE] = free > level[:, None, None]
    _, _, pieces, _ = cv2.connectedComponentsWithStats(ink.reshape(-1, MAP_SIDE), connectivity=8)
    sides = pieces[1:, cv2.CC_STAT_WIDTH : cv2.CC_STAT_HEIGHT + 1]
    boxes = (pieces[1:, cv2.CC_STAT_TOP] // (MAP_SIDE + 1)).astype(np.intp)
    np.maximum.at(found, boxes, np.hypot(sides[:, 0], sides[:, 1]))
    return found / MAP_PX_PER_MM


def runs_in(box_map: np.ndarray, from_left: bool) -> bool:
    """Whether all the ink in a box is the end of a stroke that comes in over its left border (or its right one).

    ``box_map``: float32 (32, 32), one of those that :func:`scanform.read.boxes.box_maps` makes.
    """
    ink = (box_map if from_left else box_map[:, ::-1]) > _LEVEL
    inside = ink[BORDER_PX:-BORDER_PX, BORDER_PX:-BORDER_PX]
    outside = np.flatnonzero(ink[:, : round(MARGIN_MM * MAP_PX_PER_MM) - 1].any(axis=1))
    count, labels, pieces, _ = cv2.connectedComponentsWithStats(inside.astype(np.uint8), connectivity=8)
    came = False
    for piece in range(1, count):
        if pieces[piece, cv2.CC_STAT_AREA] < _SPECK_MM2 * MAP_PX_PER_MM**2:
            continue
        left, wide = pieces[piece, cv2.CC_STAT_LEFT], pieces[piece, cv2.CC_STAT_WIDTH]
        rows = np.flatnonzero((labels[:, :2] == piece).any(axis=1)) + BORDER_PX
        if left > 1 or left + wide > _DEEPEST * inside.shape[1] or not len(outside) or not len(rows):
            return False
        if np.abs(rows[:, None] - outside[None, :]).min() > _JOIN_MM * MAP_PX_PER_MM:
            return False
        came = True
    return came
