"""Cells for a few words on each item, beside its answers: "Notes", "Comment / action"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scanform.adopt.checklist import CheckList
from scanform.adopt.found import FoundWord, phrases
from scanform.adopt.items import ListedItem
from scanform.adopt.labels import asked_by, guessed_by
from scanform.adopt.places import inside
from scanform.form import Box

__all__ = ["Note", "notes_beside"]

_SAME_MM = 1.0
_LEAST_MM = (15.0, 3.5)  # width and height
_FEWEST = 3
_HEAD_ABOVE_MM = 11.0


@dataclass(frozen=True)
class Note:
    """Room for words on one item. ``label``: what is printed over the column."""

    item: ListedItem
    label: str
    box_mm: Box


def notes_beside(listed: CheckList, cells: Sequence[Box], words: Sequence[FoundWord]) -> list[Note]:
    """The empty cells on items' rows that stand in one column under a head that asks for remarks."""
    taken = [place.box_mm for item in listed.items for place in item.places]
    taken += [place.box_mm for row in listed.day_rows for place in row.places]
    least_w, least_h = _LEAST_MM
    free = [
        cell
        for cell in cells
        if cell.w_mm >= least_w
        and cell.h_mm >= least_h
        and not inside(cell, words)
        and not any(cell.grown(0.5).contains(place) for place in taken)
    ]
    columns: dict[tuple[int, int], list[tuple[ListedItem, Box]]] = {}
    for item in listed.items:
        row = [cell for cell in free if _on_row(cell, item)]
        for cell in row:
            near = [k for k in columns if abs(k[0] - cell.x_mm) < _SAME_MM and abs(k[1] - cell.w_mm) < 2 * _SAME_MM]
            key = near[0] if near else (round(cell.x_mm), round(cell.w_mm))
            columns.setdefault(key, []).append((item, cell))
    found: list[Note] = []
    for column in columns.values():
        head = _head_over(column[0][1], words)
        if len(column) >= _FEWEST and _asks_remarks(head) and not any(n.item is column[0][0] for n in found):
            found += [Note(item, head, cell) for item, cell in column]
    return found


def _on_row(cell: Box, item: ListedItem) -> bool:
    place = item.places[0].box_mm
    return abs(cell.centre_mm[1] - item.y_mm) < _SAME_MM and cell.h_mm < 2 * place.h_mm + 2 * _SAME_MM


def _head_over(top: Box, words: Sequence[FoundWord]) -> str:
    """The lowest print over the middle of the column's first cell that begins in the column."""
    over = [
        line
        for line in phrases(words)
        if -_SAME_MM < top.y_mm - line.box_mm.bottom_mm < _HEAD_ABOVE_MM
        and top.x_mm - _SAME_MM < line.box_mm.x_mm
        and line.box_mm.right_mm < top.right_mm + _SAME_MM
    ]
    return max(over, key=lambda line: line.box_mm.bottom_mm).text if over else ""


def _asks_remarks(head: str) -> bool:
    asked = asked_by(head) or guessed_by(head)
    return asked is not None and asked.id == "remarks"
