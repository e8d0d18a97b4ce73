"""The one module that knows how to call Tesseract: a second opinion on handwriting, and print.

Two rooms need it, so it stands below all of them.
"""

from __future__ import annotations

import shutil
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pytesseract

__all__ = [
    "INSTALL_HINT",
    "TesseractWord",
    "tesseract_available",
    "tesseract_line",
    "tesseract_print",
    "tesseract_turn",
    "tesseract_words",
]

INSTALL_HINT = (
    "Tesseract is not installed, so defect words that are hard to read get no second opinion, and sheets whose code is "
    "torn off are not known by their printed serial; "
    "install the package tesseract-ocr (Debian, Ubuntu: apt-get install tesseract-ocr)."
)
_SECONDS = 20
_PAGE_SECONDS = 120
_LEAST_TURN_TRUST = 2.0  # fifteen old forms in all four turns were told right, with 3.9 and more


@lru_cache(maxsize=1)
def tesseract_available() -> bool:
    """Whether the program is on the PATH."""
    return shutil.which(pytesseract.pytesseract.tesseract_cmd) is not None


def tesseract_line(line: np.ndarray) -> str | None:
    """What Tesseract reads on one line, uint8 (height, width) grey; None if it is absent or fails."""
    return _read(line, "")


def tesseract_print(line: np.ndarray, characters: str) -> str | None:
    """As :func:`tesseract_line`, for a printed line of which it is known what ``characters`` can be on it."""
    return _read(line, f" -c tessedit_char_whitelist={characters}")


class TesseractWord(NamedTuple):
    """A printed word, its place in px (left, top, width, height) and Tesseract's own trust in it, 0 to 100."""

    text: str
    box_px: tuple[int, int, int, int]
    trust: float


def tesseract_words(page: np.ndarray, dpi: int) -> list[TesseractWord] | None:
    """All words of a printed page, uint8 (height, width) grey; None if Tesseract is absent or fails."""
    if not tesseract_available():
        return None
    try:
        # Page segmentation 11: print wherever it stands, since a form has no columns of prose.
        found = pytesseract.image_to_data(
            page,
            lang="eng",
            config=f"--oem 1 --psm 11 --dpi {dpi}",
            timeout=_PAGE_SECONDS,
            output_type=pytesseract.Output.DICT,
        )
    except (pytesseract.TesseractError, RuntimeError, OSError):
        return None
    rows = zip(*(found[key] for key in ("text", "left", "top", "width", "height", "conf")), strict=True)
    return [TesseractWord(text.strip(), (x, y, w, h), float(trust)) for text, x, y, w, h, trust in rows if text.strip()]


def tesseract_turn(page: np.ndarray) -> int | None:
    """By how many quarter turns, clockwise, a printed page (uint8 grey) has to be turned for its words to be upright.

    None if Tesseract is absent or cannot tell.
    """
    if not tesseract_available():
        return None
    try:
        found = pytesseract.image_to_osd(
            page, config="--psm 0", timeout=_PAGE_SECONDS, output_type=pytesseract.Output.DICT
        )
    except (pytesseract.TesseractError, RuntimeError, OSError):
        return None
    return int(found["rotate"]) // 90 % 4 if found["orientation_conf"] >= _LEAST_TURN_TRUST else None


def _read(line: np.ndarray, settings: str) -> str | None:
    if not tesseract_available():
        return None
    try:
        text = pytesseract.image_to_string(line, lang="eng", config=f"--oem 1 --psm 7{settings}", timeout=_SECONDS)
    except (pytesseract.TesseractError, RuntimeError, OSError):
        return None  # a second opinion that cannot be had is none; the first stands
    return " ".join(text.split())
