"""What is known while a batch runs: the binder's knowledge, and what this batch has added to it so far."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from scanform.binder import Binder, PageRecord
from scanform.form import date_of, pad_of, parted
from scanform.settle import Known, MeterReading, Outcome, SettledField, State
from scanform.settle.old import written_order

__all__ = ["MeterBook", "learn", "with_pad"]

_FEWEST_OF_PAD = 5  # sheets of the same pad that say more about a date than the rest of the batch


class MeterBook:
    """The meter readings of the units that a batch comes to.

    A unit's are fetched when its first sheet is settled: a record of many years holds far more than a stack needs.
    """

    def __init__(self, binder: Binder) -> None:
        self._binder = binder
        self._of: dict[str, list[MeterReading]] = {}

    def of(self, unit: str) -> tuple[MeterReading, ...]:
        """The readings of a unit that nobody doubts, those of this batch included."""
        if unit not in self._of:
            self._of[unit] = list(self._binder.meter_readings(unit))
        return tuple(self._of[unit])

    def note(self, record: PageRecord) -> None:
        """Add what a page just recorded says, as far as it was accepted."""
        for reading in _readings(record):
            if reading.unit in self._of:
                self._of[reading.unit].append(reading)


def learn(known: Known, record: PageRecord) -> Known:
    """``known`` with the date of a page just recorded, if it was accepted, and the order that it is written in."""
    if record.outcome is not Outcome.READ:
        return known
    field = record.field("date")
    day = _sure(field)
    on = date.fromisoformat(day) if day is not None else None
    known = replace(known, filed=(*known.filed, on), place=known.place + 1)
    if field is None or on is None:
        return known
    order = written_order(field)
    return replace(
        known,
        days=(*known.days, on),
        day_first=known.day_first + (order == "dmy"),
        month_first=known.month_first + (order == "mdy"),
    )


def with_pad(known: Known, serial: str | None, binder: Binder) -> Known:
    """``known`` for one sheet: by the dates of its own pad where enough of it has been read, else the batch's."""
    pad = pad_of(serial) if serial else None
    days = binder.days_of_pad(pad[0]) if pad is not None else ()
    return replace(known, days=days) if len(days) >= _FEWEST_OF_PAD else known


def _readings(record: PageRecord) -> list[MeterReading]:
    unit, first = (_sure(record.field(name)) for name in ("unit", "date"))
    if unit is None or first is None:
        return []
    readings = []
    for field in record.fields:
        stem, day = parted(field.id)
        hours = _sure(field)
        on = date_of(date.fromisoformat(first), day)
        if stem == "hours" and hours is not None and on is not None:
            readings.append(MeterReading(unit, on, Decimal(hours)))
    return readings


def _sure(field: SettledField | None) -> str | None:
    return str(field.value) if field is not None and field.state is not State.DOUBTFUL and field.value else None
