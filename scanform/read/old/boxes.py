"""Tick boxes of any size, bare cells and brackets, shown as the networks know boxes: 5 or 5.6 mm wide, alone on paper.

A box that stands by itself is sampled larger or smaller. Of a cell that touches its neighbours, and of a room between
brackets, only the pen's own ink is taken, that of signs that begin next door left out, and a box is drawn round it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from dataclasses import field as attribute
from functools import cached_property

import cv2
import numpy as np

from scanform.form import BLANK_PX_PER_MM, Box, Field
from scanform.locate import LocatedSheet
from scanform.read.old.own_ink import INK_LEVEL, PX_PER_MM, blank_picture, own_ink
from scanform.read.old.tails import handed_over, pieces_of

__all__ = ["EvenBoxes", "as_even_boxes", "too_small"]

_SHOWN_MM = 8.0  # a box and its margins, whatever a network's margins are
_ALONE_MM = (2.6, 8.0)  # sides of a box that is sampled as it lies
# The smallest boxes that reading was tried on: of 1,798 choices in boxes of 3.0 mm (45 pages for fitting, seed
# 5,860,030; office, worn and bitonal) none was read wrong, and 95 in 100 were at 0.99 or more.
_MEASURED_FROM_MM = 2.9
_MOST_OFF_SQUARE = 1.3
_CLEAR_MM = 1.0  # of paper round it
_BORDERED = 0.55  # share of its outline that is printed
_BORDER_REACH_MM, _DARK = 0.4, 0.3
_AROUND_MM = 3.5  # a sign's strokes run so far out of its cell
_OWN_SHARE = 0.5  # of a connected stroke's ink that lies in its own cell
_TOGETHER_MM, _LEAST_STROKE_MM2 = 1.5, 0.12  # strokes of one sign; what is smaller than a letter's dot is dirt
_PALE = 0.55  # of the darkest stroke's own mean darkness
_LARGEST_OF_BOX = 1.2  # a sign written large in a large cell is made this much of the box drawn round it
_BORDER_LINE_MM = 0.3
# Dirt on items without an answer was 1.4 to 1.7 mm across on 1,428 pages; the smallest signs are ticks, and not round.
_DOT_MM, _DOT_ROUND, _DOT_FILLED = 2.2, 0.7, 0.8
_JOINT_PX = 9  # half of it reaches the middle of a rule with its rims


def as_even_boxes(sheet: LocatedSheet) -> EvenBoxes:
    """The sheet with every patch that is asked of it 8 mm wide, as if all its boxes were alike."""
    return EvenBoxes(**{part.name: getattr(sheet, part.name) for part in fields(sheet)}, plain=sheet)


def too_small(field: Field) -> bool:
    """Whether a field has a box smaller than any that reading was measured on: what it says needs a person."""
    return any(min(answer.box_mm.w_mm, answer.box_mm.h_mm) < _MEASURED_FROM_MM for answer in field.answers)


@dataclass(frozen=True, eq=False)
class EvenBoxes(LocatedSheet):
    """Patches of boxes as the networks know them; all else is the sheet's own. ``plain``: the sheet as it is."""

    plain: LocatedSheet = attribute(kw_only=True, repr=False)

    def patches(self, boxes: list[Box], margin_mm: float, px_per_mm: float) -> np.ndarray:
        """Patches uint8 (n, side, side) of 8 mm, margins included."""
        return np.stack([self._patch(box, margin_mm, px_per_mm) for box in boxes])

    def _patch(self, box: Box, margin_mm: float, px_per_mm: float) -> np.ndarray:
        frame_mm = _SHOWN_MM - 2 * margin_mm
        if box in self._alone:
            side = (box.w_mm + box.h_mm) / 2
            x, y = box.centre_mm
            square = Box(x - side / 2, y - side / 2, side, side)
            shift = np.array([self.shifts_mm.get(box, (0.0, 0.0))])
            by = frame_mm / side
            return self._sampled(square, shift, margin_mm / by, px_per_mm * by, round(_SHOWN_MM * px_per_mm))
        ink, placed = self._sign(box)
        return _boxed(self, ink, placed, frame_mm, px_per_mm)

    def is_dot(self, box: Box) -> bool:
        """Whether what stands in a cell is one small round spot, which dirt leaves and a pen at work does not."""
        if box in self._alone:
            return False
        ink, placed = self._sign(box)
        if placed is None:
            return False
        x, y, w, h = placed
        filled = (ink[y : y + h, x : x + w] > INK_LEVEL).sum() / (np.pi / 4 * w * h)
        round_mm = max(w, h) / PX_PER_MM
        return bool(round_mm < _DOT_MM and min(w, h) > _DOT_ROUND * max(w, h) and filled > _DOT_FILLED)

    def _sign(self, box: Box) -> tuple[np.ndarray, tuple[int, int, int, int] | None]:
        if box not in self._signs:
            self._signs[box] = _own_sign(self.plain, box)
        return self._signs[box]

    @cached_property
    def _signs(self) -> dict[Box, tuple[np.ndarray, tuple[int, int, int, int] | None]]:
        return {}

    def _sampled(self, box: Box, shift: np.ndarray, margin_mm: float, px_per_mm: float, side_px: int) -> np.ndarray:
        moved = Box(box.x_mm + float(shift[0, 0]), box.y_mm + float(shift[0, 1]), box.w_mm, box.h_mm)
        patch = super().patches([moved], margin_mm, px_per_mm)[0]
        if patch.shape == (side_px, side_px):
            return patch
        return np.asarray(cv2.resize(patch, (side_px, side_px), interpolation=cv2.INTER_LINEAR))

    @cached_property
    def _alone(self) -> frozenset[Box]:
        """Boxes that are about square, printed all round and apart from all others."""
        places = [
            box
            for spec in self.layout.fields
            for box in ([answer.box_mm for answer in spec.answers] or spec.cells_mm or [spec.box_mm])
        ]
        x, y, w, h = np.array(places).T
        near = (
            (x[:, None] < (x + w)[None] + _CLEAR_MM)
            & (x[None] < (x + w)[:, None] + _CLEAR_MM)
            & (y[:, None] < (y + h)[None] + _CLEAR_MM)
            & (y[None] < (y + h)[:, None] + _CLEAR_MM)
        )
        low, high = _ALONE_MM
        square = np.maximum(w, h) <= _MOST_OFF_SQUARE * np.minimum(w, h)
        fits = (np.minimum(w, h) >= low) & (np.maximum(w, h) <= high) & square & (near.sum(axis=1) == 1)
        blank = blank_picture(self.layout.blank_png)
        return frozenset(places[n] for n in np.flatnonzero(fits) if _bordered(blank, places[n]) >= _BORDERED)


