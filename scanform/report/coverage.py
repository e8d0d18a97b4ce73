"""For each unit and day: a sheet, no sheet, or not in use; and the missing days on which the meter moved.

A day without a sheet counts as not in use if a week's sheet leaves it free, if the office's calendar says so, if the
meter moved no more than the days with sheets around it explain, or if no unit has had a sheet on that day of the week
for weeks and no hours are left for it. What the calendar says goes before what the meter suggests, and a sheet before
both; a meter that moved on a day that the calendar calls free is said. A sheet that came back empty is none; one that
was deleted because its time was over was there.

A unit's days count from its first sheet, or from the day of the register's meter reading if that is earlier; a
registered unit that has neither counts from the first sheet of any unit. Days still to come do not count.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pandas as pd

from scanform.binder import Binder
from scanform.binder.calendar import EVERY_UNIT
from scanform.report.deleted_days import deleted_days, said_as_deleted, with_deleted_days
from scanform.report.frames import rows
from scanform.report.loose_sheets import LooseSheet, Meters, loose_sheets, may_be_of, meters_of
from scanform.report.meter import daily_use, meter_readings
from scanform.report.meter_runs import Run, runs
from scanform.report.not_counted import notes_on
from scanform.report.sheet_days import counted_sheets, sheet_days
from scanform.report.unit_days import NO_SHEET, NOT_IN_USE, SHEET, Coverage, UnitDay
from scanform.report.wording import doubtful_head

__all__ = ["coverage", "last_day", "not_filed"]

_FEWEST_WEEKS = 4  # of sheets before a day of the week without any is taken for the site's day off
_LOOK_AROUND_DAYS = 120  # readings this far before and after a stretch say what its missing days ran


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
    today: dt.date | None = None,
) -> Coverage:
    """Every unit's days from ``since`` to ``until``, both included, or to ``today``; only one unit's if it is named.

    ``sheets``, ``readings``: as from ``counted_sheets`` and ``meter_readings``, if they are at hand. ``today``: this
    machine's date if left out.
    """
    today, asked = today or dt.date.today(), until
    until = min(until, today)
    sheets = every = counted_sheets(binder) if sheets is None else sheets
    if unit is not None:
        sheets = sheets[sheets["unit"] == unit]
    first_known = sheets.dropna(subset=["unit", "date"]).groupby("unit")["date"].min()
    first_day = {str(name): dt.date.fromisoformat(str(day)) for name, day in first_known.items()}
    gone = {of: day for of, day in deleted_days(binder).items() if unit in (None, of[0])}
    for (name, day), deleted in gone.items():
        if deleted.filled:
            first_day[name] = min(day, first_day.get(name, day))
    begins = _begins(binder, unit, first_day, every, since)
    around = dt.timedelta(days=_LOOK_AROUND_DAYS)
    days = sheet_days(binder, sheets, since - around, max(until + around, asked))
    days = with_deleted_days(days, gone)
    if readings is None:
        near = sheets["date"].isna() | sheets["date"].between(str(since - around), str(until + around))
        readings = meter_readings(binder, sheets[near])
    calendar, off = _calendar(binder), _days_off(days)
    found: list[UnitDay] = []
    by_unit: dict[str, pd.DataFrame] = {str(name): part for name, part in days.groupby("unit", sort=False)}
    readings = _near(readings, since - around, until + around, first_day)
    use, sure_use = daily_use(readings), daily_use(readings[readings["sure"]])
    ran, surely_ran = _by_unit(use), _by_unit(sure_use)
    loose, meters = loose_sheets(binder, every), meters_of(readings)
    for name, begin in begins.items():
        mine = by_unit.get(name, days.iloc[:0])
        start, used = max(since, begin), ran.get(name, use.iloc[:0])
        of_unit = _of_unit(name, start, until, mine, used, calendar, off)
        if not use.equals(sure_use):
            surely = _of_unit(name, start, until, mine, surely_ran.get(name, use.iloc[:0]), calendar, off)
            doubt = "it rests on a doubtful reading of the hour meter"
            of_unit = [_held_against(day, sure, doubt) for day, sure in zip(of_unit, surely, strict=True)]
        if not mine["sure"].all():
            others = _of_unit(name, start, until, mine.assign(sure=True), used, calendar, off)
            doubt = "it rests on whether a sheet around it was filled in"
            of_unit = [_held_against(day, other, doubt) for day, other in zip(of_unit, others, strict=True)]
        of_unit = [_may_be_filled(day, loose, meters.get(name, ())) for day in of_unit]
        of_unit = [said_as_deleted(day, gone) for day in of_unit]
        found += [_not_over(day) if day.day == today else day for day in of_unit]
    notes = notes_on(since, asked, today, begins, first_day, days)
    return Coverage(since, until, tuple(found), begins, notes)


def _begins(
    binder: Binder, unit: str | None, first_day: Mapping[str, dt.date], every: pd.DataFrame, since: dt.date
) -> dict[str, dt.date]:
    """Each unit's first day that counts, by unit."""
    registered = {u.unit: u.hours_on if u.hours is not None else None for u in binder.units()}
    dates = every["date"].dropna()
    first_of_all = dt.date.fromisoformat(dates.min()) if len(dates) else since
    begins = {}
    for name in sorted({*first_day, *(u for u in registered if unit in (None, u))}):
        known = [on for on in (first_day.get(name), registered.get(name)) if on is not None]
        begins[name] = min(known, default=first_of_all)
    return begins


