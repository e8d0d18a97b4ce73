"""The register: which machines and people there are. It comes in from CSV files and only ever grows or is updated."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection, Engine, Row, delete, insert, select

from scanform.binder import journal
from scanform.binder.archive import file_sha256
from scanform.binder.csvfile import CsvRow, csv_rows
from scanform.binder.rows import settled_from
from scanform.binder.schema import crew, field, page, unit, word
from scanform.binder.search import serial_begins
from scanform.binder.settings import settings_in
from scanform.binder.store import reading, writing
from scanform.binder.types import VOID, FiledSheet, LoadReport
from scanform.binder.values import hours_from, iso_date_from
from scanform.errors import UsageError
from scanform.form import DAYS, DAYS_OF_MONTH, FieldKind, date_of, parted
from scanform.settle.old import written_order
from scanform.settle.types import Known, MeterReading, Outcome, State, TradeWord, UnitRecord
from scanform.settle.vocabulary import CLASSES, SITE_WEIGHT, split_words

__all__ = [
    "days_of_pad",
    "filed_sheets",
    "known",
    "load_crew",
    "load_units",
    "load_words",
    "meter_readings",
    "readings_beside",
    "units",
    "words",
]

_UNIT_COLUMNS = ("kind", "hours", "hours_on")
_DATES_LOOKED_AT = 500  # more of one site say nothing new about its order of day and month
_Cells = dict[str, str | None]


def load_units(engine: Engine, folder: Path, path: Path) -> LoadReport:
    """Take the machines from a CSV file with ``unit`` and perhaps ``kind``, ``hours``, ``hours_on``.

    A cell that is empty leaves what is known; nothing is deleted. UsageError names file, line and column.
    """
    wanted = _unit_rows(path)
    with writing(engine, folder) as connection:
        before = {row.unit: {c: getattr(row, c) for c in _UNIT_COLUMNS} for row in connection.execute(select(unit))}
        after = {
            name: {c: cells[c] or before.get(name, {}).get(c) for c in _UNIT_COLUMNS} for name, cells in wanted.items()
        }
        changed = {name: cells for name, cells in after.items() if before.get(name) != cells}
        if changed:
            rows = [{"unit": name, **cells} for name, cells in changed.items()]
            connection.execute(delete(unit).where(unit.c.unit.in_(list(changed))))
            connection.execute(insert(unit), rows)
            journal.append(connection, "units-loaded", {"source": path.name, "sha256": file_sha256(path), "rows": rows})
    return _report(list(after), before, changed)


def load_crew(engine: Engine, folder: Path, path: Path) -> LoadReport:
    """Take the crew from a CSV file with ``name``. Nothing is deleted. UsageError names file, line and column."""
    wanted = list(dict.fromkeys(row.cells["name"] for row in csv_rows(path, "name", ())))
    with writing(engine, folder) as connection:
        before = dict.fromkeys(connection.execute(select(crew.c.name)).scalars())
        new = [name for name in wanted if name not in before]
        if new:
            connection.execute(insert(crew), [{"name": name} for name in new])
            journal.append(connection, "crew-loaded", {"source": path.name, "sha256": file_sha256(path), "names": new})
    return _report(wanted, before, dict.fromkeys(new))


def load_words(engine: Engine, folder: Path, path: Path) -> LoadReport:
    """Take the site's own words from a CSV file with ``word`` and perhaps ``normal`` and ``class``.

    ``normal`` is what lists call it, the word itself if empty; ``class`` is part, position, complaint or other, other
    if empty. A word that is known already in the same class gets the new normal form; nothing is deleted. UsageError
    names file, line and column.
    """
    wanted = _word_rows(path)
    with writing(engine, folder) as connection:
        before = {(row.word, row.category): row.normal for row in connection.execute(select(word))}
        changed = {key: normal for key, normal in wanted.items() if before.get(key) != normal}
        if changed:
            rows = [{"word": w, "category": c, "normal": normal} for (w, c), normal in changed.items()]
            for row in rows:
                connection.execute(
                    delete(word).where((word.c.word == row["word"]) & (word.c.category == row["category"]))
                )
            connection.execute(insert(word), rows)
            journal.append(connection, "words-loaded", {"source": path.name, "sha256": file_sha256(path), "rows": rows})
    named = {key: f"{key[0]} ({key[1]})" for key in wanted}
    return _report(
        list(named.values()),
        {f"{w} ({c})": normal for (w, c), normal in before.items()},
        {named[key]: normal for key, normal in changed.items()},
    )


def words(engine: Engine) -> tuple[TradeWord, ...]:
    """The site's own words, by word and class."""
    with reading(engine) as connection:
        rows = connection.execute(select(word).order_by(word.c.word, word.c.category)).all()
    return tuple(TradeWord(row.word, row.normal, row.category, SITE_WEIGHT) for row in rows)


