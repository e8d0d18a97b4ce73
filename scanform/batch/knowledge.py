"""What is known while a batch runs: the binder's knowledge, and what this batch has added to it so far."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from scanform.binder import Binder, PageRecord
from scanform.form import pad_of
from scanform.settle import Known, MeterReading, State

__all__ = ["learn", "with_pad"]

_FEWEST_OF_PAD = 5  # sheets of the same pad that say more about a date than the rest of the batch


def learn(known: Known, record: PageRecord) -> Known:
    """``known`` with what a page just recorded adds: its date, and its meter reading, as far as they were accepted."""
    return _with_reading(_with_day(known, record), record)


def with_pad(known: Known, serial: str | None, binder: Binder) -> Known:
    """``known`` for one sheet: by the dates of its own pad where enough of it has been read, else the batch's."""
    pad = pad_of(serial) if serial else None
    days = binder.days_of_pad(pad[0]) if pad is not None else ()
    return replace(known, days=days) if len(days) >= _FEWEST_OF_PAD else known


def _with_day(known: Known, record: PageRecord) -> Known:
    field = record.field("date")
    if field is None or field.state is State.DOUBTFUL or not field.value:
        return known
    return replace(known, days=(*known.days, date.fromisoformat(str(field.value))))


def _with_reading(known: Known, record: PageRecord) -> Known:
    fields = {name: record.field(name) for name in ("unit", "date", "hours")}
    if any(f is None or f.state is State.DOUBTFUL or not f.value for f in fields.values()):
        return known
    unit, day, hours = (str(f.value) for f in fields.values() if f is not None)
    reading = MeterReading(unit, date.fromisoformat(day), Decimal(hours))
    return replace(known, readings=(*known.readings, reading))
