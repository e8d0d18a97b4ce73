"""Which sheets to print: copies, days of a week, serials; and what is already known of each."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

from scanform.errors import UsageError
from scanform.form import SheetCode, Template, serial_number, unit_characters

__all__ = ["Sheet", "StillOpen", "can_be_printed", "pad_sheets", "parse_day", "parse_week"]

_MOST_CHARACTERS = 16  # of a unit number, hyphens and spaces included


@dataclass(frozen=True)
class StillOpen:
    """A defect that earlier sheets of the unit left open, as the next sheets show it."""

    words: str
    item_number: int | None = None
    since: date | None = None


@dataclass(frozen=True)
class Sheet:
    """One sheet to print: its code, and the unit's open defects (None: no list was given)."""

    code: SheetCode
    still_open: tuple[StillOpen, ...] | None = None


def parse_day(text: str) -> date:
    """An ISO 8601 calendar date; a week is none, although Python takes its Monday for it."""
    try:
        if not re.fullmatch(r"\d{4}-?\d{2}-?\d{2}", text):
            raise ValueError
        return date.fromisoformat(text)
    except ValueError as problem:
        raise UsageError(
            f"--date {text}: this is no date; write it as year-month-day, such as 2026-11-25; a week goes by --week."
        ) from problem


def parse_week(text: str) -> tuple[date, ...]:
    """The seven days, Monday first, of an ISO 8601 week such as 2026-W48."""
    match = re.fullmatch(r"(\d{4})-?W(\d{2})", text.strip().upper())
    if not match:
        raise UsageError(f"--week {text}: this is no week; write year and ISO week number, such as 2026-W48.")
    year, week = int(match[1]), int(match[2])
    try:
        return tuple(date.fromisocalendar(year, week, day) for day in range(1, 8))
    except ValueError as problem:
        raise UsageError(f"--week {text}: the year {year} has no week {week} (ISO 8601).") from problem


def pad_sheets(
    template: Template,
    paper: str,
    pad_id: str,
    *,
    unit: str | None,
    days: tuple[date, ...],
    copies: int,
    still_open: tuple[StillOpen, ...] | None = None,
) -> list[Sheet]:
    """The sheets of one pad, in the order they are printed: day by day, each ``copies`` times.

    ``days``: the days that the pad is for, none for a blank one. A template that covers a week takes a whole week or
    its Monday, and has one sheet for it. Raises UsageError if the unit number cannot stand in the template's comb or in
    the code, or if a week's sheet is asked for from another day on.
    """
    if copies < 1:
        raise UsageError(f"--copies {copies}: print one copy or more.")
    if unit is not None:
        _check_unit(unit, template)
    if template.covers == "week":
        days = _mondays(days)
    each: list[date | None] = [day for day in (days or (None,)) for _ in range(copies)]
    if len(each) > 999:
        raise UsageError(f"--copies {copies}: a pad has at most 999 sheets; print several pads.")
    return [
        Sheet(
            SheetCode(
                template.name,
                template.version,
                paper[0].upper(),
                unit,
                day,
                serial_number(pad_id, place, len(each)),
            ),
            still_open,
        )
        for place, day in enumerate(each, start=1)
    ]


def _mondays(days: tuple[date, ...]) -> tuple[date, ...]:
    """The Mondays of the weeks that the days make up, in order."""
    mondays = tuple(dict.fromkeys(day - timedelta(days=day.weekday()) for day in days))
    for monday in mondays:
        if monday not in days:
            asked = next(day for day in days if day >= monday)
            raise UsageError(
                f"--date {asked.isoformat()}: a week's sheet begins on a Monday; give --date {monday.isoformat()} or "
                f"--week {monday.strftime('%G-W%V')}."
            )
    return mondays


def can_be_printed(unit: str) -> bool:
    """Whether a unit's number can stand in a sheet's code; how many cells a template has for it is another matter."""
    signs = re.fullmatch(r"[0-9A-Za-z](?:[0-9A-Za-z ./-]*[0-9A-Za-z])?", unit)
    return signs is not None and len(unit) <= _MOST_CHARACTERS


def _check_unit(unit: str, template: Template) -> None:
    if len(unit) > _MOST_CHARACTERS:
        raise UsageError(f"--unit {unit}: it has {len(unit)} characters; a sheet's code takes {_MOST_CHARACTERS}.")
    if not can_be_printed(unit):
        raise UsageError(
            f"--unit {unit}: a unit number has letters and digits, with spaces, dots, slashes or hyphens between."
        )
    if len(unit_characters(unit)) > template.unit_cells:
        raise UsageError(
            f"--unit {unit}: it has {len(unit_characters(unit))} letters and digits and template '{template.name}' has "
            f"{template.unit_cells} cells; raise unit_cells in the template."
        )
