"""Read combs: rows of cells with one character each, with the probabilities of every character kept."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from operator import itemgetter
from typing import cast

import numpy as np

from scanform.form import Field
from scanform.locate import LocatedSheet
from scanform.read.characters import ALPHABET, CharacterNet, Charset
from scanform.read.glyphs import GLYPH_SIDE, PX_PER_MM, glyphs_of
from scanform.read.hidden_bar import seven_share
from scanform.read.lines import LineReader
from scanform.read.second_opinion import digit_opinion, pool_weights, pooled
from scanform.read.types import Alternative, Reading

__all__ = ["EMPTY", "MARGIN_MM", "best_strings", "digits_and_opinion", "read_combs"]

MARGIN_MM = 1.0
EMPTY = " "  # stands for an empty cell in the strings of a comb
_OTHER_DOUBT = 0.5
_BORDER_MM = 0.6  # a cell's border line, its blur, and what it may be off by
_EVEN_GREY = 0.15  # spread of grey inside a cell, of the contrast, that no pen stays below
_SIGNS = ALPHABET + EMPTY
# A second opinion is asked on combs of digits whose string the network gives less than this: it takes 15 ms, and of
# surer ones (three in five) it changes next to nothing. It was fitted on numbers this long and longer.
_SURE_ENOUGH = 0.99
_FEWEST_DIGITS = 3
# Ink well inside a cell that has none of its own, in mm2: a digit that hangs half over the border, taken for its
# neighbour's. Of 840 simulated pages' cells it holds for all 4 that had lost their digit, and for 2 of 697 empty ones.
_LOST_INK_MM2 = 0.5
_LOST = 0.75  # probability then that the cell is not empty: enough to be doubted


def read_combs(
    sheet: LocatedSheet, fields: Sequence[Field], net: CharacterNet, lines: LineReader, printed: dict[str, str]
) -> list[Reading]:
    """One Reading a comb, in order. ``printed``: values that the press put into a comb, by field id.

    ``lines`` gives the second opinion on numbers of which ``net`` is not sure.

    Values of the alternatives are the cells' characters, one a cell, a space for an empty one; None if all are empty.
    """
    cells = _Cells(sheet, fields)
    readings: dict[str, Reading] = {}
    for charset in sorted({field.charset for field in fields}):
        same = [field for field in fields if field.charset == charset]
        maps = np.concatenate([cells.maps[field.id] for field in same])
        ink = np.concatenate([cells.ink_mm2[field.id] for field in same])
        rows, other = _probabilities(net, maps, ink, cast(Charset, charset))
        start = 0
        for field in same:
            end = start + len(field.cells_mm)
            value = printed.get(field.id)
            if charset == "digits" and value is None:
                _ask_again(cells, field, rows[start:end], lines)
                _allow_hidden_bar(rows[start:end], cells.bar_traces[field.id])
            lost = (ink[start:end] == 0) & (cells.left_out_mm2[field.id] > _LOST_INK_MM2)
            other[start:end][lost] = _LOST
            readings[field.id] = _reading(sheet, field, rows[start:end], other[start:end], ink[start:end], value)
            start = end
    return [readings[field.id] for field in fields]


class _Cells:
    """Normalised glyphs and inked areas of all cells, by field; cells of one size are cut and normalised together."""

    def __init__(self, sheet: LocatedSheet, fields: Sequence[Field]) -> None:
        self.maps: dict[str, np.ndarray] = {}
        self.ink_mm2: dict[str, np.ndarray] = {}
        self.left_out_mm2: dict[str, np.ndarray] = {}
        self.bar_traces: dict[str, np.ndarray] = {}
        self.ink: dict[str, list[np.ndarray | None]] = {}  # None of what is clean paper
        by_size = sorted(fields, key=_cell_size)
        for (w, h), group in groupby(by_size, key=_cell_size):
            same = list(group)
            patches = sheet.patches([cell for field in same for cell in field.cells_mm], MARGIN_MM, PX_PER_MM)
            maps = np.zeros((len(patches), GLYPH_SIDE, GLYPH_SIDE), np.float32)
            ink, left_out = np.zeros(len(patches), np.float32), np.zeros(len(patches), np.float32)
            traces = np.full((len(patches), 2), np.nan, np.float32)
            # Most cells of most sheets are clean paper, which a look at the darkest pixel tells.
            written = np.flatnonzero(_spread(patches) > _EVEN_GREY * (sheet.paper_grey - sheet.print_grey))
            glyphs = glyphs_of(patches[written], w, h, MARGIN_MM)
            maps[written], ink[written] = glyphs.maps, glyphs.ink_mm2
            left_out[written], traces[written] = glyphs.left_out_mm2, glyphs.bar_traces
            own: list[np.ndarray | None] = [None] * len(patches)
            for n, cell in zip(written.tolist(), glyphs.ink, strict=True):
                own[n] = cell
            start = 0
            for field in same:
                end = start + len(field.cells_mm)
                self.maps[field.id], self.ink_mm2[field.id] = maps[start:end], ink[start:end]
                self.left_out_mm2[field.id], self.bar_traces[field.id] = left_out[start:end], traces[start:end]
                self.ink[field.id] = own[start:end]
                start = end


def _cell_size(field: Field) -> tuple[float, float]:
    return round(field.cells_mm[0].w_mm, 3), round(field.cells_mm[0].h_mm, 3)


def _spread(patches: np.ndarray) -> np.ndarray:
    """Lightest less darkest grey inside each cell's border, uint8 (n, H, W) to int (n,)."""
    inset = round((MARGIN_MM + _BORDER_MM) * PX_PER_MM)
    inside = patches[:, inset:-inset, inset:-inset].reshape(len(patches), -1).astype(np.int16)
    return inside.max(axis=1) - inside.min(axis=1)