def _near(readings: pd.DataFrame, since: dt.date, until: dt.date, first_day: Mapping[str, dt.date]) -> pd.DataFrame:
    """Readings in a stretch of days, and from before it the register's of units whose first sheet came later: nothing
    lies between the two.
    """
    new = {unit for unit, day in first_day.items() if day >= since}
    register = readings["sheet"].isna() & readings["unit"].isin(new) & (readings["date"] < since.isoformat())
    return readings[register | readings["date"].between(str(since), str(until))]


def _by_unit(frame: pd.DataFrame) -> dict[str, pd.DataFrame]:
    return {str(name): part for name, part in frame.groupby("unit", sort=False)}


def _held_against(day: UnitDay, other: UnitDay, doubt: str) -> UnitDay:
    """The day as it stands; it waits where it would stand otherwise if a doubt were settled otherwise."""
    if day.status == other.status or day.waits:
        return day
    return replace(day, waits=doubt)


def _not_over(day: UnitDay) -> UnitDay:
    """Today, of which a sheet may still come."""
    return replace(day, note=f"the day is not over; {day.note}") if day.status == NO_SHEET and not day.basis else day


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
    filled: dict[dt.date, list[tuple[int, str]]] = defaultdict(list)
    perhaps: dict[dt.date, list[tuple[int, str]]] = defaultdict(list)
    empty: dict[dt.date, list[int]] = defaultdict(list)
    free: set[dt.date] = set()
    for row in rows(days):
        day = dt.date.fromisoformat(row.date)
        if row.frees:
            free.add(day)
        if not row.sure:
            perhaps[day].append((row.sheet, row.unsure))
        elif row.filled:
            filled[day].append((row.sheet, row.unsure))
        elif not row.frees:
            empty[day].append(row.sheet)
    excused = free | {day for (of, day), (used, _) in calendar.items() if of in (unit, EVERY_UNIT) and not used}
    excused -= {day for (of, day), (used, _) in calendar.items() if of == unit and used}
    ran = runs(use, set(filled), lambda day: day in excused or day.weekday() in off)
    found = []
    for number in range((until - start).days + 1):
        day = start + dt.timedelta(days=number)
        if day in filled:
            every = filled[day] + perhaps.get(day, [])
            sheets = tuple(sheet for sheet, _ in every)
            unsure = next((said for _, said in every if said), "")
            note = doubtful_head(unsure, next(sheet for sheet, said in every if said)) if unsure else ""
            waits = note if all(said for _, said in filled[day]) else ""
            found.append(UnitDay(unit, day, SHEET, "sheet", sheets, unsure, note=note, waits=waits))
        else:
            said = calendar.get((unit, day), calendar.get((EVERY_UNIT, day)))
            usually = day.weekday() in off
            without = _without_sheet(unit, day, said, day in free, usually, ran.get(day))
            found.append(_with_unfilled(without, [sheet for sheet, _ in perhaps.get(day, ())], empty.get(day, ())))
    return found


def _with_unfilled(day: UnitDay, perhaps: Sequence[int], empty: Sequence[int]) -> UnitDay:
    """A day without a sheet, with what is known of sheets of that day on which nothing stands, or nothing sure."""
    if perhaps:
        doubt = f"whether sheet {perhaps[0]} was filled in on this day rests on doubtful fields alone"
        day = replace(day, waits="; ".join(filter(None, (doubt, day.waits))))
    if empty:
        came = f"sheet {empty[0]} came back empty"
        day = replace(day, note="; ".join(filter(None, (day.note, came))))
    return day


def _without_sheet(
    unit: str, day: dt.date, said: tuple[bool, str] | None, left_free: bool, day_off: bool, run: Run | None
) -> UnitDay:
    # What may be one long day is not held against a day that anything else calls free.
    explained = run is not None and bool(run.waits) and (day_off or left_free or said is not None)
    moved = run is not None and run.more and not explained
    hours = run.extra_hours if run is not None and moved and run.first == day else None
    ran, waits = "", ""
    if run is not None and moved:
        ran = f"ran {run.extra_hours:.1f} h without a sheet" if run.first == day else "part of the days before"
        ran = f"{ran} ({run.words})"
        waits = run.waits
    if said is not None and said[0]:
        return UnitDay(unit, day, NO_SHEET, "calendar", ran_hours=hours, note="; ".join(filter(None, (ran, said[1]))))
    if moved:
        but = "the calendar calls it not in use" if said else "the week's sheet leaves it free" if left_free else ""
        note = "; ".join(filter(None, (ran, but)))
        return UnitDay(unit, day, NO_SHEET, "meter", ran_hours=hours, note=note, waits=waits)
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
    dates = pd.to_datetime(days["date"][(days["filled"] & days["sure"]).astype(bool)].drop_duplicates())
    if dates.dt.strftime("%G-%V").nunique() < _FEWEST_WEEKS:
        return frozenset()
    return frozenset(range(7)) - frozenset(int(day) for day in dates.dt.day_of_week)
