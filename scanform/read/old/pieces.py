"""Cut a written number or date into characters, in every way that is worth a look, and read each piece.

The pieces' characters come from the networks that read cells; points, commas, dashes and slashes, which these do not know,
from their shape and place on the line. Which way of cutting holds is for settling to say.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from scanform.read.characters import ALPHABET, CharacterNet, Charset
from scanform.read.glyphs import GLYPH_SIDE, normalise
from scanform.read.old.own_ink import PX_PER_MM
from scanform.read.old.written_line import WrittenLine
from scanform.read.types import Piece

__all__ = ["PIECE_SIGNS", "pieces_of"]

PIECE_SIGNS = ALPHABET + ".,-/"
_POINT, _COMMA, _DASH, _SLASH = (len(ALPHABET) + n for n in range(4))
_WIDEST = 1.45  # of a line's height: one character and no more
_WIDE = 0.8  # from here on it may be two that touch
_MOST_PARTS = 3  # of what hangs together, in one character
_MOST_CUTS = 3
_OVERLAP = 0.45  # of the narrower part's width, from which two parts are one character
_SMALL = 0.42  # of the line's height: a point, a comma, a dash, or dirt
_THIN_PX = 6.0  # of a cut: more ink in one column is no seam between two characters
_STRAIGHT_PX = 1.1  # how far a slash's pixels stray from a line, beside half its width
_MOST_PIECES = 60


class _Part(NamedTuple):
    """One connected stroke or a cut-off part of it: its mask within the line, and its sides in px."""

    mask: np.ndarray
    left: int
    top: int
    right: int
    bottom: int

    @property
    def wide(self) -> int:
        return self.right - self.left

    @property
    def high(self) -> int:
        return self.bottom - self.top


def pieces_of(line: WrittenLine, net: CharacterNet, charset: Charset) -> tuple[Piece, ...]:
    """All pieces of a line; none if nothing is written or it has far too many strokes for a date or a number."""
    if line.empty:
        return ()
    parts = _parts(line.mask)
    tall = _height(parts)
    parts = [cut for part in _joined(parts, tall) for cut in _cut(part, tall)]
    spans = _spans(parts, tall)
    if not spans or len(spans) > _MOST_PIECES:
        return ()
    top, bottom = _lines(parts, tall)
    masks = [np.logical_or.reduce([part.mask for part in parts[start:end]]) for start, end in spans]
    rows = _characters(line.dark, masks, net, charset)
    found = []
    for (start, end), mask, row in zip(spans, masks, rows, strict=True):
        whole = _part(mask)
        signs = _signs(whole, top, bottom)
        own = np.concatenate([row * (1 - signs.sum()), signs])
        found.append(Piece(start, end, own.astype(np.float32)))
    return tuple(found)


def _part(mask: np.ndarray) -> _Part:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    return _Part(mask, int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1)


def _parts(mask: np.ndarray) -> list[_Part]:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8, ltype=cv2.CV_16U)
    found = []
    for n in range(1, count):
        x, y, w, h, _ = (int(v) for v in stats[n])
        found.append(_Part(labels == n, x, y, x + w, y + h))
    return sorted(found, key=lambda part: part.left)


def _height(parts: list[_Part]) -> float:
    """Height of a digit on this line: of its tall parts, the middle one's."""
    heights = np.array([part.high for part in parts], float)
    return float(np.median(heights[heights >= 0.5 * heights.max()]))


def _joined(parts: list[_Part], tall: float) -> list[_Part]:
    """Parts above each other put together: a five and its bar, a broken stroke; never a point under a slanting stroke."""
    kept: list[_Part] = []
    for part in parts:
        before = kept[-1] if kept else None
        if before is not None and not _is_small(part, tall) and not _is_small(before, tall):
            shared = min(before.right, part.right) - max(before.left, part.left)
            if shared >= _OVERLAP * min(before.wide, part.wide):
                kept[-1] = _part(before.mask | part.mask)
                continue
        kept.append(part)
    return kept


def _is_small(part: _Part, tall: float) -> bool:
    return part.high < _SMALL * tall and part.wide < 1.2 * tall


