"""A blank form from a picture: a scan, or a PDF that is one."""

from __future__ import annotations

import cv2
import numpy as np

from scanform.adopt.brackets import brackets_of
from scanform.adopt.drawing import LINE_PX_PER_MM, ink_of, line_mask, rules_of, scaled, without_lines
from scanform.adopt.faint import all_cells
from scanform.adopt.fineness import LEAST_DPI, MM_PER_IN, page_px_per_mm
from scanform.adopt.found import ASCENT, DESCENT, FoundPrint, FoundWord
from scanform.errors import TemplateError
from scanform.form import BLANK_PX_PER_MM, Box
from scanform.intake import Page
from scanform.tesseract import INSTALL_HINT, tesseract_turn, tesseract_words

__all__ = ["print_of_page"]

_MOST_SKEW_DEGREES = 7.0
_LONG_LINE_MM = 25.0
_SEEN_PX_PER_MM = 6.0
# Shares of a typeface's size that letters reach over and under the baseline; common practice, as ASCENT is.
_CAPITALS, _SMALL_LETTERS, _TAILS = 0.71, 0.52, 0.21
_HIGH, _LOW = frozenset("0123456789bdfhklt/()[]!?#&%'"), frozenset("gjpqy,;()[]/Q")
_LEAST_TRUST = 30.0
_LEAST_TRUST_SHORT = 55.0


def print_of_page(page: Page) -> FoundPrint:
    """What is printed on a scanned blank, whichever way up it was scanned.

    Raises TemplateError if the picture is too coarse, or Tesseract is not there to read its words.
    """
    px_per_mm = page_px_per_mm(page)
    if px_per_mm * MM_PER_IN < LEAST_DPI:
        height, width = page.pixels.shape
        raise TemplateError(
            f"{page.source}, page {page.number}: {width} x {height} pixels are {px_per_mm * MM_PER_IN:.0f} dots an "
            "inch, too few to find small boxes and read small print; scan the blank at 300."
        )
    pixels = np.ascontiguousarray(np.rot90(page.pixels, -(tesseract_turn(page.pixels) or 0)))
    grey = _straight(pixels, px_per_mm)
    ink = ink_of(grey)
    level, upright = line_mask(ink)
    rules = rules_of(ink, level, upright)
    words = tesseract_words(without_lines(grey, ink, rules), round(LINE_PX_PER_MM * MM_PER_IN))
    if words is None:
        raise TemplateError(f"{page.source}: its words cannot be read. {INSTALL_HINT}")
    read = tuple(
        FoundWord(word.text, _as_set(word.text, Box(*(value / LINE_PX_PER_MM for value in word.box_px))))
        for word in words
        if word.trust >= (_LEAST_TRUST if len(word.text) > 2 else _LEAST_TRUST_SHORT) and _is_word(word.text)
    )
    width_mm, height_mm = grey.shape[1] / LINE_PX_PER_MM, grey.shape[0] / LINE_PX_PER_MM
    return FoundPrint(
        picture=scaled(grey, BLANK_PX_PER_MM / LINE_PX_PER_MM),
        width_mm=width_mm,
        height_mm=height_mm,
        words=read,
        cells=tuple(all_cells(grey, ink, (level, upright), read)),
        rules=tuple(rules),
        brackets=tuple(brackets_of(ink)),
    )


def _as_set(text: str, ink: Box) -> Box:
    """The room that a word's type takes, as in a PDF, from its ink: "OK" has no long letter, "some" no high one."""
    high = _CAPITALS if any(sign.isupper() or sign in _HIGH for sign in text) else _SMALL_LETTERS
    low = _TAILS if any(sign in _LOW for sign in text) else 0.0
    size = ink.h_mm / (high + low)
    baseline = ink.bottom_mm - low * size
    return Box(ink.x_mm, baseline - ASCENT * size, ink.w_mm, (ASCENT + DESCENT) * size)


def _is_word(text: str) -> bool:
    return any(sign.isalnum() for sign in text) or text in {"-", "=", "/", "\u2013"}


def _straight(pixels: np.ndarray, px_per_mm: float) -> np.ndarray:
    """The page at 12 px/mm with its level lines level."""
    grey = scaled(pixels, LINE_PX_PER_MM / px_per_mm)
    angle = _skew_degrees(grey)
    height, width = grey.shape
    if abs(angle) < 0.02:
        return np.asarray(grey)
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), angle, 1.0)
    return cv2.warpAffine(grey, turn, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT,
                          borderValue=255)  # fmt: skip


def _skew_degrees(grey: np.ndarray) -> float:
    """By how much long lines rise to the left, in degrees; 0 if there are none."""
    factor = _SEEN_PX_PER_MM / LINE_PX_PER_MM
    small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    dark = cv2.subtract(cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8)), small)
    ink = (dark > 40).astype(np.uint8) * 255
    found = cv2.HoughLinesP(
        ink,
        0.5,
        np.pi / 3600,
        round(0.6 * _LONG_LINE_MM * _SEEN_PX_PER_MM),
        minLineLength=_LONG_LINE_MM * _SEEN_PX_PER_MM,
        maxLineGap=1.0 * _SEEN_PX_PER_MM,
    )
    if found is None:
        return 0.0
    x1, y1, x2, y2 = found.reshape(-1, 4).T.astype(float)
    angles = (np.degrees(np.arctan2(y2 - y1, x2 - x1)) + 45) % 90 - 45  # upright lines say the same
    lengths = np.hypot(x2 - x1, y2 - y1)
    likely = np.abs(angles) < _MOST_SKEW_DEGREES
    if not likely.any():
        return 0.0
    order = np.argsort(angles[likely])
    total = np.cumsum(lengths[likely][order])
    return float(angles[likely][order][np.searchsorted(total, total[-1] / 2)])
