"""Logs with a row to each day: the points stand over the columns, the days of a week or a month down the side."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from scanform.adopt.answers import Says, day_of
from scanform.adopt.day_rows import ASKED_DAILY, DayRow, Place
from scanform.adopt.found import FoundWord, text_of
from scanform.adopt.heads import Head, heads_of
from scanform.adopt.items import ListedItem, Spot
from scanform.adopt.labels import usually_asked_by
from scanform.adopt.places import Column, inside
from scanform.form import DAYS, Box

__all__ = ["items_by_day", "wide_by_day"]

_FEWEST_DAYS = 5
_SURE = 0.9
_FLUSH_MM = 0.8

_Row = tuple[Sequence[Spot], Sequence[FoundWord]]


def items_by_day(rows: Sequence[_Row], says: Says) -> tuple[list[ListedItem], list[DayRow], list[FoundWord]] | None:
    """The columns' heads as items, each with a place a day; None unless the rows begin with days in turn.

    ``rows``: places on one level, and the words on it. Also gives the columns that ask for hours or initials, and the
    days' own words. A column that asks for anything else, such as remarks, is left out.
    """
    named = [(row, _day_before(row, level)) for row, level in rows]
    days = [day for _, (day, _) in named if day]
    if len(days) < max(_FEWEST_DAYS, 0.8 * len(rows)) or not _in_turn(days):
        return None
    heads: dict[str, Head] = {}
    places: dict[str, list[Place]] = {}
    used = []
    for row, (day, words) in named:
        used += words if day else []
        for spot in row if day else ():
            if spot.head.known or says(spot.head.text) is not None:
                return None
            heads[spot.head.text] = spot.head
            places.setdefault(spot.head.text, []).append(Place(spot.box, day))
    items, day_rows = [], []
    for text, found in places.items():
        asked = usually_asked_by(text)
        if asked is not None and asked.id in ASKED_DAILY:
            day_rows.append(DayRow(asked.id, text, tuple(found)))
        elif asked is None and text:
            items.append(ListedItem(text, tuple(found), heads[text].words, _SURE))
    return items, day_rows, used


def wide_by_day(
    items: Sequence[ListedItem], boxes: Sequence[Box], words: Sequence[FoundWord], cells: Sequence[Box], says: Says
) -> list[DayRow]:
    """Columns of cells too wide for signs on the same rows, that ask for what people write down every day."""
    if not items:
        return []
    days = items[0].places
    columns: dict[int, list[Box]] = {}
    for cell in cells:
        flush = any(
            abs(cell.y_mm - d.box_mm.y_mm) < _FLUSH_MM and abs(cell.bottom_mm - d.box_mm.bottom_mm) < _FLUSH_MM
            for d in days
        )
        if flush and cell not in boxes and not inside(cell, words):
            columns.setdefault(round(cell.x_mm), []).append(cell)
    whole = [Column(tuple(sorted(c, key=lambda b: b.y_mm))) for c in columns.values() if len(c) == len(days)]
    heads = heads_of(whole, words, cells, says)
    found = []
    for column in whole:
        asked = usually_asked_by(heads[id(column)].text)
        if asked is not None and asked.id in ASKED_DAILY:
            places = [Place(cell, day.means) for cell, day in zip(column.cells, days, strict=True)]
            found.append(DayRow(asked.id, heads[id(column)].text, tuple(places)))
    return found


def _day_before(row: Sequence[Spot], level: Sequence[FoundWord]) -> tuple[str, list[FoundWord]]:
    first: Box = row[0].box
    words = [w for w in level if w.box_mm.right_mm < first.x_mm + 0.5]
    return day_of(text_of(words).strip(" .)")) or "", words


def _in_turn(days: Sequence[str]) -> bool:
    order = list(DAYS) if days[0] in DAYS else [str(day) for day in range(1, 32)]
    places = [order.index(day) for day in days if day in order]
    return len(places) == len(days) and all((b - a) % len(order) == 1 for a, b in pairwise(places))
