"""For each unit and day: a sheet, no sheet, or not in use; and the missing days on which the meter moved.

A day without a sheet counts as not in use if a week's sheet leaves it free, if the office's calendar says so, if the
meter moved no more than the days with sheets around it explain, or if no unit has had a sheet on that day of the week
for weeks and no hours are left for it. What the calendar says goes before what the meter suggests, and a sheet before
both; a meter that moved on a day that the calendar calls free is said.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from scanform.binder import Binder
from scanform.binder.calendar import EVERY_UNIT
from scanform.report.frames import rows
from scanform.report.loose_sheets import LooseSheet, Meters, loose_sheets, may_be_of, meters_of
from scanform.report.meter import daily_use, meter_readings
from scanform.report.sheet_days import counted_sheets, sheet_days
from scanform.report.wording import doubtful_head

__all__ = ["NOT_IN_USE", "NO_SHEET", "SHEET", "Coverage", "UnitDay", "coverage", "last_day", "not_filed"]

SHEET, NO_SHEET, NOT_IN_USE = "sheet", "no sheet", "not in use"
# Hours of a usual shift where a unit has no readings of neighbouring days yet (common practice).
_USUAL_SHIFT_H = 8.0
_STOOD_STILL_H = 0.05
# A long day next to a day off is no missing sheet: this much of a usual shift must be left over.
_PART_OF_A_SHIFT = 0.5
_FEWEST_WEEKS = 4  # of sheets before a day of the week without any is taken for the site's day off
_LOOK_AROUND_DAYS = 120  # readings this far before and after a stretch say what its missing days ran


@dataclass(frozen=True)
class UnitDay:
    """A unit's day. ``status``: "sheet", "no sheet" or "not in use"; ``basis``: what says so: "sheet", "calendar",
    "meter", "weekday", or "" for a day without a sheet of which nothing else is known.

    ``sheets``: record numbers. ``unsure``: what of unit and date is doubtful on them. ``ran_hours``: of a stretch
    without sheets, about how much the meter moved in it beyond the days with one, given with its first day; else None.
    ``note``: the sentence that goes with it. ``waits``: what a person has to look at before the status is a fact; "" if
    it rests on nothing doubtful.
    """

    unit: str
    day: dt.date
    status: str
    basis: str
    sheets: tuple[int, ...] = ()
    unsure: str = ""
    ran_hours: float | None = None
    note: str = ""
    waits: str = ""

    @property
    def is_sure(self) -> bool:
        """Whether neither the status nor the unit and date of its sheets wait for a person."""
        return not (self.waits or self.unsure)


@dataclass(frozen=True)
class Coverage:
    """All units' days in order, ``since`` to ``until``. A unit's days before its first sheet are not among them."""

    since: dt.date
    until: dt.date
    days: tuple[UnitDay, ...]

    def count(self, status: str, unit: str | None = None) -> int:
        """Days with a status, of one unit or of all."""
        return sum(day.status == status and unit in (None, day.unit) for day in self.days)

    def share(self, unit: str | None = None) -> float | None:
        """Days with a sheet among days that needed one; None if none did."""
        with_sheet = self.count(SHEET, unit)
        needed = with_sheet + self.count(NO_SHEET, unit)
        return with_sheet / needed if needed else None

    def in_words(self, unit: str | None = None) -> str:
        """The share with the counts behind it, and how many of all these days wait for a person."""
        share, with_sheet = self.share(unit), self.count(SHEET, unit)
        idle = self.count(NOT_IN_USE, unit)
        open_days = sum(not day.is_sure for day in self.days if unit in (None, day.unit))
        free = (f", {idle} not in use" if idle else "") + (f", {open_days} not sure yet" if open_days else "")
        if share is None:
            return f"no day that needed a sheet{free}"
        # Rounded down: a gap must not vanish in a rounding.
        percent = int(share * 1000) / 10
        return f"{percent:g} % ({with_sheet} of {with_sheet + self.count(NO_SHEET, unit)} days{free})"

    @property
    def units(self) -> tuple[str, ...]:
        """Every unit, in order."""
        return tuple(dict.fromkeys(day.unit for day in self.days))

    @property
    def missing(self) -> tuple[UnitDay, ...]:
        """Days without a sheet: those on which the meter moved first, most hours before fewer, the rest by unit."""
        found = [day for day in self.days if day.status == NO_SHEET and not day.waits]
        return tuple(sorted(found, key=lambda d: (d.ran_hours is None, -(d.ran_hours or 0.0), d.unit, d.day)))

    @property
    def waiting(self) -> tuple[UnitDay, ...]:
        """Days of which it is no fact yet, by unit, that they have no sheet or that the unit was not in use."""
        return tuple(day for day in self.days if day.waits and day.status != SHEET)


def last_day(binder: Binder) -> dt.date | None:
    """The latest day that any sheet is filed under, one whose date is not doubtful and not yet to come if there is any;
    None if there is no day at all.
    """
    sheets = binder.sheet_columns().dropna(subset=["date"])
    come = sheets[sheets["date"] <= dt.date.today().isoformat()]  # one sheet of next year must not move every list
    sheets = sheets if come.empty else come
    sure = sheets[~sheets["unsure"].str.contains("date")]
    dates = sheets["date"] if sure.empty else sure["date"]
    return dt.date.fromisoformat(dates.max()) if len(dates) else None


def day_sign(day: UnitDay) -> str:
    """One character for a day, the same on the terminal and in pictures."""
    if not day.is_sure:
        return "?"
    if day.status == SHEET:
        return "#"
    if day.status == NO_SHEET:
        return "!" if day.note.startswith(("ran", "part of")) else "X"
    return "."


def not_filed(binder: Binder) -> list[int]:
    """Sheets that were read without a unit or without a date: each may fill a gap once a person has looked at it."""
    sheets = binder.sheet_columns()
    return [int(n) for n in sheets["sheet"][sheets["unit"].isna() | sheets["date"].isna()]]


def coverage(
    binder: Binder,
    since: dt.date,
    until: dt.date,
    unit: str | None = None,
    sheets: pd.DataFrame | None = None,
    readings: pd.DataFrame | None = None,
) -> Coverage:
    """Every unit's days from ``since`` to ``until``, both included; only one unit's if it is named.

    ``sheets``, ``readings``: as from ``counted_sheets`` and ``meter_readings``, if they are at hand.
    """
    sheets = every = counted_sheets(binder) if sheets is None else sheets
    if unit is not None:
        sheets = sheets[sheets["unit"] == unit]
    first_known = sheets.dropna(subset=["unit", "date"]).groupby("unit")["date"].min()
    first_day = {str(name): str(day) for name, day in first_known.items()}
    registered: list[str] = [u.unit for u in binder.units() if unit is None or u.unit == unit]
    around = dt.timedelta(days=_LOOK_AROUND_DAYS)
    days = sheet_days(binder, sheets, since - around, until + around)
    if readings is None:
        near = sheets["date"].isna() | sheets["date"].between(str(since - around), str(until + around))
        readings = meter_readings(binder, sheets[near])
    calendar, off = _calendar(binder), _days_off(days)
    found: list[UnitDay] = []
    by_unit: dict[str, pd.DataFrame] = {str(name): part for name, part in days.groupby("unit", sort=False)}
    readings = readings[readings["date"].between(str(since - around), str(until + around))]
    use, sure_use = daily_use(readings), daily_use(readings[readings["sure"]])
    ran, surely_ran = _by_unit(use), _by_unit(sure_use)
    loose, meters = loose_sheets(binder, every), meters_of(readings)
    for name in sorted({*first_day, *registered}):
        mine = by_unit.get(name, days.iloc[:0])
        start = max(since, dt.date.fromisoformat(first_day.get(name, since.isoformat())))
        of_unit = _of_unit(name, start, until, mine, ran.get(name, use.iloc[:0]), calendar, off)
        if not use.equals(sure_use):
            surely = _of_unit(name, start, until, mine, surely_ran.get(name, use.iloc[:0]), calendar, off)
            of_unit = [_held_against(day, sure) for day, sure in zip(of_unit, surely, strict=True)]
        found += [_may_be_filled(day, loose, meters.get(name, ())) for day in of_unit]
    return Coverage(since, until, tuple(found))


def _by_unit(frame: pd.DataFrame) -> dict[str, pd.DataFrame]:
    return {str(name): part for name, part in frame.groupby("unit", sort=False)}


def _held_against(day: UnitDay, surely: UnitDay) -> UnitDay:
    """The day as all readings show it; it waits where those that nobody doubts alone do not show the same."""
    same = day.status == surely.status
    return day if same else replace(day, waits="it rests on a doubtful reading of the hour meter")


def _may_be_filled(day: UnitDay, loose: Sequence[LooseSheet], meters: Meters) -> UnitDay:
    """A day without a sheet waits for sheets of doubtful unit or date that may be of it."""
    if day.status != NO_SHEET:
        return day
    may = [sheet.says for sheet in loose if may_be_of(sheet, day.unit, day.day, meters)]
    return replace(day, waits="; ".join(filter(None, (day.waits, *may)))) if may else day


def _calendar(binder: Binder) -> dict[tuple[str, dt.date], tuple[bool, str]]:
    return {(day.unit, day.day): (day.in_use, day.note or "") for day in binder.calendar()}


def _of_unit(
    unit: str,
    start: dt.date,
    until: dt.date,
    days: pd.DataFrame,
    use: pd.DataFrame,
    calendar: Mapping[tuple[str, dt.date], tuple[bool, str]],
    off: frozenset[int],
) -> list[UnitDay]:
    filled: dict[dt.date, list[tuple[int, str]]] = {}
    free: set[dt.date] = set()
    for row in rows(days):
        day = dt.date.fromisoformat(row.date)
        if row.filled:
            filled.setdefault(day, []).append((row.sheet, row.unsure))
        else:
            free.add(day)
    excused = free | {day for (of, day), (used, _) in calendar.items() if of in (unit, EVERY_UNIT) and not used}
    excused -= {day for (of, day), (used, _) in calendar.items() if of == unit and used}
    ran = _runs(use, set(filled), lambda day: day in excused or day.weekday() in off)
    found = []
    for number in range((until - start).days + 1):
        day = start + dt.timedelta(days=number)
        if day in filled:
            sheets = tuple(sheet for sheet, _ in filled[day])
            unsure = next((said for _, said in filled[day] if said), "")
            note = doubtful_head(unsure, sheets[0]) if unsure else ""
            waits = note if all(said for _, said in filled[day]) else ""
            found.append(UnitDay(unit, day, SHEET, "sheet", sheets, unsure, note=note, waits=waits))
        else:
            said = calendar.get((unit, day), calendar.get((EVERY_UNIT, day)))
            usually = day.weekday() in off
            found.append(_without_sheet(unit, day, said, day in free, usually, ran.get(day)))
    return found


@dataclass(frozen=True)
class _Run:
    """What the meter says of a stretch without sheets: ``extra_hours`` beyond the days with one; ``more``: more than
    these explain; ``first``: the stretch's first day; ``words``: the arithmetic.
    """

    extra_hours: float
    more: bool
    first: dt.date
    words: str


def _without_sheet(
    unit: str, day: dt.date, said: tuple[bool, str] | None, left_free: bool, day_off: bool, run: _Run | None
) -> UnitDay:
    moved = run is not None and run.more
    hours = run.extra_hours if run is not None and moved and run.first == day else None
    ran = ""
    if run is not None and moved:
        ran = f"ran {run.extra_hours:.1f} h without a sheet" if run.first == day else "part of the days before"
        ran = f"{ran} ({run.words})"
    if said is not None and said[0]:
        return UnitDay(unit, day, NO_SHEET, "calendar", ran_hours=hours, note="; ".join(filter(None, (ran, said[1]))))
    if moved:
        but = "the calendar calls it not in use" if said else "the week's sheet leaves it free" if left_free else ""
        return UnitDay(unit, day, NO_SHEET, "meter", ran_hours=hours, note="; ".join(filter(None, (ran, but))))
    if said is not None:
        return UnitDay(unit, day, NOT_IN_USE, "calendar", note=said[1])
    if left_free:
        return UnitDay(unit, day, NOT_IN_USE, "sheet", note="left free on the week's sheet")
    if run is not None:
        return UnitDay(unit, day, NOT_IN_USE, "meter", note=run.words)
    if day_off:
        return UnitDay(unit, day, NOT_IN_USE, "weekday", note=f"no unit has sheets of a {day:%A} around this day")
    return UnitDay(unit, day, NO_SHEET, "", note="the meter says nothing of this day")


def _days_off(days: pd.DataFrame) -> frozenset[int]:
    """Days of the week (0 is Monday) on which no unit has a sheet, told from some weeks' sheets; else none."""
    dates = pd.to_datetime(days["date"][days["filled"].astype(bool)].drop_duplicates())
    if dates.dt.strftime("%G-%V").nunique() < _FEWEST_WEEKS:
        return frozenset()
    return frozenset(range(7)) - frozenset(int(day) for day in dates.dt.day_of_week)


