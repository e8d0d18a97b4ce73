"""What a unit's meter says of its days without a sheet: how much it moved there beyond the days that have one.

Of the days with a sheet around a gap the longest usual one explains most: that which nine in ten of the unit's single
days did not exceed, and never the longest of all. One double shift, or one misread meter, would otherwise explain every
missing sheet of months. Where only the longest day on record would explain what was run, it waits for a person.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import pandas as pd

from scanform.report.frames import rows

__all__ = ["Run", "runs"]

# Hours of a usual shift where a unit has no readings of neighbouring days yet (common practice).
_USUAL_SHIFT_H = 8.0
_STOOD_STILL_H = 0.05
# A long day next to a day off is no missing sheet: this much of a usual shift must be left over.
_PART_OF_A_SHIFT = 0.5
_USUALLY_NOT_EXCEEDED = 0.9  # share of single days; more would let two long days of a month explain everything


@dataclass(frozen=True)
class Run:
    """What the meter says of a stretch without sheets: ``extra_hours`` beyond the days with one; ``more``: more than
    these explain; ``first``: the stretch's first day; ``words``: the arithmetic. ``waits``: what has to be looked at
    where only a day as long as the longest on record would explain it; else "".
    """

    extra_hours: float
    more: bool
    first: dt.date
    words: str
    waits: str


def runs(use: pd.DataFrame, filled: set[dt.date], excused: Callable[[dt.date], bool]) -> dict[dt.date, Run]:
    """What the meter says of each day without a sheet that lies between two readings.

    ``use``: one unit's, as from ``daily_use``. ``excused``: days that something else calls free; the meter speaks of
    them only where no other day can have used the hours.
    """
    steps = [
        (dt.date.fromisoformat(row.since), dt.date.fromisoformat(row.until), float(row.hours)) for row in rows(use)
    ]
    usual, long, longest = _single_days(steps, filled)
    found: dict[dt.date, Run] = {}
    for since, until, hours in steps:
        between = [since + dt.timedelta(days=n) for n in range((until - since).days)]
        without = [day for day in between if day not in filled]
        missing = [day for day in without if not excused(day)] or without
        if not missing:
            continue
        with_sheet = len(between) - len(without)
        extra = max(0.0, hours - with_sheet * usual)
        explained, at_most = (_explained(with_sheet, usual, most) for most in (long, longest))
        words = f"{hours:.1f} h from {since} to {until}"
        if with_sheet:
            words += (
                f", {with_sheet} day{'s' if with_sheet > 1 else ''} of it with a sheet; a usual day is {usual:.1f} h"
            )
        more = hours > explained
        waits = ""
        if more and hours <= at_most:
            waits = (
                f"{words}; only a day as long as the longest on record, {longest:.1f} h, would explain that: "
                "look for the sheet, or say in the calendar whether the unit was in use"
            )
        for day in missing:
            found[day] = Run(round(extra, 1), more, missing[0], words, waits)
    return found


def _explained(with_sheet: int, usual: float, most: float) -> float:
    """Hours that so many days with a sheet may have run."""
    if not with_sheet:
        return _STOOD_STILL_H
    return max(with_sheet * most, (with_sheet + _PART_OF_A_SHIFT) * usual)


def _single_days(
    steps: Sequence[tuple[dt.date, dt.date, float]], filled: Iterable[dt.date]
) -> tuple[float, float, float]:
    """What a day usually ran, a long one, and the longest, from neighbouring days that both have a sheet."""
    days = set(filled)
    single = sorted(h for since, until, h in steps if (until - since).days == 1 and {since, until} <= days)
    if not single:
        return _USUAL_SHIFT_H, _USUAL_SHIFT_H, _USUAL_SHIFT_H
    return single[len(single) // 2], single[int(_USUALLY_NOT_EXCEEDED * (len(single) - 1))], single[-1]
