"""What is known while a batch runs: the binder's knowledge, and what this batch has added to it so far."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from scanform.binder import PageRecord
from scanform.settle import Known, MeterReading, State

__all__ = ["learn"]


def learn(known: Known, record: PageRecord) -> Known:
    """``known`` with what a page just recorded adds: its date, and its meter reading, as far as they were accepted."""
    return _with_reading(_with_day(known, record), record)


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
