"""Signs in boxes and bare cells, by what the form's own legend says they mean; code letters among them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from scanform.form import Field
from scanform.locate import LocatedSheet
from scanform.read.characters import ALPHABET
from scanform.read.glyphs import PX_PER_MM, glyphs_of
from scanform.read.instruments import Instruments
from scanform.read.symbols import MEANINGS, read_symbols
from scanform.read.types import Reading, likeliest_first

__all__ = ["read_signs"]

# Nobody's hand tells these apart, and a legend has letters (as for unit numbers, scanform.settle.combs).
_LIKE_DIGITS = {"O": "0", "I": "1", "Z": "2", "S": "5", "B": "8", "G": "6"}
_MARGIN_MM, _BOX_MM = 1.0, 6.0
_LETTER = 0.5  # probability from which a sign that is no tick, cross or dash is said to be none of the legend's
_NO_INK_MM2 = 0.2


def read_signs(sheet: LocatedSheet, fields: Sequence[Field], instruments: Instruments) -> list[Reading]:
    """One Reading a field, in order. ``sheet``: with even boxes (:func:`scanform.read.old.boxes.as_even_boxes`)."""
    if not fields:
        return []
    legend = dict(sheet.layout.signs)
    letters = {sign: answer for sign, answer in legend.items() if len(sign) == 1 and sign.isalpha()}
    readings = read_symbols(sheet, fields, instruments.symbols, _meanings(legend))
    if not letters:
        return readings
    return _with_letters(sheet, fields, readings, letters, drawn="tick" in legend or "cross" in legend, by=instruments)


def _meanings(legend: Mapping[str, str]) -> dict[str, str | None]:
    """What the drawn signs and N/A stand for: what the form says, else the usual.

    But where the form has a sign of its own for not applicable, a dash is none: a flat tick looks like one.
    """
    meant = dict(MEANINGS) | {symbol: legend[symbol] for symbol in MEANINGS if symbol in legend}
    if "dash" not in legend and "na" in legend.values():
        del meant["dash"]
    return meant


def _with_letters(
    sheet: LocatedSheet,
    fields: Sequence[Field],
    readings: Sequence[Reading],
    letters: Mapping[str, str],
    drawn: bool,
    by: Instruments,
) -> list[Reading]:
    """Readings of boxes with code letters; where the legend has drawn signs too, those that are surely these stay."""
    patches = sheet.patches([field.box_mm for field in fields], _MARGIN_MM, PX_PER_MM)
    glyphs = glyphs_of(patches, _BOX_MM, _BOX_MM, _MARGIN_MM)
    rows = by.characters.probabilities(glyphs.maps, glyphs.ink_mm2, "alnum")
    read = []
    for reading, row, other, ink in zip(readings, rows.rows, rows.other, glyphs.ink_mm2, strict=True):
        best = reading.alternatives[0]
        if best.value is None and ink < _NO_INK_MM2:
            read.append(reading)
            continue
        if drawn and best.value is not None and best.probability > _LETTER and not reading.evidence:
            read.append(reading)
            continue
        read.append(_letter(reading, row, float(other), letters))
    return read


def _letter(reading: Reading, row: np.ndarray, other: float, letters: Mapping[str, str]) -> Reading:
    shares = {letter: _share(row, letter) for letter in letters}
    meant: dict[str | None, float] = {None: float(row[-1])}
    for letter, share in shares.items():
        meant[letters[letter]] = meant.get(letters[letter], 0.0) + share * (1 - other)
    known = sum(shares.values()) * (1 - other)
    evidence = () if max(known, meant[None]) >= _LETTER else (f"the sign is none of {', '.join(letters)}",)
    return replace(reading, alternatives=likeliest_first(meant), evidence=evidence)


def _share(row: np.ndarray, letter: str) -> float:
    """Probability of a letter, float (37,), that of the digit which looks like it added."""
    signs = letter + _LIKE_DIGITS.get(letter, "")
    return float(sum(row[ALPHABET.index(sign)] for sign in signs if sign in ALPHABET))
