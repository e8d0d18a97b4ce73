"""Read combs: rows of cells with one character each, with the probabilities of every character kept."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import cast

import numpy as np

from scanform.form import Field
from scanform.locate import LocatedSheet
from scanform.read.characters import ALPHABET, CharacterNet, Charset
from scanform.read.glyphs import PX_PER_MM, glyphs_of
from scanform.read.types import Alternative, Reading

__all__ = ["EMPTY", "MARGIN_MM", "best_strings", "read_combs"]

MARGIN_MM = 1.0
EMPTY = " "  # stands for an empty cell in the strings of a comb
_OTHER_DOUBT = 0.5
_SIGNS = ALPHABET + EMPTY


def read_combs(
    sheet: LocatedSheet, fields: Sequence[Field], net: CharacterNet, printed: dict[str, str]
) -> list[Reading]:
    """One Reading a comb, in order. ``printed``: values that the press put into a comb, by field id.

    Values of the alternatives are the cells' characters, one a cell, a space for an empty one; None if all are empty.
    """
    glyph_maps: dict[str, np.ndarray] = {}
    inks: dict[str, np.ndarray] = {}
    # Cells of one size are cut and normalised together.
    by_size = sorted(fields, key=lambda f: (f.cells_mm[0].w_mm, f.cells_mm[0].h_mm))
    for (w, h), group in groupby(by_size, key=lambda f: (f.cells_mm[0].w_mm, f.cells_mm[0].h_mm)):
        same = list(group)
        cells = [cell for field in same for cell in field.cells_mm]
        glyphs = glyphs_of(sheet.patches(cells, MARGIN_MM, PX_PER_MM), w, h, MARGIN_MM)
        start = 0
        for field in same:
            end = start + len(field.cells_mm)
            glyph_maps[field.id], inks[field.id] = glyphs.maps[start:end], glyphs.ink_mm2[start:end]
            start = end
    rows: dict[str, np.ndarray] = {}
    other: dict[str, np.ndarray] = {}
    for charset in sorted({field.charset for field in fields}):
        same = [field for field in fields if field.charset == charset]
        result = net.probabilities(
            np.concatenate([glyph_maps[f.id] for f in same]),
            np.concatenate([inks[f.id] for f in same]),
            cast(Charset, charset),
        )
        start = 0
        for field in same:
            end = start + len(field.cells_mm)
            rows[field.id], other[field.id] = result.rows[start:end], result.other[start:end]
            start = end
    return [
        _reading(sheet, field, rows[field.id], other[field.id], inks[field.id], printed.get(field.id))
        for field in fields
    ]


def _reading(
    sheet: LocatedSheet, field: Field, rows: np.ndarray, other: np.ndarray, ink: np.ndarray, printed: str | None
) -> Reading:
    alternatives = tuple(
        Alternative(text if text.strip() else None, probability) for text, probability in best_strings(rows, 5)
    )
    odd = [n + 1 for n in np.flatnonzero(other > _OTHER_DOUBT)]
    evidence = (f"cell {', '.join(map(str, odd))} holds no single clean character",) if odd else ()
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=alternatives,
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=float(ink.sum()),
        evidence=evidence,
        cell_probabilities=rows,
        cell_other=other,
        printed=printed,
    )


def best_strings(rows: np.ndarray, count: int) -> list[tuple[str, float]]:
    """The ``count`` most probable strings of float (cells, 37) rows, best first, cells being independent."""
    beams: list[tuple[str, float]] = [("", 1.0)]
    for row in rows:
        top = np.argsort(row)[::-1][:count]
        grown = [(text + _SIGNS[k], weight * float(row[k])) for text, weight in beams for k in top]
        beams = sorted(grown, key=lambda beam: -beam[1])[:count]
    return beams
