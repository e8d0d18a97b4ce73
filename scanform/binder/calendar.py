"""The office's calendar: on which days a unit was in use, or was not and needs no sheet. It comes in from CSV files."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from sqlalchemy import Engine, delete, insert, select

from scanform.binder import journal
from scanform.binder.archive import file_sha256
from scanform.binder.csvfile import CsvRow, csv_rows
from scanform.binder.schema import calendar
from scanform.binder.store import reading, writing
from scanform.binder.types import CalendarDay, LoadReport
from scanform.binder.values import checked_initials, iso_date_from
from scanform.errors import UsageError

__all__ = ["EVERY_UNIT", "calendar_days", "load_calendar"]

EVERY_UNIT = "*"
_USE = {"yes": True, "true": True, "1": True, "in use": True, "no": False, "false": False, "0": False}
_USE["not in use"] = False
_MOST_DAYS = 3_700  # ten years in one row; more is a slip of the pen

_Rows = dict[tuple[str, str], tuple[bool, str | None]]


def load_calendar(engine: Engine, folder: Path, path: Path, initials: str) -> LoadReport:
    """Take days from a CSV file with ``unit``, ``day`` and perhaps ``until``, ``in_use`` and ``note``.

    A unit of ``*`` stands for every unit. ``until`` makes a row stand for a stretch of days, its last one included;
    ``in_use`` is yes or no, no if left out. A day said before gets what is said now. UsageError names file, line and
    column.
    """
    who, wanted = checked_initials(initials), _rows(path)
    with writing(engine, folder) as connection:
        stored = connection.execute(select(calendar))
        before = {(row.unit, row.day): (row.in_use, row.note) for row in stored}
        changed = {key: said for key, said in wanted.items() if before.get(key) != said}
        if changed:
            rows = [{"unit": u, "day": d, "in_use": used, "note": note} for (u, d), (used, note) in changed.items()]
            for unit, day in changed.keys() & before.keys():
                connection.execute(delete(calendar).where((calendar.c.unit == unit) & (calendar.c.day == day)))
            connection.execute(insert(calendar), rows)
            body = {"source": path.name, "sha256": file_sha256(path), "initials": who, "rows": rows}
            journal.append(connection, "calendar-loaded", body)
    return LoadReport(
        added=tuple(_name(key) for key in wanted if key not in before),
        changed=tuple(_name(key) for key in wanted if key in before and key in changed),
        unchanged=tuple(_name(key) for key in wanted if key not in changed),
    )


def calendar_days(engine: Engine) -> list[CalendarDay]:
    """What is known, by unit and day."""
    with reading(engine) as connection:
        return [
            CalendarDay(row.unit, dt.date.fromisoformat(row.day), row.in_use, row.note)
            for row in connection.execute(select(calendar).order_by(calendar.c.unit, calendar.c.day))
        ]


def _name(key: tuple[str, str]) -> str:
    return f"{key[0]} {key[1]}"


def _rows(path: Path) -> _Rows:
    found: dict[tuple[str, str], tuple[int, bool, str | None]] = {}
    for row in csv_rows(path, "unit", ("day", "until", "in_use", "note")):
        used, note = _used(path, row), row.cells.get("note") or None
        for day in _days(path, row):
            key = (row.cells["unit"].upper(), day.isoformat())
            line, said, _note = found.setdefault(key, (row.line, used, note))
            if said != used:
                before = "in use" if said else "not in use"
                raise UsageError(
                    f"{path}, line {row.line}: {_name(key)} stands in line {line} as {before}; keep one of the two."
                )
    return {key: (used, note) for key, (_line, used, note) in found.items()}


def _days(path: Path, row: CsvRow) -> list[dt.date]:
    where = f"{path}, line {row.line}, column "
    first = dt.date.fromisoformat(iso_date_from(row.cells.get("day", ""), where + "day"))
    until = row.cells.get("until", "")
    last = dt.date.fromisoformat(iso_date_from(until, where + "until")) if until else first
    if not 0 <= (last - first).days < _MOST_DAYS:
        raise UsageError(f"{where}until: {last} does not follow {first} within ten years; check both dates.")
    return [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]


def _used(path: Path, row: CsvRow) -> bool:
    said = row.cells.get("in_use", "").casefold() or "no"
    if said not in _USE:
        raise UsageError(f"{path}, line {row.line}, column in_use: '{said}' is neither yes nor no.")
    return _USE[said]