def _bordered(blank: np.ndarray, box: Box) -> float:
    """Share of a box's outline, in the weakest side, along which the blank is printed."""
    reach = max(1, round(_BORDER_REACH_MM * BLANK_PX_PER_MM))
    x0, y0 = (round(v * BLANK_PX_PER_MM) for v in (box.x_mm, box.y_mm))
    x1, y1 = (round(v * BLANK_PX_PER_MM) for v in (box.right_mm, box.bottom_mm))
    strips = [
        blank[max(y0 - reach, 0) : y0 + reach + 1, x0:x1].max(axis=0, initial=0.0),
        blank[y1 - reach : y1 + reach + 1, x0:x1].max(axis=0, initial=0.0),
        blank[y0:y1, max(x0 - reach, 0) : x0 + reach + 1].max(axis=1, initial=0.0),
        blank[y0:y1, x1 - reach : x1 + reach + 1].max(axis=1, initial=0.0),
    ]
    return min((float((strip > _DARK).mean()) if len(strip) else 0.0) for strip in strips)


def _own_sign(sheet: LocatedSheet, box: Box) -> tuple[np.ndarray, tuple[int, int, int, int] | None]:
    """Darkness float32 (h, w) at 8 px/mm of a cell's own strokes, and the bounds (x, y, w, h) of its sign in it.

    Specks alone are no sign, and the bounds are None. Fingers' prints are paler than strokes and left out.
    """
    found = own_ink(sheet, box.grown(_AROUND_MM))
    rows, columns = found.part(box)
    count, labels, stats = pieces_of(found)
    area = np.maximum(stats[:, cv2.CC_STAT_AREA], 1)
    within = np.bincount(labels[rows, columns].ravel(), minlength=count)
    mean = np.bincount(labels.ravel(), found.dark.ravel(), count) / area
    own = within > _OWN_SHARE * area
    own[0] = False
    own = handed_over(sheet, box, found, labels, own)
    strokes = own & (area >= _LEAST_STROKE_MM2 * PX_PER_MM**2)
    own &= mean >= _PALE * mean[strokes].max(initial=0.0)
    strokes &= own
    if not strokes.any():
        return np.zeros_like(found.dark), None
    near = cv2.dilate(own[labels].astype(np.uint8), np.ones((_JOINT_PX, _JOINT_PX), np.uint8)) > 0
    shown = own[labels] | (near & found.mask & found.printed)  # and where they cross print
    dark = np.where(shown, found.dark, 0.0).astype(np.float32)
    return dark, _bounds(stats[strokes], mean[strokes] * area[strokes])


