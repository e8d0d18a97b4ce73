"""The stretch of days that a list is about, as people name it: two dates, or an ISO week."""

from __future__ import annotations

import datetime as dt

from scanform.binder import Binder
from scanform.errors import UsageError
from scanform.report.coverage import last_day

__all__ = ["days_asked", "week_of"]

_WEEKS = 4


def week_of(day: dt.date) -> tuple[dt.date, dt.date]:
    """Monday and Sunday of the day's week (ISO 8601)."""
    monday = day - dt.timedelta(days=day.weekday())
    return monday, monday + dt.timedelta(days=6)


def days_asked(binder: Binder, since: dt.date | None, until: dt.date | None) -> tuple[dt.date, dt.date]:
    """First and last day. What is left out is filled in: the end is the Sunday after the last sheet on record, or today
    if that comes first; the beginning is the Monday four weeks before the end.

    UsageError if no sheet is on record, or if the end comes before the beginning.
    """
    if until is None:
        latest = last_day(binder)
        if latest is None:
            raise UsageError("No sheet with a date is on record yet; read some, or give both dates.")
        until = max(latest, min(week_of(latest)[1], dt.date.today()))
    if since is None:
        since = week_of(until)[0] - dt.timedelta(weeks=_WEEKS - 1)
    if until < since:
        raise UsageError(f"{until} comes before {since}; give the earlier day first.")
    return since, until
