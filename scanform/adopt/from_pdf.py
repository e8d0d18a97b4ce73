"""A blank form from a PDF that holds its words as text."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Any
from unicodedata import normalize

import cv2
import numpy as np
import pdfplumber

from scanform.adopt.drawing import LINE_PX_PER_MM, ink_of, line_mask, rules_of, scaled
from scanform.adopt.faint import all_cells
from scanform.adopt.found import ASCENT, DESCENT, FoundPrint, FoundWord
from scanform.form import BLANK_PX_PER_MM, Box

__all__ = ["has_text", "print_of_pdf"]

_MM_PER_PT = 25.4 / 72
_FEWEST_CHARACTERS = 20  # fewer is a scan with a stamp of its scanner's on it
# Box and ring characters, and Wingdings' own; brackets; underscores, and three dots or more: all that is no word.
_NO_WORD = r"[\u2610\u25a1\u25a2\u2b1c\u25fb\u25fd\u2751\u2752\uf06f\uf0a8\uf071\u25cb\u25ef\u274d\[\]_]|\.{3,}|\u2026"
_LIGATURE = re.compile("[\ufb00-\ufb06]")
_WRITTEN = re.compile(rf"(?:(?!{_NO_WORD}).)+")
_LEADER_ENDS = re.compile(r"\.+(?=[^\d.]|$)")  # one or two dots of a leader that stick to the next word
_WORD_GAP = 0.2  # of the size; a quarter is the narrowest space of usual typefaces
_BRACKETS_MM = (1.2, 9.0)  # from one to the other


def has_text(path: Path, number: int) -> bool:
    """Whether the page (from 1) of a PDF holds its words as text, so that they need not be read off a picture."""
    with pdfplumber.open(path) as document:
        return len(document.pages[number - 1].chars) >= _FEWEST_CHARACTERS


def print_of_pdf(path: Path, number: int) -> FoundPrint:
    """What is printed on page ``number`` (from 1) of a PDF with text."""
    with pdfplumber.open(path) as document:
        page = document.pages[number - 1]
        width, height = page.width * _MM_PER_PT, page.height * _MM_PER_PT
        grey = _drawn(page, LINE_PX_PER_MM)
        words = [
            part
            for word in page.extract_words(x_tolerance_ratio=_WORD_GAP, return_chars=True)
            for part in _without_signs(word, float(page.height))
        ]
        brackets = _brackets(page.chars, float(page.height))
    ink = ink_of(grey)
    level, upright = line_mask(ink)
    cells = all_cells(grey, ink, (level, upright), words)
    return FoundPrint(
        picture=scaled(grey, BLANK_PX_PER_MM / LINE_PX_PER_MM),
        width_mm=width,
        height_mm=height,
        words=tuple(words),
        cells=tuple(cells),
        rules=tuple(rules_of(ink, level, upright)),
        brackets=tuple(brackets),
    )


def _drawn(page: Any, px_per_mm: float) -> np.ndarray:
    """The page, whose picture pdfium stretches to a whole number of pixels each way, at exactly that scale."""
    picture = np.asarray(page.to_image(resolution=px_per_mm * 25.4, antialias=True).original.convert("L"))
    height, width = picture.shape
    by = page.width * _MM_PER_PT * px_per_mm / width, page.height * _MM_PER_PT * px_per_mm / height
    return np.asarray(cv2.resize(picture, None, fx=by[0], fy=by[1], interpolation=cv2.INTER_LINEAR))


def _box(thing: dict[str, Any]) -> Box:
    x, y = thing["x0"] * _MM_PER_PT, thing["top"] * _MM_PER_PT
    return Box(x, y, (thing["x1"] - thing["x0"]) * _MM_PER_PT, (thing["bottom"] - thing["top"]) * _MM_PER_PT)


def _word_box(word: dict[str, Any], page_height_pt: float) -> Box:
    """From its characters' baseline and size: what fonts say of their own height is often missing or wrong."""
    first = word["chars"][0]
    if not first.get("upright", True):
        return _box(word)
    baseline, size = (page_height_pt - first["matrix"][5]) * _MM_PER_PT, first["size"] * _MM_PER_PT
    x = word["x0"] * _MM_PER_PT
    return Box(x, baseline - ASCENT * size, word["x1"] * _MM_PER_PT - x, (ASCENT + DESCENT) * size)


def _without_signs(word: dict[str, Any], page_height_pt: float) -> list[FoundWord]:
    """The word's parts without box characters, brackets and leaders, which are drawn places and no words.

    A label, the dots to its tab and the label after it may have no gap between them.
    """
    parts = []
    if _runs_upwards(word["chars"][0]):
        word = {**word, "chars": word["chars"][::-1]}  # they come from above
    signs = "".join(sign["text"] if len(sign["text"]) == 1 else "?" for sign in word["chars"])
    for found in _WRITTEN.finditer(signs):
        stuck = _LEADER_ENDS.match(found[0])
        kept = word["chars"][found.start() + (stuck.end() if stuck else 0) : found.end()]
        if not kept:
            continue
        ends = {"x0": min(sign["x0"] for sign in kept), "x1": max(sign["x1"] for sign in kept)}
        text = _LIGATURE.sub(lambda joined: normalize("NFKC", joined[0]), "".join(sign["text"] for sign in kept))
        parts.append(FoundWord(text, _word_box({**word, **ends, "chars": kept}, page_height_pt)))
    return parts


def _runs_upwards(sign: dict[str, Any]) -> bool:
    """Whether a character stands on a baseline that was turned a quarter to the left."""
    _, rise, *_ = sign["matrix"]
    return not sign.get("upright", True) and rise > 0


def _brackets(characters: list[dict[str, Any]], page_height_pt: float) -> list[Box]:
    """Rooms between a printed [ and the ] that follows it on its line with nothing between."""
    signs = [sign for sign in characters if sign["text"].strip()]
    found = []
    for first, second in pairwise(signs):
        if (first["text"], second["text"]) not in {("[", "]"), ("(", ")")}:
            continue
        a, b = (_word_box({**sign, "chars": [sign]}, page_height_pt) for sign in (first, second))
        apart = b.x_mm - a.right_mm
        if abs(a.y_mm - b.y_mm) < 0.5 and _BRACKETS_MM[0] <= apart <= _BRACKETS_MM[1]:
            found.append(Box(a.right_mm, a.y_mm, b.x_mm - a.right_mm, a.h_mm))
    return found
