"""Combs: rows of cells for one character each, in groups, with or without small letters that say which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scanform.adopt.found import FoundWord
from scanform.adopt.places import inside
from scanform.form import Box

__all__ = ["Comb", "combs_of"]

_SAME_MM = 0.6
_TOUCH_MM = 0.9
_COMB_CELL_MM = ((3.0, 10.0), (3.5, 12.0))
_GUIDES, _GUIDE_HIGH = frozenset("dmyhjt"), 0.5
_PARTS_OF_DATE = frozenset({"day", "month", "year", "mo", "yr", "dd", "mm", "yy", "yyyy"})
_COMB_GAP_MM = 8.0  # between the groups of one comb: 5 hours and 1 tenth, day and month and year
_FEWEST_CELLS = 3
_LABEL_MM, _SHORTEST_LABEL = 3.0, 3


@dataclass(frozen=True)
class Comb:
    """Cells of one size side by side, one character each; ``groups``: how many stand together in turn.

    ``guide``: the small letters printed in the cells, "ddmmyy", if there are any.
    """

    cells: tuple[Box, ...]
    groups: tuple[int, ...]
    guide: str = ""

    @property
    def box_mm(self) -> Box:
        """All cells together."""
        whole = self.cells[0]
        for cell in self.cells[1:]:
            whole = whole.union(cell)
        return whole


def combs_of(cells: Sequence[Box], words: Sequence[FoundWord]) -> list[Comb]:
    """Combs among the empty cells: three or more of one size that touch, alone on their line or in groups."""
    (least_w, most_w), (least_h, most_h) = _COMB_CELL_MM
    small = [
        c
        for c in cells
        if least_w <= c.w_mm <= most_w
        and least_h <= c.h_mm <= most_h
        and all(guides(word, c) for word in inside(c, words))
    ]
    rows: list[list[Box]] = []
    for cell in sorted(small, key=lambda c: (c.y_mm, c.x_mm)):
        row = next(
            (r for r in rows if abs(r[0].y_mm - cell.y_mm) < _SAME_MM and abs(r[0].h_mm - cell.h_mm) < _SAME_MM), None
        )
        if row is None:
            rows.append([cell])
        else:
            row.append(cell)
    found = []
    for row in rows:
        for run in _runs(sorted(row), words):
            touching = max(len(part) for part in run)
            together = tuple(cell for part in run for cell in part)
            if touching >= 2 and len(together) >= _FEWEST_CELLS and not _in_table(together, cells):
                told = "".join(word.text.lower() for cell in together for word in inside(cell, words))
                told = told or _told_under(run, words)
                found.append(Comb(together, tuple(len(part) for part in run), told))
    return found


def _told_under(run: Sequence[Sequence[Box]], words: Sequence[FoundWord]) -> str:
    """The order of a date from "Month", "Day", "Year" right under or over its groups of cells; empty if not all say."""
    told = ""
    for part in run:
        left, right = part[0].x_mm, part[-1].right_mm
        near = [
            word.text.lower()
            for word in words
            if left - _TOUCH_MM < word.box_mm.centre_mm[0] < right + _TOUCH_MM
            and -_SAME_MM < max(word.box_mm.y_mm - part[0].bottom_mm, part[0].y_mm - word.box_mm.bottom_mm) < _LABEL_MM
        ]
        told += next((name[0] * len(part) for name in near if name in _PARTS_OF_DATE), "")
    return told if set(told) == set("dmy") and len(told) == sum(len(part) for part in run) else ""


def guides(word: FoundWord, cell: Box) -> bool:
    """Whether a small letter in a cell says what digit goes there: day, month, year, hour."""
    return word.text.lower() in _GUIDES and word.box_mm.h_mm < _GUIDE_HIGH * cell.h_mm


def _runs(row: list[Box], words: Sequence[FoundWord]) -> list[list[list[Box]]]:
    """The row's cells as combs of groups: groups touch within, and have a small gap without words between them."""
    runs: list[list[list[Box]]] = []
    for cell in row:
        before = runs[-1][-1][-1] if runs else None
        gap = cell.x_mm - before.right_mm if before is not None else float("inf")
        same = before is not None and abs(cell.w_mm - before.w_mm) < 2 * _SAME_MM
        if before is not None and same and gap < _TOUCH_MM:
            runs[-1][-1].append(cell)
        elif (
            before is not None
            and same
            and gap < _COMB_GAP_MM
            and not _words_between(before, cell, words)
            and not _labelled(cell, words)
        ):
            runs[-1].append([cell])
        else:
            runs.append([[cell]])
    return runs


def _words_between(left: Box, right: Box, words: Sequence[FoundWord]) -> bool:
    gap = Box(left.right_mm, left.y_mm, max(right.x_mm - left.right_mm, 0.01), left.h_mm)
    return any(word.box_mm.overlaps(gap) and any(sign.isalnum() for sign in word.text) for word in words)


def _labelled(cell: Box, words: Sequence[FoundWord]) -> bool:
    """Whether a word begins right under or over the cell, other than what guides a date's digits ("DD", "YYYY")."""
    return any(
        abs(word.box_mm.x_mm - cell.x_mm) < _LABEL_MM
        and -_SAME_MM < max(word.box_mm.y_mm - cell.bottom_mm, cell.y_mm - word.box_mm.bottom_mm) < _LABEL_MM
        and len(word.text) >= _SHORTEST_LABEL
        and not set(word.text.lower()) <= set("dmy")
        and word.text.lower() not in _PARTS_OF_DATE
        for word in words
    )


def _in_table(cells: Sequence[Box], all_cells: Sequence[Box]) -> bool:
    """Whether most have another cell of their own width right above or below: then they are a table's row."""
    stacked = [
        any(
            abs(other.x_mm - cell.x_mm) < _SAME_MM
            and abs(other.w_mm - cell.w_mm) < _SAME_MM
            and min(abs(other.bottom_mm - cell.y_mm), abs(cell.bottom_mm - other.y_mm)) < _TOUCH_MM
            for other in all_cells
            if other is not cell
        )
        for cell in cells
    ]
    return sum(stacked) > len(cells) / 2
