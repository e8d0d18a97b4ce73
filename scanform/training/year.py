"""A year of a quarry's sheets as it was, seeded: machines, days, hour meters, defects from first report to closing.

Nothing is read or recorded here; ``year_record.py`` puts it on record and ``year_check.py`` holds the lists to it.
Faults of meters and days without sheets keep their distance from each other, so that each has one right explanation.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from scanform.form import find_template
from scanform.training.year_defects import Episode, Line, UnitDefects
from scanform.training.year_fleet import fleet, has_two_shifts

__all__ = ["FIRST_DAY", "Year", "YearSheet", "made_year"]

FIRST_DAY = dt.date(2025, 11, 24)  # a Monday; 52 weeks from it end on 2026-11-22
_HOLIDAYS = (31, 32, 214)  # days of the year on which the whole site stands still
_SHIFT_HOURS = (7.0, 10.0)
_APART_DAYS = 8  # between two troubles of a unit
_SHARE_TROUBLED = 0.12  # of the days on which a trouble may begin
_TROUBLES = ("missing", "stood still", "calendar", "fault", "new meter")
_WEIGHTS = (40, 20, 12, 23, 5)
_LONGEST = {"missing": 3, "stood still": 5, "calendar": 5}
_SHARE_WEEK_MISSING = 0.05
_FAULT_HOURS = (70.0, 400.0)  # what a slip of the pen adds or takes: more than two days of the clock


@dataclass
class YearSheet:
    """A sheet as it was filled in. ``on``: its date, a week's Monday. ``hours`` by day of the sheet (0 for a day's).

    ``lines`` name their episodes; ``fit``: fit or parked.
    """

    unit: str
    template: str
    on: dt.date
    hours: dict[int, float]
    lines: list[Line] = field(default_factory=list)
    fit: str = "fit"
    number: int = 0  # in the record, once it is there


@dataclass
class Year:
    """Everything as it was; days are (unit, day). ``sheets`` by date, ``calendar``: (unit or *, day) not in use."""

    units: dict[str, str]
    last: dt.date
    sheets: list[YearSheet] = field(default_factory=list)
    episodes: list[Episode] = field(default_factory=list)
    missing: set[tuple[str, dt.date]] = field(default_factory=set)
    idle: set[tuple[str, dt.date]] = field(default_factory=set)
    calendar: set[tuple[str, dt.date]] = field(default_factory=set)
    faults: set[tuple[str, dt.date]] = field(default_factory=set)
    new_meters: set[tuple[str, dt.date]] = field(default_factory=set)
    by_place: tuple[YearSheet, ...] = ()  # as the reports of its episodes count them

    def weeks(self) -> Iterator[tuple[dt.date, list[YearSheet]]]:
        """Its sheets week by week, each with its Sunday."""
        sunday = FIRST_DAY + dt.timedelta(days=6)
        while sunday <= self.last:
            monday = sunday - dt.timedelta(days=6)
            yield sunday, [sheet for sheet in self.sheets if monday <= sheet.on <= sunday]
            sunday += dt.timedelta(days=7)


def made_year(units: int, weeks: int, seed: int) -> Year:
    """A year, or part of one, of so many units."""
    chance = random.Random(seed)
    year = Year({}, FIRST_DAY + dt.timedelta(days=7 * weeks - 1))
    year.calendar |= {("*", FIRST_DAY + dt.timedelta(days=n)) for n in _HOLIDAYS if n < 7 * weeks}
    for unit, name in fleet(units).items():
        year.units[unit] = name
        template = find_template(name)
        critical = frozenset(item.name for item in template.items if item.critical)
        defects = UnitDefects(unit, [item.name for item in template.items], critical)
        meter = round(chance.uniform(400, 60_000), 1)
        if template.covers == "week":
            _weeks_of(year, unit, meter, weeks, defects, chance)
        else:
            _days_of(year, unit, meter, 7 * weeks, 2 if has_two_shifts(unit) else 1, defects, chance)
        year.episodes += defects.episodes
    year.by_place = tuple(year.sheets)
    year.sheets.sort(key=lambda sheet: sheet.on)
    return year


def _days_of(
    year: Year, unit: str, meter: float, days: int, shifts: int, defects: UnitDefects, chance: random.Random
) -> None:
    """The sheets of a unit that has one a shift."""
    clear_from, stretch, kind = _APART_DAYS, 0, ""
    holidays = [n for n in _HOLIDAYS if n < days]
    replaced = False
    for n in range(days):
        on = FIRST_DAY + dt.timedelta(days=n)
        if n in holidays:
            year.idle.add((unit, on))
            continue
        if not stretch and _may_begin(n, days, clear_from, holidays) and chance.random() < _SHARE_TROUBLED:
            kind = chance.choices(_TROUBLES, _WEIGHTS)[0]
            stretch = chance.randint(1, _LONGEST.get(kind, 1))
            clear_from = n + stretch + _APART_DAYS
        ran = [round(chance.uniform(*_SHIFT_HOURS), 1) for _ in range(shifts)]
        here, stretch = (kind if stretch else ""), max(0, stretch - 1)
        if here == "missing":
            year.missing.add((unit, on))
            meter = round(meter + sum(ran), 1)
            continue
        if here in ("stood still", "calendar"):
            year.idle.add((unit, on))
            year.calendar |= {(unit, on)} if here == "calendar" else set()
            continue
        if here == "new meter" and not replaced:
            meter, replaced = round(chance.uniform(0, 9), 1), True
            year.new_meters.add((unit, on))
        for shift in range(shifts):
            sheet = YearSheet(unit, year.units[unit], on, {0: meter})
            if here == "fault" and shift == 0:
                year.faults.add((unit, on))
                sheet.hours[0] = _slip(meter, chance)
            sheet.lines, sheet.fit = defects.report(on, len(year.sheets), chance)
            year.sheets.append(sheet)
            meter = round(meter + ran[shift], 1)
        defects.end_of_day(on, chance)


def _may_begin(n: int, days: int, clear_from: int, holidays: Sequence[int]) -> bool:
    return clear_from <= n < days - _APART_DAYS and all(abs(n - h) > _APART_DAYS for h in holidays)


def _slip(meter: float, chance: random.Random) -> float:
    """A reading written down wrong: backwards, or ahead of the clock."""
    by = round(chance.uniform(*_FAULT_HOURS), 1)
    return round(meter - by if chance.random() < 0.5 and meter > by else meter + by, 1)


def _weeks_of(year: Year, unit: str, meter: float, weeks: int, defects: UnitDefects, chance: random.Random) -> None:
    """The sheets of a unit that has one a week; Sundays and some other days are left free on it."""
    missed = 0
    for week in range(weeks):
        monday = FIRST_DAY + dt.timedelta(weeks=week)
        days = [n for n in range(6) if n in (0, 5) or chance.random() < 0.9]
        hours = {}
        for n in range(6):
            if n in days and 7 * week + n not in _HOLIDAYS:
                hours[n] = meter
                meter = round(meter + chance.uniform(*_SHIFT_HOURS), 1)
        if 1 < week < weeks - 1 and week - missed > 2 and chance.random() < _SHARE_WEEK_MISSING:
            missed = week
            of_week = {(unit, monday + dt.timedelta(days=n)) for n in range(7)}
            year.missing |= {(u, day) for u, day in of_week if ("*", day) not in year.calendar}
            year.idle |= {(u, day) for u, day in of_week if ("*", day) in year.calendar}
            continue
        sheet = YearSheet(unit, year.units[unit], monday, hours)
        year.idle |= {(unit, monday + dt.timedelta(days=n)) for n in range(7) if n not in hours}
        sheet.lines, sheet.fit = defects.report_week(monday, sorted(hours), len(year.sheets), chance)
        year.sheets.append(sheet)
