"""What is known while a batch runs: the binder's knowledge, and what this batch has added to it so far."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from scanform.binder import PageRecord
from scanform.form import date_of, parted
from scanform.settle import Known, MeterReading, SettledField, State

__all__ = ["learn"]


def learn(known: Known, record: PageRecord) -> Known:
    """``known`` with the meter readings of a page just recorded, if unit, date and hours were all accepted."""
    unit, first = (_sure(record.field(name)) for name in ("unit", "date"))
    if unit is None or first is None:
        return known
    readings = []
    for field in record.fields:
        stem, day = parted(field.id)
        hours = _sure(field)
        on = date_of(date.fromisoformat(first), day)
        if stem == "hours" and hours is not None and on is not None:
            readings.append(MeterReading(unit, on, Decimal(hours)))
    return replace(known, readings=(*known.readings, *readings)) if readings else known


def _sure(field: SettledField | None) -> str | None:
    return str(field.value) if field is not None and field.state is not State.DOUBTFUL and field.value else None
