"""What a pen added to a form: the page less the picture of its blank, at one field's place.

A map is good to some tenths of a millimetre, and a copier's blank is no picture of the next one's. So the blank's print
is first laid on the page's as it lies there, and taken out with a rim; strokes that cross it are then joined again.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import BLANK_PX_PER_MM, Box
from scanform.locate import LocatedSheet

__all__ = ["INK_LEVEL", "PX_PER_MM", "OwnInk", "blank_picture", "own_ink"]

PX_PER_MM = BLANK_PX_PER_MM
INK_LEVEL = 0.22  # of solid print: a hard pencil comes out at 0.3 on a grey scan
_REACH_MM = 0.6  # how far the print may lie from where the map puts it; twice what locating leaves at its worst
_STAY = 0.02  # of the print's mass, for each px of shift: along a rule every place is as good as the next
_PRINTED = 0.15  # darkness of the blank's picture from which something is printed there
_RIM_PX = 2  # print is blurred, and a copier's grows: 0.25 mm
_BRIDGE_PX = 11  # wider than a rule with both its rims
_PAPER_MM = 5.0  # wider than a felt pen's stroke, narrower than a shadow's edge
_SPECK_MM2 = 0.02  # a fine pen's point on a coarse scan; what is dirt among the small ones is for the readers to say
_LEAST_SPAN = 25.0  # grey levels between paper and print that any page has


class OwnInk(NamedTuple):
    """A place on the page without its print.

    ``dark``: float32 (h, w) at 8 px/mm, 0 paper to 1 as dark as print. ``darker``: the same for all that is darker than
    the blank there, ink upon print too, and print that came out heavier. ``mask``: bool of the same shape, where there
    is ink, specks left out. ``printed``: bool, where the blank has print. ``shift_px``: how far the print lay to the
    right and below. ``box_mm``: what of the form is shown.
    """

    dark: np.ndarray
    darker: np.ndarray
    mask: np.ndarray
    printed: np.ndarray
    shift_px: tuple[int, int]
    box_mm: Box

    @property
    def mm2(self) -> float:
        """Area of the ink."""
        return float(self.mask.sum()) / PX_PER_MM**2

    def part(self, box_mm: Box) -> tuple[slice, slice]:
        """Rows and columns of a box of the form, cut off at the picture's edge."""
        height, width = self.mask.shape
        x0 = round((box_mm.x_mm - self.box_mm.x_mm) * PX_PER_MM)
        y0 = round((box_mm.y_mm - self.box_mm.y_mm) * PX_PER_MM)
        x1 = round((box_mm.right_mm - self.box_mm.x_mm) * PX_PER_MM)
        y1 = round((box_mm.bottom_mm - self.box_mm.y_mm) * PX_PER_MM)
        return slice(min(max(y0, 0), height), min(max(y1, 0), height)), slice(
            min(max(x0, 0), width), min(max(x1, 0), width)
        )


def own_ink(sheet: LocatedSheet, box_mm: Box) -> OwnInk:
    """The pen's own ink within ``box_mm`` of a sheet whose layout has a picture of its blank."""
    zone = sheet.patches([box_mm], 0.0, PX_PER_MM)[0]
    dark = _darkness(zone, sheet)
    reach = round(_REACH_MM * PX_PER_MM)
    blank = _blank_patch(sheet.layout.blank_png, box_mm, dark.shape, reach)
    dx, dy = _shift(dark, blank, reach)
    height, width = dark.shape
    there = blank[reach - dy : reach - dy + height, reach - dx : reach - dx + width]
    rim = np.ones((2 * _RIM_PX + 1, 2 * _RIM_PX + 1), np.uint8)
    printed = cv2.dilate((there > _PRINTED).astype(np.uint8), rim)
    left = np.where(printed > 0, 0.0, dark).astype(np.float32)
    bridge = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_BRIDGE_PX, _BRIDGE_PX))
    joined = np.minimum(cv2.morphologyEx(left, cv2.MORPH_CLOSE, bridge), dark)
    own = np.where(printed > 0, joined, left)
    thicker = cv2.dilate(there, np.ones((3, 3), np.uint8))
    darker = np.clip(dark - thicker, 0.0, 1.0)
    return OwnInk(own, darker, _without_specks(own > INK_LEVEL), printed > 0, (dx, dy), box_mm)


def _darkness(zone: np.ndarray, sheet: LocatedSheet) -> np.ndarray:
    """Grey uint8 (h, w) as float32, 0 the paper around to 1 solid print."""
    reach = round(_PAPER_MM * PX_PER_MM)
    small = cv2.resize(zone, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    kernel = np.ones((max(reach // 4, 3), max(reach // 4, 3)), np.uint8)
    smooth = cv2.GaussianBlur(cv2.morphologyEx(small, cv2.MORPH_CLOSE, kernel), (0, 0), 2.5)
    paper = cv2.resize(smooth, zone.shape[::-1], interpolation=cv2.INTER_LINEAR).astype(np.float32)
    full = np.maximum(paper * (1 - sheet.print_grey / max(sheet.paper_grey, 1.0)), _LEAST_SPAN)
    return np.clip((paper - zone) / full, 0.0, 1.0).astype(np.float32)


@lru_cache(maxsize=16)
def blank_picture(png: bytes) -> np.ndarray:
    """The blank's darkness, float32 (rows, columns) at 8 px/mm, 0 paper to 1 its darkest print."""
    decoded = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert decoded is not None, "a template's picture is checked when its file is read"
    grey = decoded.astype(np.float32)
    paper = float(np.percentile(grey, 90))
    black = min(float(np.percentile(grey, 0.5)), paper - _LEAST_SPAN)
    return np.clip((paper - grey) / (paper - black), 0.0, 1.0)


def _blank_patch(png: bytes, box_mm: Box, shape: tuple[int, ...], reach: int) -> np.ndarray:
    """The blank's darkness at a box with ``reach`` px more on every side: float32 (h + 2 reach, w + 2 reach)."""
    height, width = shape[0] + 2 * reach, shape[1] + 2 * reach
    move = np.array([[1.0, 0.0, box_mm.x_mm * PX_PER_MM - reach], [0.0, 1.0, box_mm.y_mm * PX_PER_MM - reach]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(blank_picture(png), move, (width, height), flags=how, borderValue=0.0)


def _shift(dark: np.ndarray, blank: np.ndarray, reach: int) -> tuple[int, int]:
    """How far to the right and below the blank's print lies on the page, in px.

    Print is where it finds the most darkness; a pen's strokes elsewhere say nothing about it.
    """
    mass = float(blank.sum())
    if mass < 1.0:
        return 0, 0
    found = cv2.matchTemplate(cv2.blur(blank, (3, 3)), dark, cv2.TM_CCORR)
    offsets = np.arange(-reach, reach + 1)
    away = np.hypot(offsets[:, None], offsets[None, :])
    row, column = np.unravel_index(int((found - _STAY * mass * away).argmax()), found.shape)
    return reach - int(column), reach - int(row)


def _without_specks(mask: np.ndarray) -> np.ndarray:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8, ltype=cv2.CV_16U)
    keep = np.zeros(count, bool)
    keep[1:] = stats[1:, cv2.CC_STAT_AREA] > _SPECK_MM2 * PX_PER_MM**2
    return keep[labels]
