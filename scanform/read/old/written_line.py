"""A place on an old form where somebody wrote one line: its own ink, cut to the writing, ready for the recognisers."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import Box
from scanform.locate import LocatedSheet
from scanform.read.old.own_ink import PX_PER_MM, OwnInk, own_ink

__all__ = ["Part", "WrittenLine", "digit_height", "line_picture", "parts_of", "written_line"]

_BESIDE_MM = 0.8  # people write over the edge of a narrow place
_OVER_MM = 1.2  # above its room and below its rule
_OWN_SHARE = 0.5  # of a stroke's ink that lies within the place if it is this place's
_LINE_RIM_MM = 0.6  # as on our own sheets (scanform.read.writing)
_SOLID = 0.75  # darkness that counts as black: a pencil is pale, and the recogniser was trained on print
_LEAST_WRITING_MM2 = 0.35  # one stroke of a fine pen, 1.2 mm long
# A piece of ink that is neither as high nor as wide as this share of a digit may be a point; dirt is mostly smaller.
_SMALL = 0.42
_DIRT_MM2 = 0.07
# Of 1,590 lines written on (12 copies each of 24 forms; office, worn, bitonal) the largest piece of ink was 1.8 mm or
# more, but for one written over its own label; of 1,829 empty ones it was less than this on 1,578.
_LEAST_STROKE_MM = 0.8
_LONELY = 0.8  # of a digit's height: small ink further from all other is dirt
_POINT_LOW = 0.6  # how far down a digit's height a decimal point lies at least


class Part(NamedTuple):
    """One connected piece of ink: its number in a label picture, its sides in px and its area in px."""

    label: int
    left: int
    top: int
    right: int
    bottom: int
    area: int

    @property
    def wide(self) -> int:
        """Width in px."""
        return self.right - self.left

    @property
    def high(self) -> int:
        """Height in px."""
        return self.bottom - self.top


class WrittenLine(NamedTuple):
    """``dark``: float32 (h, w) at 8 px/mm, 0 paper to 1, cut to the writing; ``mask``: bool, where there is ink.

    Both have no size where nothing is written. ``mm2``: area of the ink.
    """

    dark: np.ndarray
    mask: np.ndarray
    mm2: float

    @property
    def empty(self) -> bool:
        """Whether nothing is written."""
        return not self.mask.size


def written_line(sheet: LocatedSheet, box_mm: Box) -> WrittenLine:
    """What is written at one place."""
    room = Box(
        box_mm.x_mm - _BESIDE_MM, box_mm.y_mm - _OVER_MM, box_mm.w_mm + 2 * _BESIDE_MM, box_mm.h_mm + 2 * _OVER_MM
    )
    ink = own_ink(sheet, room)
    mask = _writing(_of_this_place(ink, box_mm))
    mm2 = float(mask.sum()) / PX_PER_MM**2
    if mm2 < _LEAST_WRITING_MM2:
        nothing = np.zeros((0, 0), np.float32)
        return WrittenLine(nothing, nothing > 0, mm2)
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    close = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    near = cv2.dilate(mask.astype(np.uint8), np.ones((5, 5), np.uint8))[close] > 0
    dark = np.where(near, ink.dark[close], 0.0).astype(np.float32)
    return WrittenLine(dark, mask[close], mm2)


def line_picture(line: WrittenLine, stretch: float) -> np.ndarray:
    """The line for the recogniser: uint8 (h, w), black on white with a rim of paper, ``stretch`` times as wide."""
    black = (255 - 255 * np.minimum(line.dark / _SOLID, 1.0)).astype(np.uint8)
    rim = round(_LINE_RIM_MM * PX_PER_MM)
    grey = cv2.copyMakeBorder(black, rim, rim, rim, rim, cv2.BORDER_CONSTANT, value=255)
    return cv2.resize(grey, None, fx=stretch, fy=1.0, interpolation=cv2.INTER_CUBIC)


def parts_of(mask: np.ndarray) -> tuple[np.ndarray, list[Part]]:
    """The label picture of bool (h, w), uint16, and its connected pieces from left to right."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8, ltype=cv2.CV_16U)
    boxes = [(int(n), *(int(v) for v in stats[n])) for n in range(1, count)]
    parts = [Part(n, x, y, x + w, y + h, area) for n, x, y, w, h, area in boxes]
    return labels, sorted(parts, key=lambda part: part.left)


def digit_height(parts: list[Part]) -> float:
    """Height in px of a digit on a line: of its tall parts, the middle one's."""
    heights = np.array([part.high for part in parts], float)
    return float(np.median(heights[heights >= 0.5 * heights.max()]))


def _of_this_place(ink: OwnInk, box_mm: Box) -> np.ndarray:
    """The ink of strokes that lie mostly within the place: bool, as ``ink.mask``."""
    count, labels = cv2.connectedComponents(ink.mask.astype(np.uint8), connectivity=8, ltype=cv2.CV_16U)
    total = np.bincount(labels.ravel(), minlength=count)
    inside = np.bincount(labels[ink.part(box_mm)].ravel(), minlength=count)
    own = inside >= _OWN_SHARE * np.maximum(total, 1)
    own[0] = False
    return own[labels]


def _writing(mask: np.ndarray) -> np.ndarray:
    """The mask without dirt: specks, and small pieces far from the writing; a point between two digits stays."""
    labels, parts = parts_of(mask)
    large = [part for part in parts if part.area > _DIRT_MM2 * PX_PER_MM**2]
    if max((max(part.high, part.wide) for part in large), default=0) < _LEAST_STROKE_MM * PX_PER_MM:
        return np.zeros_like(mask)
    tall = digit_height(large)
    strokes = [part for part in large if part.high >= _SMALL * tall or part.wide >= _SMALL * tall]
    high = [part for part in strokes if part.high >= 0.6 * tall]
    top = float(np.median([part.top for part in high])) if high else 0.0
    known = np.zeros(int(labels.max()) + 1, bool)
    known[[part.label for part in strokes]] = True
    for part in parts:
        if known[part.label] or not any(_near(part, stroke, tall) for stroke in strokes):
            continue
        low = (part.top + part.bottom) / 2 > top + _POINT_LOW * tall
        known[part.label] = part in large or low
    return known[labels]


def _near(part: Part, stroke: Part, tall: float) -> bool:
    aside = max(part.left - stroke.right, stroke.left - part.right)
    over = max(part.top - stroke.bottom, stroke.top - part.bottom)
    return aside < _LONELY * tall and over < _LONELY * tall / 2