def _runs(use: pd.DataFrame, filled: set[dt.date], excused: Callable[[dt.date], bool]) -> dict[dt.date, _Run]:
    """What the meter says of each day without a sheet that lies between two readings.

    ``excused``: days that something else calls free; the meter speaks of them only where no other day can have used the
    hours.
    """
    steps = [
        (dt.date.fromisoformat(row.since), dt.date.fromisoformat(row.until), float(row.hours)) for row in rows(use)
    ]
    usual, most = _usual_and_most(steps, filled)
    found: dict[dt.date, _Run] = {}
    for since, until, hours in steps:
        between = [since + dt.timedelta(days=n) for n in range((until - since).days)]
        without = [day for day in between if day not in filled]
        missing = [day for day in without if not excused(day)] or without
        if not missing:
            continue
        with_sheet = len(between) - len(without)
        extra = max(0.0, hours - with_sheet * usual)
        explained = max(with_sheet * most, (with_sheet + _PART_OF_A_SHIFT) * usual) if with_sheet else _STOOD_STILL_H
        words = f"{hours:.1f} h from {since} to {until}"
        if with_sheet:
            words += (
                f", {with_sheet} day{'s' if with_sheet > 1 else ''} of it with a sheet; a usual day is {usual:.1f} h"
            )
        for day in missing:
            found[day] = _Run(round(extra, 1), hours > explained, missing[0], words)
    return found


def _usual_and_most(steps: Sequence[tuple[dt.date, dt.date, float]], filled: Iterable[dt.date]) -> tuple[float, float]:
    """The median and the longest day's run, from neighbouring days that both have a sheet."""
    days = set(filled)
    single = sorted(h for since, until, h in steps if (until - since).days == 1 and {since, until} <= days)
    if not single:
        return _USUAL_SHIFT_H, _USUAL_SHIFT_H
    return single[len(single) // 2], single[-1]
