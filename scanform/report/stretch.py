"""What a list is about, as people name it: a unit, and a stretch of days as two dates or as an ISO week."""

from __future__ import annotations

import datetime as dt

from scanform.binder import Binder
from scanform.errors import UsageError
from scanform.form import unit_characters
from scanform.report.coverage import last_day

__all__ = ["days_asked", "known_unit", "week_of"]

_WEEKS = 4


def week_of(day: dt.date) -> tuple[dt.date, dt.date]:
    """Monday and Sunday of the day's week (ISO 8601)."""
    monday = day - dt.timedelta(days=day.weekday())
    return monday, monday + dt.timedelta(days=6)


def days_asked(
    binder: Binder, since: dt.date | None, until: dt.date | None, today: dt.date | None = None
) -> tuple[dt.date, dt.date]:
    """First and last day. What is left out is filled in: the end is the Sunday after the last sheet on record, or today
    if that comes first; the beginning is the Monday four weeks before the end. ``today``: this machine's
    date if left out.

    UsageError if no sheet is on record, or if the end comes before the beginning.
    """
    if until is None:
        latest = last_day(binder)
        if latest is None:
            raise UsageError("No sheet with a date is on record yet; read some, or give both dates.")
        until = max(latest, min(week_of(latest)[1], today or dt.date.today()))
    if since is None:
        since = week_of(until)[0] - dt.timedelta(weeks=_WEEKS - 1)
    if until < since:
        raise UsageError(f"{until} comes before {since}; give the earlier day first.")
    return since, until


def known_unit(binder: Binder, typed: str) -> str:
    """The unit's number as the record writes it, whatever hyphens, spaces and capitals were typed.

    UsageError if no sheet and no entry of the register names it: an empty list would look like good news.
    """
    names = {unit.unit for unit in binder.units()} | set(binder.sheet_columns()["unit"].dropna())
    found = sorted(name for name in names if unit_characters(name) == unit_characters(typed))
    if not found:
        raise UsageError(f"Unit {typed}: no sheet and no entry of the register names it; check the number.")
    return found[0]