def units(engine: Engine) -> list[UnitRecord]:
    """The machines in the register by number."""
    with reading(engine) as connection:
        return [_unit_record(row) for row in connection.execute(select(unit).order_by(unit.c.unit))]


def _unit_record(row: Row[Any]) -> UnitRecord:
    return UnitRecord(
        row.unit,
        row.kind,
        Decimal(row.hours) if row.hours else None,
        dt.date.fromisoformat(row.hours_on) if row.hours_on else None,
    )


def known(engine: Engine) -> Known:
    """What settling any page may lean on: machines, crew, the site's words and settings.

    ``today`` is this machine's date. Meter readings are asked for by unit (:func:`meter_readings`), since there is one
    of every sheet.
    """
    register = units(engine)
    with reading(engine) as connection:
        names = tuple(connection.execute(select(crew.c.name).order_by(crew.c.name)).scalars())
        chosen = settings_in(connection)
        orders = Counter(_written_orders(connection))
    return Known(
        tuple(register),
        names,
        (),
        dt.date.today(),
        words(engine),
        silent_error_target=chosen.silent_error_target,
        thresholds=tuple(sorted(chosen.thresholds.items())),
        day_first=orders["dmy"],
        month_first=orders["mdy"],
    )


def _written_orders(connection: Connection) -> Iterator[str]:
    """In which order each written date of the newest sheets stands, as far as it says so and nobody doubts it."""
    dates = select(field).where((field.c.field_id == "date") & (field.c.state != State.DOUBTFUL.value))
    for row in connection.execute(dates.order_by(field.c.page_id.desc()).limit(_DATES_LOOKED_AT)):
        if row.kind == FieldKind.DATE:
            yield written_order(settled_from(row))


def meter_readings(engine: Engine, unit_name: str) -> tuple[MeterReading, ...]:
    """One machine's readings that nobody doubts, oldest first.

    A sheet's reading counts when its unit, date and hours are each accepted or confirmed; the register's own
    ``hours`` on ``hours_on`` count as a reading too.
    """
    return _readings_of(engine, unit_name, page.c.unit == unit_name)


def readings_beside(engine: Engine, unit_name: str, number: int) -> tuple[MeterReading, ...]:
    """The same without those of the page with that number."""
    return _readings_of(engine, unit_name, (page.c.unit == unit_name) & (page.c.id != number))


def _readings_of(engine: Engine, unit_name: str, which: ColumnElement[bool]) -> tuple[MeterReading, ...]:
    with reading(engine) as connection:
        found = _sheet_readings(connection, which)
        row = connection.execute(select(unit).where(unit.c.unit == unit_name)).first()
    if row is not None:
        listed = _unit_record(row)
        if listed.hours is not None and listed.hours_on:
            found.append(MeterReading(listed.unit, listed.hours_on, listed.hours))
    return tuple(sorted(found, key=lambda r: (r.on, r.hours)))


def _sheet_readings(connection: Connection, which: ColumnElement[bool]) -> list[MeterReading]:
    header = field.alias()
    doubtful_header = (
        select(header.c.page_id)
        .where(header.c.page_id == page.c.id)
        .where(header.c.field_id.in_(("unit", "date")) & (header.c.state == State.DOUBTFUL.value))
        .exists()
    )
    query = (
        select(page.c.unit, page.c.date, field.c.field_id, field.c.value)
        .join(field, field.c.page_id == page.c.id)
        .where(
            field.c.field_id.in_(("hours", *(f"hours.{day}" for day in (*DAYS, *DAYS_OF_MONTH))))
            & (field.c.state != State.DOUBTFUL.value)
        )
        .where(which & (page.c.outcome == Outcome.READ.value) & ~doubtful_header)
        .where(page.c.unit.is_not(None) & page.c.date.is_not(None) & field.c.value.is_not(None))
    )
    readings = []
    for row in connection.execute(query):
        on = date_of(dt.date.fromisoformat(row.date), parted(row.field_id)[1])
        if on is not None:  # no month has more days than it has
            readings.append(MeterReading(row.unit, on, Decimal(row.value)))
    return readings


