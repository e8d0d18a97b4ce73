"""What on the page belongs to the check list: the room that it takes up, its parts' headings, its items' own lines."""

from __future__ import annotations

from collections.abc import Sequence

from scanform.adopt.checklist import CheckList
from scanform.adopt.found import FoundRule, FoundWord, text_of
from scanform.adopt.items import ListedItem
from scanform.adopt.labels import usually_asked_by
from scanform.adopt.places import stands_on
from scanform.form import Box

__all__ = ["beside_no_item", "blocks_of", "heads_part", "in_the_list", "over_places", "rules_of_items"]

_STRIP_MM = 1.0
_HEADING_MM, _ACROSS = 9.0, 0.7  # height of a heading's bar, and how much of the list it goes across
_PART_SPANS = 3.0  # columns at least that a part's heading goes over
_ROW_REACH_MM = 2.5


def beside_no_item(rules: Sequence[FoundRule], listed: CheckList) -> list[FoundRule]:
    """Rules but those of the check list."""
    own = rules_of_items(rules, listed)
    return [rule for rule in rules if not any(rule is other for _, other in own)]


def rules_of_items(rules: Sequence[FoundRule], listed: CheckList) -> list[tuple[ListedItem, FoundRule]]:
    """Rules that stand at the same height in most of the list's rows, for words on the item, each with its item."""
    offsets: list[tuple[ListedItem, FoundRule, float]] = []
    for rule in rules if listed.items else ():
        near = _nearest(rule, listed.items)
        off = rule.box_mm.centre_mm[1] - near.y_mm
        if abs(off) < _ROW_REACH_MM + _STRIP_MM:
            offsets.append((near, rule, off))
    rows = len(listed.items)
    return [
        (item, rule)
        for item, rule, off in offsets
        if sum(
            abs(rule.box_mm.x_mm - other.box_mm.x_mm) <= 1 and abs(off - its) < _STRIP_MM for _, other, its in offsets
        )
        > rows / 2
    ]


def _nearest(rule: FoundRule, items: Sequence[ListedItem]) -> ListedItem:
    """The item on whose row a rule is; of two side by side, the one whose places it stands nearer to."""
    y, x = rule.box_mm.centre_mm[1], rule.box_mm.x_mm

    def away(item: ListedItem) -> tuple[float, float]:
        return abs(y - item.y_mm) // _STRIP_MM, abs(x - item.places[-1].box_mm.x_mm)

    return min(items, key=away)


def heads_part(cell: Box, blocks: Sequence[Box], held: Sequence[FoundWord]) -> bool:
    """Whether a cell with words in the midst of the list is the heading of a part of it."""
    if not held or usually_asked_by(text_of(held)) is not None:
        return False
    y = cell.centre_mm[1]
    return any(b.y_mm - cell.h_mm - _STRIP_MM < y < b.bottom_mm and cell.overlaps(b.grown(_STRIP_MM)) for b in blocks)


def in_the_list(room: Box, blocks: Sequence[Box], usual: bool) -> bool:
    """Whether a room lies in the midst of the list: the bar of a part's heading, the head of its items' words.

    ``usual``: its label asks for something usual; then only if it goes right across a block, as a heading's bar does.
    """
    y = room.centre_mm[1]
    for block in blocks:
        across = min(room.right_mm, block.right_mm) - max(room.x_mm, block.x_mm)
        among = block.y_mm < y < block.bottom_mm and across > 0
        if among and room.h_mm < _HEADING_MM and (not usual or across > _ACROSS * block.w_mm):
            return True
    return False


def over_places(cell: Box, cells: Sequence[Box], places: Sequence[Box]) -> bool:
    """Whether a cell stands on a column of places, right over one of them or with the heading of a part between."""
    headings = [
        other
        for other in cells
        if other.w_mm > _PART_SPANS * cell.w_mm
        and abs(other.y_mm - cell.bottom_mm) < _STRIP_MM
        and other.x_mm - _STRIP_MM < cell.x_mm < cell.right_mm < other.right_mm + _STRIP_MM
    ]
    lower = [Box(cell.x_mm, heading.y_mm, cell.w_mm, heading.h_mm) for heading in headings]
    return any(stands_on(head, place) for head in (cell, *lower) for place in places)


def blocks_of(listed: CheckList) -> list[Box]:
    """What the check list takes up: each block of rows under each other, words and places together."""
    blocks: list[Box] = []
    for item in listed.items:
        box = item.places[0].box_mm
        for other in [*(place.box_mm for place in item.places), *(word.box_mm for word in item.words)]:
            box = box.union(other)
        before = blocks[-1] if blocks else None
        if before is not None and abs(before.x_mm - box.x_mm) < _ROW_REACH_MM and before.y_mm < box.y_mm:
            blocks[-1] = before.union(box)
        else:
            blocks.append(box)
    return [Box(b.x_mm, b.y_mm - _ROW_REACH_MM, b.w_mm, b.h_mm + 2 * _ROW_REACH_MM) for b in blocks]
