"""The lists that are drawn up from the whole record, as tables: the register, gaps, meters, service, closings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import pandas as pd

from scanform.binder import Binder
from scanform.report.coverage import coverage, last_day
from scanform.report.frames import rows
from scanform.report.meter import meter_readings
from scanform.report.register import defect_register
from scanform.report.register_table import REGISTER_COLUMNS, register_table
from scanform.report.service import service_due
from scanform.report.sheet_days import counted_sheets

__all__ = ["LIST_COLUMNS", "lists"]

LIST_COLUMNS: Mapping[str, Mapping[str, str]] = {
    "register": REGISTER_COLUMNS,
    "gaps": {
        "unit": "text",
        "day": "date",
        "basis": "text",
        "ran_hours": "number",
        "note": "text",
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
    latest = last_day(binder)
    readings = meter_readings(binder, counted_sheets(binder))
    found: dict[str, list[list[Any]]] = {
        "gaps": _gaps(binder, latest),
        "meters": [_meter(row) for row in rows(readings)],
        "service": [
            [_blank(getattr(due, column)) for column in LIST_COLUMNS["service"]]
            for due in (service_due(binder, latest, readings) if latest else [])
        ],
        "closings": [
            [c.seq, c.ref, c.repair, c.closed_on, c.closed_by, c.paper, c.initials, c.undone_by]
            for c in binder.closings()
        ],
    }
    made = {name: pd.DataFrame(body, columns=list(LIST_COLUMNS[name]), dtype=object) for name, body in found.items()}
    return {"register": register_table(defect_register(binder))} | made


def _blank(value: Any) -> Any:
    return None if value == "" else value


def _gaps(binder: Binder, latest: dt.date | None) -> list[list[Any]]:
    dates = binder.sheet_columns()["date"].dropna()
    if latest is None or not len(dates):
        return []
    found = coverage(binder, dt.date.fromisoformat(dates.min()), latest)
    return [[day.unit, day.day, day.basis or None, day.ran_hours, day.note or None] for day in found.missing]


def _meter(row: Any) -> list[Any]:
    sheet = int(row.sheet) if row.sheet is not None and row.sheet == row.sheet else None
    date = dt.date.fromisoformat(row.date)
    return [row.unit, date, row.hours, row.state, sheet, int(row.meter), bool(row.believed), row.why or None]
