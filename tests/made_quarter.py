"""A made quarter of a small fleet, on record without any scanning, with the truth about its defects.

Every sheet is as the machine reads a clean page. The truth is kept beside it and never looked at by the code under
test: which reports are of one defect, what closed it and when, which came back; which days lack a sheet; which meter
readings were written down wrong, and where a meter was replaced.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass, field, replace
from functools import lru_cache

from recorded_sheets import BYTES, PLACE

from scanform.binder import Binder, ClosingWish, PageRecord
from scanform.form import Layout, Paper, find_template, lay_out
from scanform.read.types import Alternative
from scanform.settle.types import Outcome, SettledField, State
from scanform.simulate.complaints import COMPLAINTS

MONDAY = dt.date(2026, 6, 1)
ITEMS = {
    "tires": "tire",
    "lights": "light",
    "parking-brake": "parking-brake",
    "horn": "horn",
    "wipers": "wiper",
    "extinguisher": "extinguish",
    "belts": "belt",
}


@dataclass
class TrueDefect:
    """One defect as it was: its reports (day, line on that day's sheet), what closed it, which one it repeats."""

    unit: str
    item: str
    words: str
    days: list[dt.date] = field(default_factory=list)
    refs: list[str] = field(default_factory=list)
    closed_on: dt.date | None = None
    on_paper: bool = False
    recurrence_of: TrueDefect | None = None


@dataclass
class Day:
    """What one sheet says; ``hours`` is what stands on it."""

    unit: str
    on: dt.date
    hours: float
    lines: list[tuple[TrueDefect, str, str | None]] = field(default_factory=list)
    fit: str = "fit"


@dataclass
class Quarter:
    """Everything as it was. Of the days in ``missing`` a sheet was filled in and never came back."""

    sheets: list[Day]
    defects: list[TrueDefect]
    missing: set[tuple[str, dt.date]]
    wrong_hours: set[tuple[str, dt.date]]
    new_meters: set[tuple[str, dt.date]]


@lru_cache(maxsize=1)
def daily() -> Layout:
    return lay_out(find_template("site-machine"), Paper.A4)


def settled(field_id: str, kind: str, value: str | bool | None, critical: bool = False) -> SettledField:
    return SettledField(
        field_id, kind, value, State.ACCEPTED, 0.9995, (), PLACE, (Alternative(value, 0.9995),), critical
    )


def day_fields(day: Day) -> tuple[SettledField, ...]:
    """A clean sheet's fields: all OK but what its lines say."""
    template = daily().template
    numbers = {item.name: str(item.number) for item in template.items}
    values: dict[str, str | bool | None] = {
        "unit": day.unit,
        "date": day.on.isoformat(),
        "hours": f"{day.hours:.1f}",
        "operator": "Abel Thorne",
        "fit": day.fit,
        "signature": True,
        "workshop.signature": False,
    }
    values |= {f"item.{item.name}": "ok" for item in template.items}
    for n, (defect, words, repair) in enumerate(day.lines, start=1):
        values[f"item.{defect.item}"] = "defect"
        if words:
            values |= {f"defect.{n}": words, f"defect.{n}.item": numbers[defect.item]}
        if repair:
            values |= {f"defect.{n}.repair": repair, "workshop.date": day.on.isoformat(), "workshop.signature": True}
    return tuple(settled(f.id, f.kind.value, values.get(f.id), f.critical) for f in daily().fields)


def record_day(binder: Binder, day: Day, page_number: int) -> int:
    """Put a day's sheet on record; returns its number."""
    page = PageRecord(
        source="quarter.pdf",
        source_path="/scans/quarter.pdf",
        page_number=page_number,
        sha256=binder.archive(BYTES, "pdf"),
        outcome=Outcome.READ,
        template="site-machine",
        version=1,
        serial=None,
        unit=day.unit,
        date=day.on,
        fields=day_fields(day),
        ink_signature=bytes(page_number % 256 for _ in range(64)),
    )
    return binder.record_page(page).number


def made_quarter(units: list[str], days: int, seed: int) -> Quarter:
    """Sheets of each unit's working days (Sundays are off) and the defects on them; one defect on an item at a time.

    Five days in a hundred lack their sheet, three sheets in a hundred have two digits of the meter swapped, and every
    second unit gets a new meter in the middle.
    """
    rng = random.Random(seed)
    quarter = Quarter([], [], set(), set(), set())
    sheets, defects = quarter.sheets, quarter.defects
    for place, unit in enumerate(units):
        hours, living = rng.randint(5000, 90_000) / 10, {}
        last_of: dict[str, TrueDefect] = {}
        troubled = 0
        for n in range(days):
            on = MONDAY + dt.timedelta(days=n)
            if on.weekday() == 6:
                continue
            if place % 2 and n == days // 2:
                hours = 2.5
                quarter.new_meters.add((unit, on))
                troubled = n
            sheet = Day(unit, on, round(hours, 1))
            hours += rng.uniform(7, 10)
            # Trouble keeps its distance, so that each has one right explanation.
            if n - troubled > 6 and 6 < n < days - 6 and rng.random() < 0.2:
                troubled = n
                if rng.random() < 0.6:
                    quarter.missing.add((unit, on))
                    continue
                wrong = _swapped(sheet.hours)
                if abs(wrong - sheet.hours) > 60:
                    sheet.hours = wrong
                    quarter.wrong_hours.add((unit, on))
            for item, defect in list(living.items()):
                if rng.random() < 0.7:
                    _report(rng, sheet, defect, last=rng.random() < 0.25)
                    if defect.closed_on:
                        del living[item]
            for item in rng.sample(list(ITEMS), 1):
                if item not in living and rng.random() < 0.15:
                    before = last_of.get(item)
                    again = before is not None and before.closed_on is not None and before.closed_on < on
                    words = before.words if again else rng.choice(_complaints(item))
                    fresh = TrueDefect(unit, item, words, recurrence_of=before if again else None)
                    if before is not None and not again:
                        continue
                    defects.append(fresh)
                    living[item] = last_of[item] = fresh
                    sheet.lines.append((fresh, words, None))
            sheet.lines = sheet.lines[:4]
            for defect, _words, _repair in sheet.lines:
                defect.days.append(on)
            sheets.append(sheet)
    quarter.defects = [defect for defect in defects if defect.days]
    return quarter


def record_quarter(binder: Binder, sheets: list[Day]) -> None:
    """Record the sheets in a shuffled order, as stacks are scanned; notes each report's name in the truth."""
    binder.remember_template(daily().template)
    order = list(range(len(sheets)))
    random.Random(8_000_001).shuffle(order)
    for place in order:
        sheet = sheets[place]
        number = record_day(binder, sheet, place + 1)
        for n, (defect, words, _repair) in enumerate(sheet.lines, start=1):
            defect.refs.append(f"{number}.defect.{n}" if words else f"{number}.item.{defect.item}")


def close_by_command(binder: Binder, defects: list[TrueDefect], seed: int) -> None:
    """The workshop's list closes most of the defects that are still open, two days after its last report."""
    open_ones = [defect for defect in defects if defect.closed_on is None]
    last_of = {(d.unit, d.item): d for d in defects}
    wishes = []
    for defect in random.Random(seed).sample(open_ones, len(open_ones) * 3 // 4):
        if last_of[defect.unit, defect.item] is defect:
            defect.closed_on = defect.days[-1] + dt.timedelta(days=2)
            wishes.append(ClosingWish(defect.refs[0], "repaired", defect.closed_on, "Otis Granger", "work order 12"))
    binder.close_defects(wishes, "OG")


def as_read(sheet_fields: tuple[SettledField, ...], changed: SettledField) -> tuple[SettledField, ...]:
    """The fields with one replaced, as a doubt or a misreading."""
    return tuple(changed if f.id == changed.id else f for f in sheet_fields)


def doubted(field_: SettledField, reason: str = "Cell 2 may be a 3 or an 8.") -> SettledField:
    return replace(field_, state=State.DOUBTFUL, confidence=0.6, reasons=(reason,))


def _report(rng: random.Random, sheet: Day, defect: TrueDefect, last: bool) -> None:
    words = rng.choice([defect.words, defect.words, defect.words.upper(), "same as yesterday", ""])
    repair = "repaired" if last and words else None
    if len(sheet.lines) >= 4:
        return
    sheet.lines.append((defect, words, repair))
    if repair:
        defect.closed_on, defect.on_paper = sheet.on, True


def _swapped(hours: float) -> float:
    """The meter with its hundreds and tens swapped, as a writer in a hurry does."""
    tenths = f"{hours:07.1f}"
    return float(tenths[:2] + tenths[3] + tenths[2] + tenths[4:])


def _complaints(item: str) -> tuple[str, ...]:
    return COMPLAINTS[ITEMS[item]]
