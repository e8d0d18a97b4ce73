"""What is known while a batch runs: the binder's knowledge, and what this batch has added to it so far."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from scanform.binder import PageRecord
from scanform.settle import Known, MeterReading, State

__all__ = ["learn"]


def learn(known: Known, record: PageRecord) -> Known:
    """``known`` with the meter reading of a page just recorded, if unit, date and hours were all accepted."""
    fields = {name: record.field(name) for name in ("unit", "date", "hours")}
    if any(f is None or f.state is State.DOUBTFUL or not f.value for f in fields.values()):
        return known
    unit, day, hours = (str(f.value) for f in fields.values() if f is not None)
    reading = MeterReading(unit, date.fromisoformat(day), Decimal(hours))
    return replace(known, readings=(*known.readings, reading))
