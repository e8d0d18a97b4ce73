"""What the reader makes of a made year's sheets: readings that really came up on such pages, and what settling adds.

Each field is given a reading of a field of its kind that says the same (``year_readings.csv``). What settling works out
from more than one field or sheet is worked out here by the same functions: the rules between a sheet's fields, and the
window that the unit's other readings leave for its hour meter.
"""

from __future__ import annotations

import datetime as dt
import random
from bisect import bisect
from collections import defaultdict
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from itertools import accumulate
from typing import NamedTuple

from scanform.binder import Binder
from scanform.form import FieldKind, Layout, date_of, parted
from scanform.settle import Known, MeterReading, hours_window
from scanform.settle.hours import MOST_HOURS_A_DAY
from scanform.training.year_pages import hours_kind, kind_of_field, stored
from scanform.training.year_readings import ReadAs, readings
from scanform.training.year_rules import broken_rules

__all__ = ["AsRead", "MeterBooks", "Stored", "read_sheet_of"]

_SHARE_BY_HAND = 0.1  # of the sheets, whose unit and date are not printed by a pad
# Read alike whatever their value; a misread digit is carried over to what the field says.
_NUMBERS = frozenset(("unit", "date", "unit of a pad", "date of a pad", "workshop.date", "operator"))
_HOURS = frozenset(("hours", "hours alone", "hours of a week"))

Stored = str | bool | None


class AsRead(NamedTuple):
    """What was read of a field, and whether it is doubtful."""

    value: Stored
    doubtful: bool


class MeterBooks:
    """The accepted readings of each unit's meter: those on record before a batch, and those that it adds."""

    def __init__(self, binder: Binder, units: Sequence[str]) -> None:
        self._of: dict[str, list[MeterReading]] = defaultdict(list)
        for unit in units:
            self._of[unit] += binder.meter_readings(unit)

    def known(self, unit: str | None) -> Known:
        """What they say of one unit."""
        return Known(readings=tuple(self._of[unit]) if unit is not None else ())

    def note(self, unit: str, on: dt.date, hours: str) -> None:
        """Add an accepted reading."""
        self._of[unit].append(MeterReading(unit, on, Decimal(hours)))


def read_sheet_of(
    layout: Layout,
    truth: Mapping[str, Stored],
    units: Sequence[str],
    meters: MeterBooks,
    today: dt.date,
    chance: random.Random,
) -> dict[str, AsRead]:
    """What is read on a sheet that says ``truth``, by field id; its accepted hours go into ``meters``."""
    weekly = layout.template.covers == "week"
    pad = " of a pad" if chance.random() >= _SHARE_BY_HAND else ""
    read = {}
    for spec in layout.fields:
        kind = kind_of_field(spec.id, weekly) + (pad if spec.id in ("unit", "date") else "")
        if kind != "hours":
            true = truth.get(spec.id, False if spec.kind is FieldKind.SIGNATURE else None)
            read[spec.id] = _not_to_come(kind, _read(kind, true, chance, units), today)
    unit, date = (said.value if not said.doubtful and said.value else None for said in (read["unit"], read["date"]))
    on = dt.date.fromisoformat(str(date)) if date else None
    for spec in layout.fields:
        if parted(spec.id)[0] == "hours":
            true = truth.get(spec.id)
            day = date_of(on, parted(spec.id)[1]) if on is not None else None
            read[spec.id] = _read_hours(true, str(unit) if unit else None, day, weekly, meters, chance)
    broken = broken_rules(
        layout, {field_id: said.value for field_id, said in read.items()}, on if weekly else None, today
    )
    return read | {field_id: read[field_id]._replace(doubtful=True) for field_id in broken}


def _not_to_come(kind: str, said: AsRead, today: dt.date) -> AsRead:
    """A date that is still to come is doubtful, whatever the ink says."""
    later = "date" in kind and isinstance(said.value, str) and said.value > today.isoformat()
    return said._replace(doubtful=True) if later else said


def _read_hours(
    true: Stored, unit: str | None, on: dt.date | None, weekly: bool, meters: MeterBooks, chance: random.Random
) -> AsRead:
    """A reading that the unit's other ones rule out is doubtful, whatever the ink says."""
    window = hours_window(meters.known(unit), unit, on)
    said = _read(hours_kind(weekly, unit is not None and on is not None, window is not None), true, chance, ())
    if said.value and window is not None and window.complaint(Decimal(str(said.value))) is not None:
        return said._replace(doubtful=True)
    if said.value and not said.doubtful and unit is not None and on is not None:
        meters.note(unit, on, str(said.value))
    return said


@lru_cache(maxsize=512)
def _ways(kind: str, truth: str) -> tuple[tuple[ReadAs, ...], tuple[int, ...]]:
    """How fields of a kind were read that said this; of numbers, how all of their kind were that said anything."""
    rows = readings().get(kind, ())
    same = tuple(row for row in rows if row.truth == truth)
    if kind in _NUMBERS | _HOURS or (not same and kind == "defect.item"):
        same = tuple(row for row in rows if bool(row.truth) == bool(truth))
    return same, tuple(accumulate(row.count for row in same))


def _read(kind: str, true: Stored, chance: random.Random, units: Sequence[str]) -> AsRead:
    rows, counts = _ways(kind, stored(true))
    if not rows:
        return AsRead(true, bool(true) and kind == "defect")
    row = rows[bisect(counts, chance.randrange(counts[-1]))]
    if row.read == row.truth:
        return AsRead(true, row.doubtful)
    if isinstance(true, bool):
        return AsRead(row.read == "true", row.doubtful)
    return AsRead(_misread(kind, true, row, chance, units), row.doubtful)


def _misread(kind: str, true: str | None, row: ReadAs, chance: random.Random, units: Sequence[str]) -> Stored:
    """What was read wrong on a page carried over to a field that says something else."""
    if not row.read:
        return None
    if true and kind.startswith("unit"):
        return chance.choice(units)
    if true and ("date" in kind):
        return _days_off(true, row)
    if true and kind in _HOURS:
        return _hours_off(true, row)
    if true and kind in ("defect.item", "defect.day"):
        return _digits_changed(true, row.truth, row.read)
    if true and kind in ("operator", "told"):
        return true
    return row.read.upper() if true and true.isupper() else row.read


def _days_off(true: str, row: ReadAs) -> str | None:
    try:
        days = dt.date.fromisoformat(row.read) - dt.date.fromisoformat(row.truth)
    except ValueError:
        return None  # the digits make no day
    return (dt.date.fromisoformat(true) + days).isoformat()


def _hours_off(true: str, row: ReadAs) -> str:
    """A reading near the truth is as far from it here: the reader took it for one that the meter may show."""
    try:
        off = Decimal(row.read) - Decimal(row.truth)
    except InvalidOperation:
        return true
    if abs(off) <= MOST_HOURS_A_DAY:
        return f"{max(Decimal(true) + off, Decimal(0)):.1f}"
    return _digits_changed(true, row.truth, row.read)


def _digits_changed(true: str, truth: str, read: str) -> str:
    """The same digits misread, counted from the end; a number of other length has the first ones changed."""
    wide = max(len(true), len(truth), len(read))
    changed = [
        new if old != new else kept
        for kept, old, new in zip(true.rjust(wide), truth.rjust(wide), read.rjust(wide), strict=True)
    ]
    text = "".join(changed).replace(" ", "")
    try:
        return str(int(text)) if "." not in true else f"{Decimal(text):.1f}"
    except (ValueError, ArithmeticError):
        return true