def _cut(part: _Part, tall: float) -> list[_Part]:
    """A wide part at its thinnest columns, where two characters may touch."""
    if part.wide < _WIDE * tall or part.high < _SMALL * tall:
        return [part]
    ink = part.mask[:, part.left : part.right].sum(axis=0).astype(float)
    reach = max(int(0.22 * tall), 2)
    seams: list[int] = []
    for column in np.argsort(ink, kind="stable").tolist():
        if ink[column] > _THIN_PX or len(seams) == _MOST_CUTS:
            break
        if reach <= column < len(ink) - reach and all(abs(column - other) >= reach for other in seams):
            seams.append(column)
    edges = [part.left, *(part.left + seam for seam in sorted(seams)), part.right]
    cuts = []
    for x0, x1 in zip(edges, edges[1:], strict=False):
        mask = np.zeros_like(part.mask)
        mask[:, x0:x1] = part.mask[:, x0:x1]
        if mask.any():
            cuts.append(_part(mask))
    return cuts


def _spans(parts: list[_Part], tall: float) -> list[tuple[int, int]]:
    spans = []
    for start in range(len(parts)):
        for end in range(start + 1, min(start + _MOST_PARTS, len(parts)) + 1):
            together = parts[start:end]
            if end > start + 1 and max(p.right for p in together) - together[0].left > _WIDEST * tall:
                break
            spans.append((start, end))
    return spans


def _lines(parts: list[_Part], tall: float) -> tuple[float, float]:
    """Upper and lower edge of the line's digits."""
    high = [part for part in parts if part.high >= 0.6 * tall]
    return float(np.median([part.top for part in high])), float(np.median([part.bottom for part in high]))


def _characters(dark: np.ndarray, masks: list[np.ndarray], net: CharacterNet, charset: Charset) -> np.ndarray:
    """Probabilities float (n, 36) of each piece's character, times that it is one."""
    maps = np.zeros((len(masks), GLYPH_SIDE, GLYPH_SIDE), np.float32)
    area = np.zeros(len(masks), np.float32)
    for n, mask in enumerate(masks):
        near = cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        ink = np.where(near, np.minimum(dark / 0.75, 1.0), 0.0).astype(np.float32)
        area[n] = mask.sum() / PX_PER_MM**2
        normalise(ink, maps[n])
    found = net.probabilities(maps, area, charset)
    return found.rows[:, :-1] * (1 - found.other[:, None])


def _signs(whole: _Part, top: float, bottom: float) -> np.ndarray:
    """Probabilities of point, comma, dash and slash, float64 (4,), from shape and place alone.

    Judged on strokes of simulated hands: small and low is a point or a comma, flat and half way up a dash, straight,
    slanting and as high as a digit a slash or a one.
    """
    tall = bottom - top
    middle = ((whole.top + whole.bottom) / 2 - top) / tall
    signs = np.zeros(4)
    if whole.high < _SMALL * tall and whole.wide < _SMALL * tall and middle > 0.6:
        comma = 1 / (1 + np.exp(-8 * (whole.high / max(whole.wide, 1) - 1.6)))
        signs[:2] = 0.96 * np.array([1 - comma, comma])
    elif whole.high < _SMALL * tall and whole.wide > 1.3 * whole.high and 0.15 < middle < 0.95:
        signs[2] = 0.95
    elif whole.high > _SMALL * tall and middle > 0.8 and whole.wide < _SMALL * tall:
        signs[1] = 0.6
    elif whole.high > 0.75 * tall:
        signs[3] = _slash(whole)
    return signs


def _slash(whole: _Part) -> float:
    rows, columns = np.nonzero(whole.mask)
    slope, at = np.polyfit(rows, columns, 1)
    stray = columns - (slope * rows + at)
    thick = whole.mask.sum() / whole.high
    straight = float(np.sqrt((stray**2).mean())) < _STRAIGHT_PX + thick * 0.3
    leans = -slope * whole.high / whole.high
    return float(0.9 / (1 + np.exp(-14 * (leans - 0.22)))) if straight else 0.0
