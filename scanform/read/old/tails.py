"""Ends of strokes that run over a cell's border: the tail of a tick is its own cell's, however empty the next one is.

Taking the print out cuts a thin stroke in two where it crosses a rule, and the piece beyond looks like a mark.
"""

from __future__ import annotations

import cv2
import numpy as np

from scanform.form import Box
from scanform.locate import LocatedSheet
from scanform.read.old.own_ink import PX_PER_MM, OwnInk, own_ink

__all__ = ["tails_from_next_door"]

_GAP_MM = 1.6  # between two pieces of a stroke: a rule with both its rims, crossed at a slant
_THROUGH_PRINT = 0.4  # of the way between them
_END_MM, _FEWEST_PX = 1.5, 6  # of a piece, by which its direction is told
_BENT_DEG, _ASIDE_DEG = 35.0, 55.0  # between the two pieces, and between them and the way from one to the other
_SEEN_MM = 10.0  # around a cell: the whole of a sign next door
_SAME_PX = 8  # by which a stroke may lie elsewhere in the larger picture, its print being laid on anew


def tails_from_next_door(
    sheet: LocatedSheet, box: Box, found: OwnInk, labels: np.ndarray, own: np.ndarray
) -> np.ndarray:
    """Which of a cell's strokes go on, beyond its border, in a longer one: bool (n,), by label.

    ``found``: the ink around ``box``; ``labels``: int (h, w), its connected strokes, 0 none; ``own``: bool (n,), those
    that lie in the cell.
    """
    tails = np.zeros(len(own), bool)
    inside = np.zeros(labels.shape, bool)
    inside[found.part(box)] = True
    beyond = [n for n in np.unique(labels[~inside]).tolist() if n and not own[n]]
    wide: np.ndarray | None = None
    for stroke in np.flatnonzero(own).tolist():
        for other in beyond:
            meeting = _goes_on(found, labels, stroke, other)
            if meeting is None:
                continue
            wide = _wide_labels(sheet, box) if wide is None else wide
            if np.count_nonzero(labels == stroke) < _whole_size(wide, meeting, found, box):
                tails[stroke] = True
                break
    return tails


def _goes_on(found: OwnInk, labels: np.ndarray, stroke: int, other: int) -> tuple[int, int] | None:
    """Where the other piece, row and column, goes on with the stroke beyond print; None if it does not."""
    a, b = np.argwhere(labels == stroke), np.argwhere(labels == other)
    away = np.hypot(*(a[:, None, :] - b[None, :, :]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(away.argmin()), away.shape)
    if away[i, j] > _GAP_MM * PX_PER_MM:
        return None
    steps = np.linspace(a[i], b[j], 2 + round(float(away[i, j])))[1:-1].round().astype(int)
    if len(steps) and found.printed[steps[:, 0], steps[:, 1]].mean() < _THROUGH_PRINT:
        return None
    first, second = _direction(a, a[i]), _direction(b, b[j])
    if first is None or second is None or _angle(first, second) > _BENT_DEG:
        return None
    middles = _end(b, b[j]).mean(axis=0) - _end(a, a[i]).mean(axis=0)
    aside = max(_angle(first, middles), _angle(second, middles))
    return (int(b[j][0]), int(b[j][1])) if aside < _ASIDE_DEG else None


def _end(piece: np.ndarray, at: np.ndarray) -> np.ndarray:
    return piece[np.hypot(*(piece - at).T) < _END_MM * PX_PER_MM]


def _direction(piece: np.ndarray, at: np.ndarray) -> np.ndarray | None:
    """Along which the piece runs where it ends, (2,); None of a speck."""
    end = _end(piece, at).astype(np.float64)
    if len(end) < _FEWEST_PX:
        return None
    _, axes = np.linalg.eigh(np.cov(end.T))
    return np.asarray(axes[:, -1])


def _angle(u: np.ndarray, v: np.ndarray) -> float:
    """Between two directions without a sense, 0 to 90 degrees."""
    lengths = float(np.hypot(*u) * np.hypot(*v))
    return float(np.degrees(np.arccos(np.clip(abs(float(u @ v)) / max(lengths, 1e-9), 0.0, 1.0))))


def _wide_labels(sheet: LocatedSheet, box: Box) -> np.ndarray:
    mask = own_ink(sheet, box.grown(_SEEN_MM)).mask
    return np.asarray(cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)[1])


def _whole_size(wide: np.ndarray, meeting: tuple[int, int], found: OwnInk, box: Box) -> int:
    """Pixels of the whole stroke next door that a point of it belongs to; 0 if it is not found again."""
    moved = round((_SEEN_MM - (box.x_mm - found.box_mm.x_mm)) * PX_PER_MM)
    row, column = meeting[0] + moved, meeting[1] + moved
    near = wide[max(row - _SAME_PX, 0) : row + _SAME_PX + 1, max(column - _SAME_PX, 0) : column + _SAME_PX + 1]
    held = np.bincount(near.ravel())[1:]
    if not held.any():
        return 0
    return int(np.count_nonzero(wide == 1 + int(held.argmax())))
