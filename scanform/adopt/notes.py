"""Room for a few words on each item, beside its answers: cells under "Notes", "Comment / action", or writing lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scanform.adopt.checklist import CheckList
from scanform.adopt.found import FoundRule, FoundWord, phrases
from scanform.adopt.items import ListedItem
from scanform.adopt.labels import asks_remarks
from scanform.adopt.list_room import rules_of_items
from scanform.adopt.places import inside
from scanform.form import Box

__all__ = ["Note", "notes_beside", "notes_on_rules"]

_SAME_MM = 1.0
_LEAST_MM = (15.0, 3.5)  # width and height
_FEWEST = 3
_HEAD_ABOVE_MM = 11.0
_ROOM_MM = 6.5  # over a writing line


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
        if len(column) >= _FEWEST and asks_remarks(head) and not any(n.item is column[0][0] for n in found):
            found += [Note(item, head, cell) for item, cell in column]
    return found


def notes_on_rules(
    listed: CheckList, rules: Sequence[FoundRule], words: Sequence[FoundWord], taken: Sequence[Note]
) -> list[Note]:
    """The writing lines that stand beside most items, each item's first; none for items with a note in ``taken``."""
    found: list[Note] = []
    for item, rule in sorted(rules_of_items(rules, listed), key=lambda pair: pair[1].box_mm.x_mm):
        box = rule.box_mm
        beside = box.x_mm > max(place.box_mm.right_mm for place in item.places)  # else it parts two rows of a list
        if box.w_mm < _LEAST_MM[0] or not beside or any(note.item is item for note in (*taken, *found)):
            continue
        found.append(Note(item, "", Box(box.x_mm, box.centre_mm[1] - _ROOM_MM, box.w_mm, _ROOM_MM)))
    if not found:
        return []
    head = _head_over(min((note.box_mm for note in found), key=lambda box: box.y_mm), words)
    return [replace(note, label=head) for note in found]


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
