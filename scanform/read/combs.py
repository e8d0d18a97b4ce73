"""Read combs: rows of cells with one character each, with the probabilities of every character kept."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple, cast

import numpy as np

from scanform.form import Field
from scanform.locate import LocatedSheet
from scanform.read.characters import ALPHABET, CharacterNet, Charset
from scanform.read.glyphs import GLYPH_SIDE, PX_PER_MM, glyphs_of
from scanform.read.hidden_bar import seven_share
from scanform.read.lines import LineReader
from scanform.read.second_opinion import (
    closer_opinions,
    digit_opinion,
    digits_alone,
    look_closer,
    pool_weights,
    pooled,
    second_thought,
)
from scanform.read.strings import EMPTY, best_strings
from scanform.read.types import Alternative, Reading

__all__ = ["MARGIN_MM", "CombOpinions", "comb_opinions", "read_combs", "to_hear"]

MARGIN_MM = 1.0
_OTHER_DOUBT = 0.5
_BORDER_MM = 0.6  # a cell's border line, its blur, and what it may be off by
_EVEN_GREY = 0.15  # spread of grey inside a cell, of the contrast, that no pen stays below
_SIGNS = ALPHABET + EMPTY
# A second opinion is asked on combs of digits that the network gives less than this: it takes 15 ms, and of surer ones
# it changes next to nothing. Of a number the whole string has to be sure: where one unsure digit was asked for, 2 of
# 1,094 hour meters were accepted that are wrong. Of a date each digit has to be: that the day exists and lies in the
# stack's weeks tells more than the line. On 1,200 simulated pages as many dates are right, 1,140 are accepted (1,137
# if the whole string has to be sure) and none wrongly, at half the opinions.
_SURE_ENOUGH = 0.99
_FEWEST_DIGITS = 3
# The line reads the digits that are less sure than this, and a neighbour on either side: two thirds of the cells. On
# 577 combs that are asked about on 900 simulated pages, whose truth the pool's weights had not seen, as many numbers
# are right as with whole combs (log loss 0.335 beside 0.332 a comb). With 0.99 it is half of the cells, and 0.351.
_HEARD_BELOW = 0.998
_DATES = frozenset({"date", "week"})  # parts of the ids of fields that hold one
# Ink well inside a cell that has none of its own, in mm2: a digit that hangs half over the border, taken for its
# neighbour's. Of 840 simulated pages' cells it holds for all 4 that had lost their digit, and for 2 of 697 empty ones.
_LOST_INK_MM2 = 0.5
_LOST = 0.75  # probability then that the cell is not empty: enough to be doubted


def read_combs(
    sheet: LocatedSheet, fields: Sequence[Field], net: CharacterNet, lines: LineReader, printed: dict[str, str]
) -> list[Reading]:
    """One Reading a comb, in order. ``printed``: values that the press put into a comb, by field id.

    ``lines`` gives another opinion on numbers of which ``net`` is not sure.

    Values of the alternatives are the cells' characters, one a cell, a space for an empty one; None if all are empty.
    """
    cells = _Cells(sheet, fields)
    readings: dict[str, Reading] = {}
    for charset in sorted({field.charset for field in fields}):
        same = [field for field in fields if field.charset == charset]
        maps = np.concatenate([cells.maps[field.id] for field in same])
        ink = np.concatenate([cells.ink_mm2[field.id] for field in same])
        rows, other = _probabilities(net, maps, ink, cast(Charset, charset))
        second_thought(net, maps, ink, rows, other)
        if charset == "digits":
            look_closer(net, maps, ink, rows)
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
    """Pools the line recogniser's opinion into one comb's rows (cells, 37), in place, where these are not sure."""
    inked = np.flatnonzero(cells.ink_mm2[field.id] > 0)
    heard = inked[to_hear(field, rows[inked])]
    if len(heard):
        own, line = digits_alone(rows[heard]), digit_opinion(_own_ink(cells, field, heard), lines)
        rows[heard, :10] = pooled(own, line, pool_weights("line")) * (1 - rows[heard, -1:])


def to_hear(field: Field, digits: np.ndarray) -> np.ndarray:
    """Which of a comb's inked cells the line is to read, int (n,): unsure ones and what stands beside; none if all
    together are sure. ``digits``: float (inked cells, k) probabilities.
    """
    count = len(digits)
    if count < _FEWEST_DIGITS or _how_sure(field, digits) >= _SURE_ENOUGH:
        return np.zeros(0, int)
    best = digits.max(axis=1)
    unsure = np.flatnonzero(best <= max(_HEARD_BELOW, best.min()))
    first = np.clip(unsure - 1, 0, count - _FEWEST_DIGITS)
    return np.unique(first[:, None] + np.arange(_FEWEST_DIGITS))


def _how_sure(field: Field, digits: np.ndarray) -> float:
    """How sure a comb's digits are, from float (n, k) probabilities: as sure as the weakest in a date, as all else."""
    best = digits.max(axis=1)
    return float(best.min() if _is_date(field) else best.prod())


def _is_date(field: Field) -> bool:
    """Whether a comb holds a date: its id says so, or on an adopted form its pattern."""
    return not _DATES.isdisjoint(field.id.split(".")) or "d" in field.pattern


def _own_ink(cells: _Cells, field: Field, of: np.ndarray) -> np.ndarray:
    return np.array([cells.ink[field.id][n] for n in of])


class CombOpinions(NamedTuple):
    """What the opinions on the inked cells of one comb, ``field``, come to before they are pooled.

    ``inked`` int (n,): which cells; ``own``, ``closer`` float (n, 10): the first networks' and the larger one's (zero
    where it is not asked); ``asked`` bool (n,): whether it is; ``ink`` float32 (n, H, W): what the line would read.
    """

    field: Field
    inked: np.ndarray
    own: np.ndarray
    closer: np.ndarray
    asked: np.ndarray
    ink: np.ndarray


def comb_opinions(sheet: LocatedSheet, field: Field, net: CharacterNet) -> CombOpinions | None:
    """The networks' opinions on one comb's digits; None where the first ones need no other."""
    cells = _Cells(sheet, [field])
    maps, ink = cells.maps[field.id], cells.ink_mm2[field.id]
    rows, _ = _probabilities(net, maps, ink, "digits")
    inked = np.flatnonzero(ink > 0)
    if not len(to_hear(field, rows[inked])):
        return None
    again = closer_opinions(net, maps, ink, rows)
    closer = np.zeros((len(rows), 10))
    closer[again.cells] = again.closer
    return CombOpinions(
        field,
        inked,
        digits_alone(rows[inked]),
        closer[inked],
        np.isin(inked, again.cells),
        _own_ink(cells, field, inked),
    )


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
