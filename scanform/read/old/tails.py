"""Whose a stroke is that runs over a cell's border: a tick's tail is its own cell's, however empty the next one is.

Taking the print out cuts strokes in two where they cross a rule, and joining them again joins what only touches there.
So every piece is told by itself, and two belong together if one goes straight on in the other.
"""

from __future__ import annotations

import cv2
import numpy as np

from scanform.form import Box
from scanform.locate import LocatedSheet
from scanform.read.old.own_ink import PX_PER_MM, OwnInk, own_ink

__all__ = ["handed_over", "pieces_of"]

_GAP_MM = 1.6  # between two pieces of a stroke: a rule with both its rims, crossed at a slant
_THROUGH_PRINT = 0.4  # of the way between them
_END_MM, _FEWEST_PX = 1.5, 6  # of a piece, by which its direction is told
_BENT_DEG, _ASIDE_DEG = 35.0, 55.0  # between the two pieces, and between them and the way from one to the other
_OFF_MM = 0.7  # sideways, from where the one ends to where the other begins
_STRAIGHT = 0.15  # of its length, by which a straight stroke is wider than its pen
_TIP_SHARE = 0.3  # of the sign that it stands beside, and of the stroke that it is the tip of
_SEEN_MM = 10.0  # around a cell: the whole of a sign next door
_SAME_PX = 8  # by which a stroke may lie elsewhere in the larger picture, its print being laid on anew


def pieces_of(found: OwnInk) -> tuple[int, np.ndarray, np.ndarray]:
    """The ink beside print in connected pieces: how many labels, int (h, w) with 0 for none, their statistics."""
    beside = (found.mask & ~found.printed).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(beside, connectivity=8)
    return count, labels, stats


def handed_over(sheet: LocatedSheet, box: Box, found: OwnInk, labels: np.ndarray, own: np.ndarray) -> np.ndarray:
    """Which pieces of ink are a cell's once tails are counted where they begin: bool (n,), by label.

    ``found``: the ink around ``box``; ``labels``: its pieces; ``own``: bool (n,), those that lie in the cell. A
    straight one that goes on in a bent one or in a longer one next door is no sign here; one next door that goes on
    from here is part of one. So small a piece as the very tip of a stroke next door has no direction to go by.
    """
    kept = own.copy()
    if not own.any():
        return kept
    inside = np.zeros(labels.shape, bool)
    inside[found.part(box)] = True
    beyond = {n: np.argwhere(labels == n) for n in np.unique(labels[~inside]).tolist() if n and not own[n]}
    strokes = {n: np.argwhere(labels == n) for n in np.flatnonzero(own).tolist()}
    largest = max(map(len, strokes.values()))
    wide: np.ndarray | None = None
    for stroke, here in strokes.items():
        for other, beside in beyond.items():
            met = _met(found, here, beside)
            if met is None:
                continue
            tip = len(here) < _TIP_SHARE * largest
            straight_on = _goes_straight_on(here, beside, *met)
            if not tip and not straight_on:
                continue
            wide = _wide_pieces(sheet, box) if wide is None else wide
            there = _whole(wide, (int(met[1][0]), int(met[1][1])), found, box)
            if (straight_on and _is_tail(here, there)) or (tip and len(here) < _TIP_SHARE * len(there)):
                kept[stroke] = False
                break
            kept[other] |= straight_on and _is_tail(there, here)
    return kept


def _is_tail(piece: np.ndarray, of: np.ndarray) -> bool:
    """Whether a piece, int (n, 2), is the tail of another that it goes on in."""
    return _straight(piece) and len(of) > 0 and (not _straight(of) or len(of) > len(piece))


def _straight(piece: np.ndarray) -> bool:
    if len(piece) < _FEWEST_PX:
        return False
    _, axes = np.linalg.eigh(np.cov(piece.T.astype(np.float64)))
    across, along = np.ptp(piece @ axes, axis=0) + 1
    pen = len(piece) / along
    return bool(across - pen < max(_STRAIGHT * along, pen / 2))


def _met(found: OwnInk, here: np.ndarray, there: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """Where two pieces, int (n, 2) of rows and columns, come nearest if no more than print lies between; else None."""
    gap = _GAP_MM * PX_PER_MM
    here, there = _within(here, there, gap), _within(there, here, gap)
    if not len(here) or not len(there):
        return None
    away = np.hypot(*(here[:, None, :] - there[None, :, :]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(away.argmin()), away.shape)
    if away[i, j] > gap:
        return None
    steps = np.linspace(here[i], there[j], 2 + round(float(away[i, j])))[1:-1].round().astype(int)
    if len(steps) and found.printed[steps[:, 0], steps[:, 1]].mean() < _THROUGH_PRINT:
        return None
    return here[i], there[j]


def _within(piece: np.ndarray, other: np.ndarray, gap: float) -> np.ndarray:
    """What of a piece, int (n, 2), may lie no farther than ``gap`` px from another: by the other's sides."""
    low, high = other.min(axis=0) - gap, other.max(axis=0) + gap
    return np.asarray(piece[((piece >= low) & (piece <= high)).all(axis=1)])


def _goes_straight_on(here: np.ndarray, there: np.ndarray, end: np.ndarray, start: np.ndarray) -> bool:
    """Whether one piece goes on in the other where they meet, at its ``end`` and the other's ``start``."""
    ends = _end(here, end), _end(there, start)
    first, second = (_direction(one) for one in ends)
    if first is None or second is None or _angle(first, second) > _BENT_DEG:
        return False
    way, gap = ends[1].mean(axis=0) - ends[0].mean(axis=0), (start - end) / PX_PER_MM
    off_mm = min(abs(first[0] * gap[1] - first[1] * gap[0]), abs(second[0] * gap[1] - second[1] * gap[0]))
    return max(_angle(first, way), _angle(second, way)) < _ASIDE_DEG and bool(off_mm < _OFF_MM)


def _end(piece: np.ndarray, at: np.ndarray) -> np.ndarray:
    return np.asarray(piece[np.hypot(*(piece - at).T) < _END_MM * PX_PER_MM])


def _direction(end: np.ndarray) -> np.ndarray | None:
    """Along which a piece runs where it ends, (2,); None of a speck."""
    if len(end) < _FEWEST_PX:
        return None
    _, axes = np.linalg.eigh(np.cov(end.T.astype(np.float64)))
    return np.asarray(axes[:, -1])


def _angle(u: np.ndarray, v: np.ndarray) -> float:
    """Between two directions without a sense, 0 to 90 degrees."""
    lengths = float(np.hypot(*u) * np.hypot(*v))
    return float(np.degrees(np.arccos(np.clip(abs(float(u @ v)) / max(lengths, 1e-9), 0.0, 1.0))))


def _wide_pieces(sheet: LocatedSheet, box: Box) -> np.ndarray:
    return pieces_of(own_ink(sheet, box.grown(_SEEN_MM)))[1]


def _whole(wide: np.ndarray, meeting: tuple[int, int], found: OwnInk, box: Box) -> np.ndarray:
    """The whole piece next door that a point of it belongs to, int (n, 2); without rows if it is not found again."""
    moved = round((_SEEN_MM - (box.x_mm - found.box_mm.x_mm)) * PX_PER_MM)
    row, column = meeting[0] + moved, meeting[1] + moved
    near = wide[max(row - _SAME_PX, 0) : row + _SAME_PX + 1, max(column - _SAME_PX, 0) : column + _SAME_PX + 1]
    held = np.bincount(near.ravel(), minlength=2)[1:]
    return np.argwhere(wide == 1 + int(held.argmax())) if held.any() else np.zeros((0, 2), int)
