"""Whether what a person typed is likely, by the same rules that doubt the machine's readings.

What comes out is a question and never a refusal: the person sees the paper.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from scanform.binder.binder import Binder
from scanform.binder.types import RecordedPage
from scanform.form import date_of, pad_of, parted
from scanform.settle import Known, State, hours_window

__all__ = ["FILED_UNDER", "unlikely"]

FILED_UNDER = ("unit", "date")
# A pad lasts a week or two, and sheets of a neighbouring week turn up in it; a wrong month or year lies beyond.
_NEAR_THE_PAD = dt.timedelta(days=31)


def unlikely(binder: Binder, page: RecordedPage, field_id: str, value: str | bool | None) -> str | None:
    """Why a value, as it would be kept, is unlikely for that field of that page; None if nothing speaks against it."""
    stem, day = parted(field_id)
    last = stem.rpartition(".")[2]
    if value is None:
        return _blank(stem) if day is None else None
    if stem == "unit":
        return _unit(binder, str(value))
    if last == "date":
        return _date(binder, page, stem, dt.date.fromisoformat(str(value)))
    if last == "hours":
        return _hours(binder, page, day, Decimal(str(value)))
    if stem == "fit" and value == "fit":
        return _fit(page)
    return None


def _blank(stem: str) -> str | None:
    if stem in FILED_UNDER:
        return f"Without a {stem} nobody finds this sheet again."
    return "Without hours this sheet is missing from the hours log." if stem == "hours" else None


def _unit(binder: Binder, unit: str) -> str | None:
    listed = {u.unit for u in binder.units()}
    return f"Unit {unit} is not in the register." if listed and unit not in listed else None


def _date(binder: Binder, page: RecordedPage, stem: str, day: dt.date) -> str | None:
    today = dt.date.today()
    if day > today:
        return f"{day} lies in the future; today is {today}."
    pad = pad_of(page.record.serial) if page.record.serial else None
    days = binder.days_of_pad(pad[0]) if pad and stem == "date" else ()
    others = [d for d in days if d != day]
    if others and not min(others) - _NEAR_THE_PAD <= day <= max(others) + _NEAR_THE_PAD:
        return f"{day} is far from the other sheets of this pad, {min(others)} to {max(others)}."
    return None


def _hours(binder: Binder, page: RecordedPage, day: str | None, hours: Decimal) -> str | None:
    unit, monday = page.record.field("unit"), page.record.field("date")
    doubtful = [f for f in (unit, monday) if f is not None and f.state is State.DOUBTFUL]
    if doubtful or page.record.unit is None or page.record.date is None:
        return None  # a doubtful unit must not judge the hours
    known = Known(readings=binder.readings_beside(page.record.unit, page.number))
    window = hours_window(known, page.record.unit, date_of(page.record.date, day))
    complaint = window.complaint(hours) if window is not None else None
    return f"{complaint}." if complaint else None


def _fit(page: RecordedPage) -> str | None:
    bad = [f for f in page.record.fields if f.critical and f.value == "defect"]
    if not bad:
        return None
    return "This sheet reports a defect on a safety-critical item."