def filed_sheets(engine: Engine, pad: str | None = None) -> list[FiledSheet]:
    """Every sheet with a serial that came back, scanned twice and void ones included; only those of one pad if it is
    named.
    """
    outcomes = (page.c.outcome + "").in_((Outcome.READ.value, Outcome.DUPLICATE.value))  # serials narrow down more
    came_back = outcomes | page.c.reason.startswith(VOID)
    query = select(page.c.serial, page.c.unit, page.c.template, page.c.date).where(
        page.c.serial.is_not(None) & came_back
    )
    if pad is not None:
        query = query.where(serial_begins(pad))
    with reading(engine) as connection:
        return [
            FiledSheet(row.serial, row.unit, row.template, dt.date.fromisoformat(row.date) if row.date else None)
            for row in connection.execute(query.order_by(page.c.id))
        ]


def days_of_pad(engine: Engine, pad: str) -> tuple[dt.date, ...]:
    """The dates on the sheets of a pad that were read, as far as nobody doubts them, in the order of its sheets."""
    query = (
        select(page.c.date)
        .join(field, field.c.page_id == page.c.id)
        .where((field.c.field_id == "date") & (field.c.state != State.DOUBTFUL.value))
        .where(serial_begins(pad) & (page.c.outcome + "" == Outcome.READ.value))
        .where(page.c.date.is_not(None))
        .order_by(page.c.serial)
    )
    with reading(engine) as connection:
        return tuple(dt.date.fromisoformat(day) for day in connection.execute(query).scalars())


def _unit_rows(path: Path) -> dict[str, _Cells]:
    rows: dict[str, tuple[int, _Cells]] = {}
    for row in csv_rows(path, "unit", _UNIT_COLUMNS):
        name = row.cells["unit"].upper()
        cells = _unit_cells(path, row)
        line, seen = rows.setdefault(name, (row.line, cells))
        if seen != cells:
            raise UsageError(
                f"{path}, line {row.line}, column unit: {name} stands in line {line} with other values; keep one."
            )
    return {name: cells for name, (_line, cells) in rows.items()}


def _word_rows(path: Path) -> dict[tuple[str, str], str]:
    found: dict[tuple[str, str], tuple[int, str]] = {}
    for row in csv_rows(path, "word", ("normal", "class")):
        where = f"{path}, line {row.line}, column "
        said = " ".join(row.cells["word"].casefold().split())
        normal = " ".join(row.cells.get("normal", "").casefold().split()) or said
        category = row.cells.get("class", "").casefold() or "other"
        if not split_words(said):
            raise UsageError(f"{where}word: '{row.cells['word']}' holds no letter; write the word as crews do.")
        if category not in CLASSES:
            raise UsageError(f"{where}class: '{category}' is no class of words; take {', '.join(CLASSES)}.")
        line, seen = found.setdefault((said, category), (row.line, normal))
        if seen != normal:
            raise UsageError(f"{where}word: '{said}' stands in line {line} with another normal form; keep one.")
    return {key: normal for key, (_line, normal) in found.items()}


def _unit_cells(path: Path, row: CsvRow) -> _Cells:
    where = f"{path}, line {row.line}, column "
    kind, hours, on = (row.cells.get(c) or None for c in _UNIT_COLUMNS)
    return {
        "kind": kind,
        "hours": hours_from(hours, where + "hours") if hours else None,
        "hours_on": iso_date_from(on, where + "hours_on") if on else None,
    }


def _report(wanted: list[str], before: Mapping[str, object], changed: Mapping[str, object]) -> LoadReport:
    return LoadReport(
        added=tuple(name for name in wanted if name not in before),
        changed=tuple(name for name in wanted if name in before and name in changed),
        unchanged=tuple(name for name in wanted if name not in changed),
    )
