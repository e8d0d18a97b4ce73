"""Widths of print, so that the layout engine can tell what fits without drawing it.

The typeface is Bitstream Vera Sans, which the reportlab wheel carries (its licence allows embedding).
"""

from __future__ import annotations

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from fontTools.ttLib import TTFont

__all__ = ["MM_PER_PT", "font_file", "unprintable", "width_mm", "wrapped"]

MM_PER_PT = 25.4 / 72


def font_file(bold: bool) -> Path:
    """The TrueType file of the sheet's typeface."""
    spec = find_spec("reportlab")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError("reportlab, which carries the sheet's typeface, is not installed")
    return Path(spec.origin).parent / "fonts" / ("VeraBd.ttf" if bold else "Vera.ttf")


@lru_cache(maxsize=2)
def _advances(bold: bool) -> tuple[dict[int, int], int]:
    font = TTFont(font_file(bold))
    glyphs, metrics = font.getBestCmap(), font["hmtx"]
    return {code: metrics[name][0] for code, name in glyphs.items()}, font["head"].unitsPerEm


def width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Width of a line of print in mm; characters that the typeface lacks count as wide as an 'm'."""
    advances, per_em = _advances(bold)
    units = sum(advances.get(ord(char), advances[ord("m")]) for char in text)
    return units / per_em * size_pt * MM_PER_PT


def unprintable(text: str) -> str:
    """The characters of the text that the typeface lacks: they would come out as empty boxes."""
    advances, _ = _advances(False)
    return "".join(char for char in text if ord(char) not in advances)


def wrapped(text: str, size_pt: float, room_mm: float, bold: bool = False) -> list[str]:
    """The text broken at spaces into lines no wider than ``room_mm``; a longer single word stands alone."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_mm(longer, size_pt, bold) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
