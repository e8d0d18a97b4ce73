"""Know a sheet by the plain characters at its foot, for when the code is torn off or covered.

The line says the same as the code and ends in the same check character (ISO/IEC 7064). It counts only if two readings,
at two sizes, agree in it.
"""

from __future__ import annotations

import re

import cv2
import numpy as np

from scanform.form import Layout, SheetCode, parse_code
from scanform.locate.sample import sample_boxes
from scanform.locate.warp import PageMap
from scanform.tesseract import tesseract_print

__all__ = ["read_serial_line"]

_CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*-./"
_MARGIN_MM = 0.5
# Capitals of 7 pt are 1.8 mm high: 23 to 36 px. Of 30 simulated fax, worn and phone pages 28 to 29 are read at each of
# these sizes when smoothed so, none wrongly; on faxes fewer when not smoothed.
_SIZES_PX_PER_MM = (16.0, 13.0, 20.0)
_SMOOTHED_MM = 0.06
_LEAST_DARK = 0.01  # of the line's room: print fills 0.04 to 0.06 of it
_PAPER_MM = 2.5  # the paper's grey is the lightest within so much
# From the first sign of the line to its check character, whatever the reader made of dirt at either end.
_LINE = re.compile(r"SF1\*.*\*[0-9A-Z](?= |$|[^0-9A-Z*])")


def read_serial_line(pixels: np.ndarray, page_map: PageMap, layout: Layout) -> SheetCode | None:
    """The sheet's identity by its printed line, or None if no two readings agree, or Tesseract is not there."""
    before: set[str] = set()
    for px_per_mm in _SIZES_PX_PER_MM:
        line = _even(pixels, page_map, layout, px_per_mm)
        if (line < 128).mean() < _LEAST_DARK:
            return None  # torn off as well
        code = _parsed(tesseract_print(line, _CHARACTERS))
        if code is None:
            continue
        plain = code.text().replace(" ", "")  # only a gap in a unit number may be seen once and once not
        if plain in before:
            return code
        before.add(plain)
    return None


def _even(pixels: np.ndarray, page_map: PageMap, layout: Layout, px_per_mm: float) -> np.ndarray:
    """The line with its paper made white and its print black, whatever the light: uint8 (height, width)."""
    box = layout.serial_box_mm
    patch = sample_boxes(pixels, page_map, [box], np.zeros((1, 2)), _MARGIN_MM, px_per_mm)[0]
    size = round(_PAPER_MM * px_per_mm)
    paper = cv2.morphologyEx(cv2.GaussianBlur(patch, (0, 0), 2), cv2.MORPH_CLOSE, np.ones((size, size), np.uint8))
    share = patch.astype(np.float32) / np.maximum(cv2.blur(paper, (size, size)).astype(np.float32), 1)
    dark = min(float(np.percentile(share, 1)), 0.8)
    black = np.clip((share - dark) / (1 - dark) * 255, 0, 255).astype(np.uint8)
    return np.asarray(cv2.GaussianBlur(black, (0, 0), _SMOOTHED_MM * px_per_mm))


def _parsed(text: str | None) -> SheetCode | None:
    if text is None:
        return None
    for version in (text, text.replace(" ", "")):
        line = _LINE.search(version)
        code = parse_code(line[0]) if line else None
        if code is not None:
            return code
    return None