def _probabilities(
    net: CharacterNet, maps: np.ndarray, ink_mm2: np.ndarray, charset: Charset
) -> tuple[np.ndarray, np.ndarray]:
    """Rows (n, 37) and "other" (n,) of all cells; the network looks at the inked ones and at one empty one."""
    inked = np.flatnonzero(ink_mm2 > 0)
    looked_at = net.probabilities(
        np.concatenate([maps[inked], np.zeros((1, *maps.shape[1:]), np.float32)]),
        np.append(ink_mm2[inked], np.float32(0)),
        charset,
    )
    rows = np.repeat(looked_at.rows[-1:], len(maps), axis=0)
    other = np.repeat(looked_at.other[-1:], len(maps), axis=0)
    rows[inked], other[inked] = looked_at.rows[:-1], looked_at.other[:-1]
    return rows, other


def _ask_again(cells: _Cells, field: Field, rows: np.ndarray, lines: LineReader) -> None:
    """Pools the line recogniser's opinion into one comb's rows (cells, 37), in place, where the network is not sure."""
    asked = _opinions(cells, field, rows, lines)
    if asked is not None:
        inked, own, line = asked
        rows[inked, :10] = pooled(own, line, pool_weights()) * (1 - rows[inked, -1:])


def _opinions(
    cells: _Cells, field: Field, rows: np.ndarray, lines: LineReader
) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """Which cells are inked, int (n,), and both opinions on them, float (n, 10); None where the network is sure."""
    inked = np.flatnonzero(cells.ink_mm2[field.id] > 0)
    if len(inked) < _FEWEST_DIGITS or np.prod(rows[inked].max(axis=1)) >= _SURE_ENOUGH:
        return None
    ink = np.array([cells.ink[field.id][n] for n in inked])
    own = rows[inked, :10] / np.maximum(1 - rows[inked, -1:], 1e-9)
    return inked, own, digit_opinion(ink, lines)


def digits_and_opinion(
    sheet: LocatedSheet, field: Field, net: CharacterNet, lines: LineReader
) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """The network's and the line recogniser's probabilities of one comb's digits, before they are pooled.

    Inked cells int (n,), network float (n, 10), line float (n, 10); None where the network needs no second opinion.
    """
    cells = _Cells(sheet, [field])
    rows, _ = _probabilities(net, cells.maps[field.id], cells.ink_mm2[field.id], "digits")
    return _opinions(cells, field, rows, lines)


def _allow_hidden_bar(rows: np.ndarray, traces: np.ndarray) -> None:
    """Moves, in rows (cells, 37) in place, the share of 1 to 7 that a bar may lie hidden upon the upper border."""
    moved = seven_share(traces) * rows[:, 1]
    rows[:, 1] -= moved
    rows[:, 7] += moved


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
    for row, top in zip(rows.tolist(), np.argsort(rows, axis=1)[:, ::-1][:, :count].tolist(), strict=True):
        signs = [(_SIGNS[k], row[k]) for k in top]
        # The i-th best string with the j-th best sign has i x j - 1 strings before it.
        grown = [
            (text + sign, weight * share)
            for i, (text, weight) in enumerate(beams, 1)
            for sign, share in signs[: count // i]
        ]
        beams = sorted(grown, key=itemgetter(1), reverse=True)[:count]
    return beams
