"""What a pen did to one printed word, in figures: where its ink lies round, through, under and over the word."""

from __future__ import annotations

import cv2
import numpy as np

from scanform.form import Box
from scanform.read.old.own_ink import PX_PER_MM, OwnInk

__all__ = ["FEATURES", "word_features"]

FEATURES = (
    "around", "around_upper", "around_lower", "enclosed", "enclosed_alone", "through", "crowded", "under", "over",
    "beside", "area", "extra",
)  # fmt: skip
_SECTORS = 24
_NEAR, _FAR = 0.7, 1.75  # of the word's half sides, between which a ring round it runs
_ROOM_MM = (1.3, 0.9)  # a ring's usual distance from a word, beside it and above
_BAND_MM = 1.5  # below and above a word: a line under it


def word_features(ink: OwnInk, word: Box, others: list[Box]) -> np.ndarray:
    """Float64 (len(FEATURES),), each about 0 to 1, of one word beside the ``others`` of its field."""
    rows, columns = np.nonzero(ink.mask)
    x = columns / PX_PER_MM + ink.box_mm.x_mm - word.centre_mm[0]
    y = rows / PX_PER_MM + ink.box_mm.y_mm - word.centre_mm[1]
    half_w, half_h = word.w_mm / 2 + _ROOM_MM[0], word.h_mm / 2 + _ROOM_MM[1]
    far = np.hypot(x / half_w, y / half_h)
    angle = np.arctan2(y / half_h, x / half_w)
    sector = ((angle + np.pi) / (2 * np.pi) * _SECTORS).astype(int) % _SECTORS
    ring = (far > _NEAR) & (far < _FAR)
    seen = np.zeros(_SECTORS)
    seen[np.unique(sector[ring])] = 1
    upper, lower = seen[: _SECTORS // 2].mean(), seen[_SECTORS // 2 :].mean()
    enclosed, alone = _enclosed(ink, word, others)
    inside = (np.abs(x) < word.w_mm / 2) & (np.abs(y) < 0.38 * word.h_mm)
    under = (np.abs(x) < word.w_mm / 2) & (y > 0.38 * word.h_mm) & (y < word.h_mm / 2 + _BAND_MM)
    over = (np.abs(x) < word.w_mm / 2) & (y < -0.38 * word.h_mm) & (y > -word.h_mm / 2 - _BAND_MM)
    near = (np.abs(x) < half_w) & (np.abs(y) < half_h)
    area = word.w_mm * word.h_mm * PX_PER_MM**2
    part = ink.darker[ink.part(word)]
    return np.array([
        seen.mean(), upper, lower, enclosed, alone,
        _columns(x, inside, word), inside.sum() / area, _columns(x, under, word), _columns(x, over, word),
        float(((np.abs(x) > word.w_mm / 2) & near).sum()) / area, min(near.sum() / area, 2.0),
        float(part.mean()) if part.size else 0.0,
    ])  # fmt: skip


def _columns(x: np.ndarray, which: np.ndarray, word: Box) -> float:
    """Share of the word's width over which ink of a kind lies."""
    count = max(int(word.w_mm * PX_PER_MM / 2), 1)
    at = ((x[which] / word.w_mm + 0.5) * count).astype(int)
    return len(np.unique(np.clip(at, 0, count - 1))) / count


def _enclosed(ink: OwnInk, word: Box, others: list[Box]) -> tuple[float, float]:
    """Largest share of the word's box that one stroke's hull covers while its ink leaves the word's middle free, and
    the same less what it covers of the other words.
    """
    joined = cv2.morphologyEx(ink.mask.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8, ltype=cv2.CV_16U)
    best = (0.0, 0.0)
    for n in range(1, count):
        if stats[n, cv2.CC_STAT_WIDTH] < 0.5 * word.w_mm * PX_PER_MM:
            continue
        points = cv2.findNonZero((labels == n).astype(np.uint8))
        hull = np.zeros(joined.shape, np.uint8)
        cv2.fillConvexPoly(hull, cv2.convexHull(points), 1)
        mine = _covered(hull, ink, word)
        theirs = max((_covered(hull, ink, other) for other in others), default=0.0)
        if mine > best[0]:
            best = mine, max(mine - theirs, 0.0)
    return best


def _covered(hull: np.ndarray, ink: OwnInk, word: Box) -> float:
    part = hull[ink.part(word)]
    return float(part.mean()) if part.size else 0.0
