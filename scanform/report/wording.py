"""Values and states in words, the same in every list and picture."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scanform.report.register import Defect

__all__ = [
    "counted",
    "dates_in_words",
    "days_in_short",
    "doubt_in_short",
    "doubtful_head",
    "place_in_words",
    "repair_in_words",
    "state_in_words",
    "use_in_words",
    "value_in_words",
]

_MOST_DAYS_NAMED = 5
_REPAIRS = {"repaired": "repaired", "not-needed": "repair not needed"}


def value_in_words(value: str | bool | None) -> str:
    """A field's value for a person: ``-`` for nothing written, signed or unsigned for a signature."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "signed" if value else "unsigned"
    return value


def counted(number: int, noun: str) -> str:
    """A count with its noun: ``1 sheet``, ``1,204 sheets``."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def doubtful_head(unsure: str, sheet: int) -> str:
    """That what a sheet is filed under is doubtful; ``unsure``: unit, date, or "unit and date"."""
    return f"the {unsure} of sheet {sheet} {'are' if ' and ' in unsure else 'is'} doubtful"


def place_in_words(source: str, page: int, part: int = 1, parts: int = 1) -> str:
    """Where a sheet lies: file and page, and which sheet of the picture if there are several."""
    place = f"{Path(source).name}, page {page}"
    return place if parts == 1 else f"{place}, sheet {part} of {parts} in the picture"


def repair_in_words(repair: str) -> str:
    """What the workshop did, as the sheet prints it."""
    return _REPAIRS[repair]


def state_in_words(defect: Defect) -> str:
    """A defect's state, with who closed it and when, whether it came back, what it waits for, and what is doubtful."""
    if defect.closed is None:
        said = "open"
    else:
        who = f" by {defect.closed.by}" if defect.closed.initials else ""
        said = f"{repair_in_words(defect.closed.repair)} {defect.closed.on}{who}; {defect.closed.where}"
    if defect.times:
        said += f"; came back, closed {counted(defect.times, 'time')} before"
    waits = [f"{'NOT SETTLED' if defect.sure else 'NO FACT YET'}: {wait}" for wait in defect.waits]
    doubts = [f"DOUBTFUL: {doubt}" for doubt in defect.doubts if doubt not in defect.waits]
    return "; ".join((said, *waits, *doubts))


def doubt_in_short(defect: Defect) -> str:
    """How far a defect can be relied on: no fact yet, not settled, doubtful, or "" if nothing of it is in doubt."""
    if not defect.sure:
        return "no fact yet"
    return "not settled" if defect.waits else "doubtful" if defect.doubts else ""


def use_in_words(defect: Defect) -> str:
    """On which days the unit was used with an open safety defect, or may have been; "" if on none."""
    if defect.used_on:
        return f"USED WITH IT OPEN on {days_in_short(defect.used_on)}"
    if defect.perhaps_used_on:
        return f"PERHAPS USED WITH IT OPEN, no fact yet, on {days_in_short(defect.perhaps_used_on)}"
    return ""


def dates_in_words(dates: Sequence[dt.date]) -> str:
    """Days in order, stretches of neighbouring ones as a range: ``2026-11-17, 2026-11-19 to 2026-11-21``."""
    runs: list[list[dt.date]] = []
    for day in sorted(set(dates)):
        if runs and (day - runs[-1][-1]).days == 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def days_in_short(dates: Sequence[dt.date]) -> str:
    """The days, or how many of them and between which, where they are too many for a line."""
    if len(dates) <= _MOST_DAYS_NAMED:
        return dates_in_words(dates)
    return f"{counted(len(dates), 'day')} from {min(dates)} to {max(dates)}"
