"""The ways people write a date, and the days that a written date may mean.

Numbers in the orders day-month-year, month-day-year and year-month-day (ISO 8601), with ``/``, ``-``, ``.`` or a space
between, years of two or four digits; and English month names and their abbreviations. Common practice; no outside list.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from scanform.settle.old.ways_to_write import Way, WaysToWrite

__all__ = ["Meaning", "date_ways", "meanings", "month_meanings", "month_ways"]

_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
_NAMES: dict[str, int] = {name: n for n, name in enumerate(_MONTHS, start=1)}
_NAMES |= {name[:3]: n for n, name in enumerate(_MONTHS, start=1)} | {"sept": 9}
_DAYS = tuple(str(n) for n in range(1, 32)) + tuple(f"0{n}" for n in range(1, 10))
_NUMBERS = tuple(str(n) for n in range(1, 13)) + tuple(f"0{n}" for n in range(1, 10))
_SHORT_YEARS = tuple(f"{n:02d}" for n in range(100))
_YEARS = tuple(str(n) for n in range(1980, 2060))
_SEPARATORS = ("/", "-", ".", " ")
_PASSED_OVER = (".", " ")  # a point or a space between two digits easily is; a dash or a slash is not


@lru_cache(maxsize=1)
def date_ways() -> WaysToWrite:
    """All of them."""
    ways: list[Way] = []
    year = _SHORT_YEARS + _YEARS
    for sign in _SEPARATORS:
        between = (sign, "") if sign in _PASSED_OVER else (sign,)
        ways.append((_DAYS, between, _NUMBERS, between, year))
        ways.append((_NUMBERS, between, _DAYS, between, year))
        ways.append((_YEARS, (sign,), _NUMBERS, (sign,), _DAYS))
    names, count = tuple(_NAMES), ("", "st", "nd", "rd", "th")
    ways.append((_DAYS, count, ("", " ", "-", ".", "/", ". "), names, ("", " ", "-", ".", "/", ", ", ". "), year))
    ways.append((names, ("", " ", "-", ".", ". "), _DAYS, count, (" ", "-", ".", ", ", ","), year))
    return WaysToWrite(ways)


@lru_cache(maxsize=1)
def month_ways() -> WaysToWrite:
    """The ways people write a month and its year."""
    year = _SHORT_YEARS + _YEARS
    ways: list[Way] = [(tuple(_NAMES), ("", " ", "-", ".", "/", ", ", ". "), year)]
    ways += [(_NUMBERS, (sign, "") if sign in _PASSED_OVER else (sign,), year) for sign in _SEPARATORS]
    ways += [(_YEARS, (sign,), _NUMBERS) for sign in _SEPARATORS]
    return WaysToWrite(ways)


@dataclass(frozen=True)
class Meaning:
    """One day that a written date may mean. ``order``: ``dmy``, ``mdy``, ``ymd``; empty where a month is named.

    ``passed_over``: how many points or spaces must have been between the numbers and are not in the text.
    """

    day: date
    order: str
    passed_over: int = 0


_YEAR_FIRST = re.compile(r"(\d{4})([/\-. ])(\d{1,2})\2(\d{1,2})")
_NAMED_FIRST = re.compile(r"([a-z]+)\W*(\d+)(?:st|nd|rd|th)?\W+(\d+)")
_NAMED = re.compile(r"(\d+)(?:st|nd|rd|th)?\W*([a-z]+)\W*(\d+)")


def meanings(text: str, this_year: int) -> tuple[Meaning, ...]:
    """All days that a text may mean; a year of two digits is the latest one up to a year ahead of ``this_year``."""
    text = text.strip().lower()
    if named := _NAMED.fullmatch(text):
        return _meaning(named[1], str(_NAMES.get(named[2], 0)), named[3], "", this_year)
    if named := _NAMED_FIRST.fullmatch(text):
        return _meaning(named[2], str(_NAMES.get(named[1], 0)), named[3], "", this_year)
    if iso := _YEAR_FIRST.fullmatch(text):
        return _meaning(iso[4], iso[3], iso[1], "ymd", this_year)
    found: list[Meaning] = []
    for first, second, third, missing in _numbers(text):
        found += _meaning(first, second, third, "dmy", this_year, missing)
        found += _meaning(second, first, third, "mdy", this_year, missing)
    return tuple(dict.fromkeys(found))


_MONTH_NAMED = re.compile(r"([a-z]+)\W*(\d+)")
_MONTH_LAST = re.compile(r"(\d{4})[/\-. ](\d{1,2})")


def month_meanings(text: str, this_year: int) -> tuple[Meaning, ...]:
    """The first days of all months that a text may mean."""
    text = text.strip().lower()
    if named := _MONTH_NAMED.fullmatch(text):
        return _meaning("1", str(_NAMES.get(named[1], 0)), named[2], "", this_year)
    found: list[Meaning] = []
    if last := _MONTH_LAST.fullmatch(text):
        found += _meaning("1", last[2], last[1], "", this_year)
    for month in (1, 2):
        for year in (2, 4):
            first = re.fullmatch(rf"(\d{{{month}}})([/\-. ]?)(\d{{{year}}})", text)
            if first:
                found += _meaning("1", first[1], first[3], "", this_year, not first[2])
    return tuple(dict.fromkeys(found))


def _numbers(text: str) -> Iterable[tuple[str, str, str, int]]:
    """Every way to part a text into three numbers, and how many separators it lacks."""
    for first in (1, 2):
        for second in (1, 2):
            for year in (2, 4):
                pattern = rf"(\d{{{first}}})([/\-. ]?)(\d{{{second}}})([/\-. ]?)(\d{{{year}}})"
                found = re.fullmatch(pattern, text)
                if found and (found[2] == found[4] or "" in (found[2], found[4])):
                    yield found[1], found[3], found[5], (not found[2]) + (not found[4])


def _meaning(day: str, month: str, year: str, order: str, this_year: int, passed_over: int = 0) -> tuple[Meaning, ...]:
    full = int(year)
    if len(year) == 2:
        full += 100 * ((this_year + 1) // 100)
        full -= 100 if full > this_year + 1 else 0
    try:
        return (Meaning(date(full, int(month), int(day)), order, passed_over),)
    except ValueError:
        return ()