def _bounds(strokes: np.ndarray, darkness: np.ndarray) -> tuple[int, int, int, int]:
    """Of the darkest stroke and those by it: int (n, 5) of left, top, width, height and area in px, float (n,).

    What lies at the cell's other end is no part of the sign.
    """
    first, *others = strokes[np.argsort(-darkness)]
    x0, y0, x1, y1 = _ends(first)
    gap = _TOGETHER_MM * PX_PER_MM
    for stroke in others:
        a0, b0, a1, b1 = _ends(stroke)
        if a0 < x1 + gap and a1 > x0 - gap and b0 < y1 + gap and b1 > y0 - gap:
            x0, y0, x1, y1 = min(x0, a0), min(y0, b0), max(x1, a1), max(y1, b1)
    return x0, y0, x1 - x0, y1 - y0


def _ends(stroke: np.ndarray) -> tuple[int, int, int, int]:
    x, y, w, h = stroke[:4].tolist()
    return x, y, x + w, y + h


def _boxed(
    sheet: LocatedSheet,
    dark: np.ndarray,
    bounds: tuple[int, int, int, int] | None,
    frame_mm: float,
    px_per_mm: float,
) -> np.ndarray:
    """The sign in the middle of a drawn box of ``frame_mm``, uint8 grey, 8 mm wide in all."""
    side = round(_SHOWN_MM * px_per_mm)
    shown = np.zeros((side, side), np.float32)
    if bounds is not None:
        x, y, w, h = bounds
        largest_mm = max(w, h) / PX_PER_MM
        by = min(1.0, _LARGEST_OF_BOX * frame_mm / largest_mm) * px_per_mm / PX_PER_MM
        move = np.array([[by, 0, side / 2 - by * (x + w / 2)], [0, by, side / 2 - by * (y + h / 2)]], np.float64)
        shown[:] = cv2.warpAffine(dark, move, (side, side), flags=cv2.INTER_LINEAR, borderValue=0.0)
    shown = np.maximum(shown, _frame(side, frame_mm * px_per_mm, max(_BORDER_LINE_MM * px_per_mm, 1.0)))
    grey = sheet.paper_grey - shown * (sheet.paper_grey - sheet.print_grey)
    return np.clip(grey, 0, 255).astype(np.uint8)


def _frame(side: int, box_px: float, line_px: float) -> np.ndarray:
    """A box's border, float32 (side, side), 0 to 1, its line as wide as a scan blurs it."""
    middle = (side - 1) / 2
    off = np.abs(np.arange(side) - middle)
    distance = np.maximum(off[:, None], off[None, :]) - box_px / 2
    return np.clip(0.5 + line_px / 2 - np.abs(distance), 0.0, 1.0).astype(np.float32)
