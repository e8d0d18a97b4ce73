"""On which days a unit was used, by its sheets, with a safety-critical defect open, and on which it may have been."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Container, Mapping, Sequence
from operator import attrgetter
from typing import NamedTuple

import pandas as pd

from scanform.binder import Binder
from scanform.report.frames import rows
from scanform.report.sheet_days import sheet_days

__all__ = ["DayInUse", "OpenFor", "days_in_use", "used_with"]

_A_DAY = dt.timedelta(days=1)
_date_of = attrgetter("date")


class DayInUse(NamedTuple):
    """A day with a sheet that does not surely say parked. ``said_fit``: it says outright that the machine is fit to
    use, or may say so; ``sure``: neither its unit, its date nor what it says of that is doubtful, nor whether it was
    filled in on this day.
    """

    date: dt.date
    sheet: int
    said_fit: bool
    sure: bool


class OpenFor(NamedTuple):
    """How long a defect was open. ``first``: the day of the first report; ``closed``: of the closing, if any.

    ``sure_from``: the day of the first report that nobody doubts, None if all are in doubt; ``sure_until``: the first
    day on which it may have been closed, by what the workshop wrote and nobody has confirmed. ``sheets``: those of its
    reports.
    """

    first: dt.date | None
    closed: dt.date | None
    sure_from: dt.date | None
    sure_until: dt.date | None
    sheets: Container[int]


def days_in_use(binder: Binder, sheets: pd.DataFrame, units: set[str | None]) -> Mapping[str, Sequence[DayInUse]]:
    """Days with a sheet that does not surely say parked, in order, of the units named."""
    found: dict[str, list[DayInUse]] = defaultdict(list)
    some = sheets[sheets["unit"].isin(units)]
    if some.empty:
        return found
    days = sheet_days(binder, some)
    for row in rows(days[days["filled"] & ((days["fit"] != "parked") | days["fit_unsure"])]):
        answered = row.fit in ("fit", "parked")  # a day of which the sheet says neither was one of use
        sure = row.sure and not row.unsure and not (answered and row.fit_unsure)
        found[row.unit].append(DayInUse(dt.date.fromisoformat(row.date), row.sheet, answered, sure))
    return found


def used_with(defect: OpenFor, days: Sequence[DayInUse]) -> tuple[tuple[dt.date, ...], tuple[dt.date, ...]]:
    """The days that are sure, and those on which it may have been used with it: they rest on something doubtful.

    Days count after that of the first report, and that day itself if the sheet says fit to use in spite of it.
    """
    if defect.first is None:
        return (), ()
    end = defect.closed or dt.date.max
    begin, next_day = (bisect_left(days, day, key=_date_of) for day in (defect.first, defect.first + _A_DAY))
    found = [d for d in days[begin:next_day] if d.sheet in defect.sheets and d.said_fit and d.date < end]
    found += days[next_day : bisect_left(days, end, key=_date_of)]
    sure = dict.fromkeys(day.date for day in found if _is_sure(defect, day))
    return tuple(sure), tuple(dict.fromkeys(day.date for day in found if day.date not in sure))


def _is_sure(defect: OpenFor, day: DayInUse) -> bool:
    if defect.sure_from is None or not day.sure or (defect.sure_until is not None and day.date >= defect.sure_until):
        return False
    return day.date > defect.sure_from or (day.date == defect.sure_from and day.sheet in defect.sheets)
