"""The one module that knows how to call Tesseract: a second opinion on handwriting, and print."""

from __future__ import annotations

import shutil
from functools import lru_cache

import numpy as np
import pytesseract

__all__ = ["INSTALL_HINT", "tesseract_available", "tesseract_line"]

INSTALL_HINT = (
    "Tesseract is not installed, so defect words that are hard to read get no second opinion; "
    "install the package tesseract-ocr (Debian, Ubuntu: apt-get install tesseract-ocr)."
)
_SECONDS = 20


@lru_cache(maxsize=1)
def tesseract_available() -> bool:
    """Whether the program is on the PATH."""
    return shutil.which(pytesseract.pytesseract.tesseract_cmd) is not None


def tesseract_line(line: np.ndarray) -> str | None:
    """What Tesseract reads on one line, uint8 (height, width) grey; None if it is absent or fails."""
    if not tesseract_available():
        return None
    try:
        text = pytesseract.image_to_string(line, lang="eng", config="--oem 1 --psm 7", timeout=_SECONDS)
    except (pytesseract.TesseractError, RuntimeError, OSError):
        return None  # a second opinion that cannot be had is none; the first stands
    return " ".join(text.split())
