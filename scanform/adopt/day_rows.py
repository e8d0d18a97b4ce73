"""Rows of a grid that ask for something else each day: the hours, the initials."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from scanform.adopt.answers import day_of
from scanform.adopt.found import FoundWord, text_of
from scanform.adopt.heads import Head, cell_round
from scanform.adopt.labels import asked_by, guessed_by, plain, usually_asked_by
from scanform.adopt.places import Column, inside
from scanform.form import Box

__all__ = ["ASKED_DAILY", "DayRow", "Place", "asks_each_time", "by_day", "rows_by_day"]

ASKED_DAILY = frozenset({"hours", "initials", "operator", "signature", "odometer"})
_SAME_MM = 1.0
_FEWEST_DAYS = 5
_TELLING = {"hours", "hrs", "hour", "meter", "clock", "smu", "initials", "signature", "signed", "odometer", "mileage"}
_JOINS = re.compile(r"\band\b|&")  # "display and hour meter" are to be looked at
_AT_WHAT_TIME = re.compile(r"\b(start|beginning|begin|end|finish)\b", re.IGNORECASE)  # of each day


@dataclass(frozen=True)
class Place:
    """One place to answer in. ``means``: an answer, ``mon`` to ``sun``, ``1`` to ``31``, or empty for a sign."""

    box_mm: Box
    means: str
    how: Literal["box", "word"] = "box"


@dataclass(frozen=True)
class DayRow:
    """A row of a grid that asks for something else each day: the hours, the initials."""

    asks: str
    label: str
    places: tuple[Place, ...]


def by_day(text: str, places: Sequence[Place]) -> DayRow | None:
    """The row if its words ask for something that people write down every day, and its places are days."""
    if any(day_of(place.means) is None for place in places):
        return None
    asked = usually_asked_by(text) or usually_asked_by(_AT_WHAT_TIME.sub(" ", text))
    if asked is not None and asked.id == "date":
        return DayRow("dated", text, tuple(places))
    each = asks_each_time(text)
    return DayRow(each, text, tuple(places)) if each else None


def asks_each_time(text: str) -> str:
    """What a row of a list asks for that is written down anew every time: the hours, the initials; else empty."""
    plainly = _AT_WHAT_TIME.sub(" ", text)
    asked = usually_asked_by(text) or usually_asked_by(plainly)
    if asked is None and _TELLING & set(plain(text).split()) and not _JOINS.search(text):
        asked = asked_by(plainly) or guessed_by(plainly)
    return asked.id if asked is not None and asked.id in ASKED_DAILY else ""


def rows_by_day(
    columns: Sequence[Column], heads: dict[int, Head], words: Sequence[FoundWord], cells: Sequence[Box]
) -> list[DayRow]:
    """Such rows whose cells are none of the columns': wider, where a day's shifts share one, or higher."""
    spans: dict[str, Box] = {}
    for column in columns:
        day, top = _day_of(heads[id(column)]), cell_round(column.cells[0], cells)
        if day:
            spans[day] = spans[day].union(top) if day in spans else top
    in_columns = {cell for column in columns for cell in column.cells}
    rows: dict[float, list[Place]] = {}
    for cell in cells:
        if cell in in_columns or inside(cell, words):
            continue
        for day in (day for day, span in spans.items() if _as_wide(cell, span)):
            level = next((y for y in rows if abs(y - cell.centre_mm[1]) < _SAME_MM), cell.centre_mm[1])
            rows.setdefault(level, []).append(Place(cell, day))
    found = []
    for y, places in rows.items():
        row = by_day(_before(y, places, words, cells), places) if len(places) >= _FEWEST_DAYS else None
        if row is not None:
            found.append(row)
    return found


def _day_of(head: Head) -> str:
    """The day that a column is for; a lone number is no day, its neighbours would have told."""
    return head.day or (day_of(head.text) or "" if not head.text.strip().isdecimal() else "")


def _as_wide(cell: Box, span: Box) -> bool:
    return abs(cell.x_mm - span.x_mm) < _SAME_MM and abs(cell.right_mm - span.right_mm) < _SAME_MM


def _before(y: float, places: Sequence[Place], words: Sequence[FoundWord], cells: Sequence[Box]) -> str:
    """What is printed in the cell left of the row's places."""
    left = min(place.box_mm.x_mm for place in places)
    label = next((c for c in cells if abs(c.right_mm - left) < _SAME_MM and abs(c.centre_mm[1] - y) < _SAME_MM), None)
    return text_of(inside(label, words)) if label is not None else ""
