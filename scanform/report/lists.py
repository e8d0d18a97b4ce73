"""The lists that are drawn up from the whole record, as tables: the register, gaps, meters, service, closings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from scanform.binder import Binder
from scanform.report.coverage import coverage, last_day
from scanform.report.frames import rows
from scanform.report.meter import meter_readings
from scanform.report.register import defect_register
from scanform.report.register_table import REGISTER_COLUMNS, register_table
from scanform.report.service import ServiceDue, service_due
from scanform.report.sheet_days import counted_sheets
from scanform.report.unit_days import NO_SHEET, Coverage

__all__ = ["LIST_COLUMNS", "closings_table", "gaps_table", "lists", "meters_table", "service_table"]

LIST_COLUMNS: Mapping[str, Mapping[str, str]] = {
    "register": REGISTER_COLUMNS,
    "gaps": {
        "unit": "text",
        "day": "date",
        "basis": "text",
        "ran_hours": "number",
        "note": "text",
        "waits_for": "text",
    },
    "meters": {
        "unit": "text",
        "date": "date",
        "hours": "number",
        "state": "text",
        "sheet": "number",
        "meter": "number",
        "believed": "flag",
        "why": "text",
        "waits": "flag",
    },
    "service": {
        "unit": "text",
        "kind": "text",
        "hours": "number",
        "read_on": "date",
        "a_day": "number",
        "due_at": "number",
        "step": "number",
        "hours_left": "number",
        "about": "date",
        "earliest": "date",
        "latest": "date",
        "passed": "number",
        "passed_on": "date",
    },
    "closings": {
        "entry": "number",
        "defect": "text",
        "repair": "text",
        "closed_on": "date",
        "closed_by": "text",
        "paper": "text",
        "initials": "text",
        "undone_by": "number",
    },
}


def lists(binder: Binder) -> dict[str, pd.DataFrame]:
    """Each list by name, columns as in :data:`LIST_COLUMNS`; blank cells are None. Gaps are those of all time, up to
    the last sheet; service is as of that day.
    """
    latest, sheets = last_day(binder), counted_sheets(binder)
    readings = meter_readings(binder, sheets)
    return {
        "register": register_table(defect_register(binder, sheets, readings)),
        "gaps": gaps_table(_of_all_time(binder, latest, sheets, readings)),
        "meters": meters_table(readings),
        "service": service_table(service_due(binder, latest, readings) if latest else []),
        "closings": closings_table(binder),
    }


def gaps_table(found: Coverage | None) -> pd.DataFrame:
    """A row a day without a sheet, in the order of the list, those that wait for a doubt last; none for a record
    without sheets.
    """
    waiting = (day for day in found.waiting if day.status == NO_SHEET) if found is not None else ()
    missing = (*found.missing, *waiting) if found is not None else ()
    return _frame(
        "gaps", [[d.unit, d.day, d.basis or None, d.ran_hours, d.note or None, d.waits or None] for d in missing]
    )


def meters_table(readings: pd.DataFrame) -> pd.DataFrame:
    """A row a reading, as from ``meter_readings``."""
    return _frame("meters", [_meter(row) for row in rows(readings)])


def service_table(due: Sequence[ServiceDue]) -> pd.DataFrame:
    """A row a unit."""
    return _frame("service", [[_blank(getattr(one, c)) for c in LIST_COLUMNS["service"]] for one in due])


def closings_table(binder: Binder) -> pd.DataFrame:
    """A row a closing by command or at the desk."""
    return _frame(
        "closings",
        [
            [c.seq, c.ref, c.repair, c.closed_on, c.closed_by, c.paper, c.initials, c.undone_by]
            for c in binder.closings()
        ],
    )


def _frame(name: str, body: list[list[Any]]) -> pd.DataFrame:
    return pd.DataFrame(body, columns=list(LIST_COLUMNS[name]), dtype=object)


def _blank(value: Any) -> Any:
    return None if value == "" else value


def _of_all_time(
    binder: Binder, latest: dt.date | None, sheets: pd.DataFrame, readings: pd.DataFrame
) -> Coverage | None:
    dates = sheets["date"].dropna()
    if latest is None or not len(dates):
        return None
    return coverage(binder, dt.date.fromisoformat(dates.min()), latest, sheets=sheets, readings=readings)


def _meter(row: Any) -> list[Any]:
    sheet = int(row.sheet) if row.sheet is not None and row.sheet == row.sheet else None
    date = dt.date.fromisoformat(row.date)
    return [
        *(row.unit, date, row.hours, row.state, sheet, int(row.meter), bool(row.believed)),
        *(row.why or None, bool(row.waits)),
    ]
