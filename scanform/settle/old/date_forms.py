"""The ways people write a date, as an automaton that reads sign by sign, and what a written date may mean.

Numbers in the orders day-month-year, month-day-year and year-month-day (ISO 8601), with ``/``, ``-``, ``.`` or a space
between, years of two or four digits; and English month names and their abbreviations. Common practice; no outside list.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

__all__ = ["DATE_SIGNS", "Meaning", "could_begin", "is_whole", "meanings", "start"]

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
DATE_SIGNS = "0123456789/-., abcdefghijlmnoprstuvy"

_Set = frozenset[tuple[int, int, str]]  # form, part of it, what of the part is written


def _forms() -> list[tuple[tuple[str, ...], ...]]:
    forms: list[tuple[tuple[str, ...], ...]] = []
    year = _SHORT_YEARS + _YEARS
    for sign in _SEPARATORS:
        between = (sign,)
        forms.append((_DAYS, between, _NUMBERS, between, year))
        forms.append((_NUMBERS, between, _DAYS, between, year))
        forms.append((_YEARS, between, _NUMBERS, between, _DAYS))
    names = tuple(_NAMES)
    loose = ("", " ", "-", ".", "/", ". ")
    forms.append((_DAYS, ("", "st", "nd", "rd", "th"), loose, names, ("", " ", "-", ".", "/", ", ", ". "), year))
    forms.append((names, ("", " ", "-", ".", ". "), _DAYS, ("", "st", "nd", "rd", "th"), (" ", "-", ".", ", ", ","), year))
    return forms


_FORMS = _forms()


@lru_cache(maxsize=1)
def start() -> _Set:
    """The automaton's state before anything is written."""
    return _opened((form, 0, "") for form in range(len(_FORMS)))


def _opened(places: Iterable[tuple[int, int, str]]) -> _Set:
    """The places with those added that a part which is complete, or may be left out, leads to."""
    found, waiting = set(), list(places)
    while waiting:
        form, part, text = waiting.pop()
        if (form, part, text) in found:
            continue
        found.add((form, part, text))
        if part < len(_FORMS[form]) and text in _FORMS[form][part]:
            waiting.append((form, part + 1, ""))
    return frozenset(found)


@lru_cache(maxsize=20_000)
def could_begin(state: _Set, sign: str) -> _Set:
    """The state after one more sign; empty if no date goes on so."""
    return _opened(
        (form, part, text + sign)
        for form, part, text in state
        if part < len(_FORMS[form]) and any(word.startswith(text + sign) for word in _FORMS[form][part])
    )


def is_whole(state: _Set) -> bool:
    """Whether what is written so far is a date."""
    return any(part == len(_FORMS[form]) for form, part, _ in state)


@dataclass(frozen=True)
class Meaning:
    """One day that a written date may mean. ``order``: ``dmy``, ``mdy``, ``ymd``; empty where a month is named."""

    day: date
    order: str


_WRITTEN = re.compile(r"(\d+)\s*([/\-. ])\s*(\d+)\s*\2\s*(\d+)")
_NAMED_FIRST = re.compile(r"([a-z]+)\W*(\d+)(?:st|nd|rd|th)?\W+(\d+)")
_NAMED = re.compile(r"(\d+)(?:st|nd|rd|th)?\W*([a-z]+)\W*(\d+)")


def meanings(text: str, this_year: int) -> tuple[Meaning, ...]:
    """All days that a text may mean; a year of two digits is the latest one up to a year ahead of ``this_year``."""
    text = text.strip().lower()
    if named := _NAMED.fullmatch(text):
        return _meaning(named[1], str(_NAMES.get(named[2], 0)), named[3], "", this_year)
    if named := _NAMED_FIRST.fullmatch(text):
        return _meaning(named[2], str(_NAMES.get(named[1], 0)), named[3], "", this_year)
    numbers = _WRITTEN.fullmatch(text)
    if numbers is None:
        return ()
    first, second, third = numbers[1], numbers[3], numbers[4]
    if len(first) == 4:
        return _meaning(third, second, first, "ymd", this_year)
    day_first = _meaning(first, second, third, "dmy", this_year)
    return day_first + _meaning(second, first, third, "mdy", this_year)


def _meaning(day: str, month: str, year: str, order: str, this_year: int) -> tuple[Meaning, ...]:
    full = int(year)
    if len(year) == 2:
        full += 100 * ((this_year + 1) // 100)
        full -= 100 if full > this_year + 1 else 0
    try:
        return (Meaning(date(full, int(month), int(day)), order),)
    except ValueError:
        return ()
