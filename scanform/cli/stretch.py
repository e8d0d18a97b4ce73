"""Options for a stretch of days: two dates, or an ISO week."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

import typer

from scanform.binder import Binder
from scanform.binder.values import iso_date_from
from scanform.errors import UsageError
from scanform.press import parse_week
from scanform.report import days_asked

__all__ = ["Since", "Until", "Week", "stretch"]

Since = Annotated[str | None, typer.Option("--since", help="First day, such as 2026-11-02.")]
Until = Annotated[str | None, typer.Option("--until", help="Last day, such as 2026-11-29.")]
Week = Annotated[str | None, typer.Option("--week", help="An ISO week instead of two dates, such as 2026-W48.")]


def stretch(binder: Binder, since: str | None, until: str | None, week: str | None) -> tuple[dt.date, dt.date]:
    """First and last day as typed; what is left out ends with the last sheet on record and goes back four weeks."""
    if week is not None:
        if since or until:
            raise UsageError("--week and --since or --until: give one of the two.")
        days = parse_week(week)
        return days[0], days[-1]
    return days_asked(binder, _day(since, "--since"), _day(until, "--until"))


def _day(text: str | None, name: str) -> dt.date | None:
    return dt.date.fromisoformat(iso_date_from(text, name)) if text else None
