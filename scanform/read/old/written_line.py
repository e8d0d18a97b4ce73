"""A place on an old form where somebody wrote one line: its own ink, cut to the writing, ready for the recognisers."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import Box
from scanform.locate import LocatedSheet
from scanform.read.old.own_ink import PX_PER_MM, OwnInk, own_ink

__all__ = ["WrittenLine", "line_picture", "written_line"]

_BESIDE_MM = 0.8  # people write over the edge of a narrow place
_OVER_MM = 1.2  # above its room and below its rule
_OWN_SHARE = 0.5  # of a stroke's ink that lies within the place if it is this place's
_LINE_RIM_MM = 0.6  # as on our own sheets (scanform.read.writing)
_SOLID = 0.75  # darkness that counts as black: a pencil is pale, and the recogniser was trained on print
_LEAST_WRITING_MM2 = 0.35  # one stroke of a fine pen, 1.2 mm long


class WrittenLine(NamedTuple):
    """``dark``: float32 (h, w) at 8 px/mm, 0 paper to 1, cut to the writing; ``mask``: bool, where there is ink.

    Both have no size where nothing is written. ``mm2``: area of the ink. ``height_mm``: of the place that it stands in.
    """

    dark: np.ndarray
    mask: np.ndarray
    mm2: float
    height_mm: float

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
    mask = _of_this_place(ink, box_mm)
    mm2 = float(mask.sum()) / PX_PER_MM**2
    if mm2 < _LEAST_WRITING_MM2:
        nothing = np.zeros((0, 0), np.float32)
        return WrittenLine(nothing, nothing > 0, mm2, box_mm.h_mm)
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    close = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    near = cv2.dilate(mask.astype(np.uint8), np.ones((5, 5), np.uint8))[close] > 0
    dark = np.where(near, ink.dark[close], 0.0).astype(np.float32)
    return WrittenLine(dark, mask[close], mm2, box_mm.h_mm)


def line_picture(line: WrittenLine) -> np.ndarray:
    """The line as the recognisers take it: uint8 (h, w), black on white with a rim of paper."""
    grey = (255 - 255 * np.minimum(line.dark / _SOLID, 1.0)).astype(np.uint8)
    rim = round(_LINE_RIM_MM * PX_PER_MM)
    return cv2.copyMakeBorder(grey, rim, rim, rim, rim, cv2.BORDER_CONSTANT, value=255)


def _of_this_place(ink: OwnInk, box_mm: Box) -> np.ndarray:
    """The ink of strokes that lie mostly within the place: bool, as ``ink.mask``."""
    count, labels = cv2.connectedComponents(ink.mask.astype(np.uint8), connectivity=8, ltype=cv2.CV_16U)
    total = np.bincount(labels.ravel(), minlength=count)
    inside = np.bincount(labels[ink.part(box_mm)].ravel(), minlength=count)
    own = inside >= _OWN_SHARE * np.maximum(total, 1)
    own[0] = False
    return own[labels]
