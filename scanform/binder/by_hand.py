"""A sheet that no machine could read, read by a person who looks at it: every field confirmed, in one journal entry."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Row, delete, insert, select, update

from scanform.binder import journal
from scanform.binder.history import page_readings
from scanform.binder.pages import page_in
from scanform.binder.rows import BEFORE_COLUMN, CONFIRMED_CONFIDENCE, PAGE_COLUMNS, field_rows, journal_page
from scanform.binder.schema import closing, decision, field, page
from scanform.binder.store import writing
from scanform.binder.types import RecordedPage, is_void
from scanform.binder.values import checked_initials, checked_value
from scanform.errors import UsageError
from scanform.form import Layout, pad_of, parse_code
from scanform.settle.types import Outcome, SettledField, State

__all__ = ["MAY_BE_ENTERED", "enter_by_hand", "entered_fields", "take_back_entry"]

# Outcomes that a person may know better.
MAY_BE_ENTERED = (Outcome.UNREADABLE, Outcome.UNKNOWN_FORM, Outcome.DUPLICATE, Outcome.BLANK)
_FILED_UNDER = ("unit", "date")


def enter_by_hand(
    engine: Engine,
    folder: Path,
    number: int,
    layout: Layout,
    values: Mapping[str, str | bool | None],
    initials: str,
    serial: str | None = None,
) -> RecordedPage:
    """Put a page that was not read on record as a sheet, with what a person sees on it.

    ``layout``: the sheet that it is; ``values``: what is written, by field id; a field left out is blank on the paper.
    ``serial``: as printed on the sheet, alone or with the whole line of its code; None if it cannot be read.
    UsageError, in a sentence, if the page is on record as a sheet already, a value does not fit its field, unit or
    date are missing, or the serial is none or another sheet's.
    """
    who = checked_initials(initials)
    fields = entered_fields(layout, values)
    filed = {f.id: f.value for f in fields if f.id in _FILED_UNDER}
    for name in _FILED_UNDER:
        if not filed.get(name):
            raise UsageError(f"{name}: a sheet is filed under its unit and its date; say what the paper says.")
    with writing(engine, folder) as connection:
        before = _page_to_enter(connection, number)
        row = before._asdict() | {
            "outcome": Outcome.READ.value,
            "reason": f"entered by hand; the machine said {before.outcome}: {before.reason or 'no reason'}",
            "template": layout.template.name,
            "version": layout.template.version,
            "serial": _checked_serial(connection, serial) if serial and serial.strip() else before.serial,
            "unit": filed["unit"],
            "date": filed["date"],
        }
        connection.execute(update(page).where(page.c.id == number), row)
        rows = field_rows(number, fields)
        connection.execute(insert(field), rows)
        body = journal_page(number, row, rows)
        was = {"outcome": before.outcome, "reason": before.reason}
        journal.append(connection, "page-entered-by-hand", body | {"initials": who, "before": was})
        return replace(page_in(connection, number), new=True)


def take_back_entry(engine: Engine, folder: Path, number: int, initials: str) -> RecordedPage:
    """Make a page that was entered by hand what it was before, so that it can be entered as another sheet.

    What was entered stays in the journal. UsageError if the page was not entered by hand, or if somebody has corrected
    it since, or closed a defect on it: that would be said of whatever it is entered as next.
    """
    who = checked_initials(initials)
    with writing(engine, folder) as connection:
        readings = page_readings(connection, number)
        if not readings or readings[-1].kind != "page-entered-by-hand":
            raise UsageError(f"Page {number} was not entered by hand, so there is no entry to take back.")
        standing = (decision.c.page_id == number) & decision.c.undone_by.is_(None)
        later = connection.execute(select(decision.c.initials, decision.c.field_id).where(standing)).first()
        if later is not None:
            raise UsageError(
                f"{later.initials} has corrected {later.field_id} of sheet {number} since; correct values instead."
            )
        closed = (closing.c.page_id == number) & closing.c.undone_by.is_(None)
        said = connection.execute(select(closing.c.initials, closing.c.field_id).where(closed)).first()
        if said is not None:
            raise UsageError(
                f"{said.initials} has closed {number}.{said.field_id}; take that back first: "
                f"scanform reopen {number}.{said.field_id}"
            )
        stored = connection.execute(select(page).where(page.c.id == number)).one()
        if is_void(stored.outcome, stored.reason):
            raise UsageError(f"Sheet {number} is void; take that back first.")
        was = json.loads(readings[-2].body)
        row = stored._asdict() | {c: was.get(c, BEFORE_COLUMN.get(c)) for c in PAGE_COLUMNS}
        connection.execute(delete(field).where(field.c.page_id == number))
        connection.execute(update(page).where(page.c.id == number), row)
        journal.append(connection, "entry-taken-back", journal_page(number, row, ()) | {"initials": who})
        return page_in(connection, number)


def entered_fields(layout: Layout, values: Mapping[str, str | bool | None]) -> tuple[SettledField, ...]:
    """The fields of a sheet as a person reads them, in the layout's order; UsageError if a value does not fit."""
    known = {spec.id for spec in layout.fields}
    strange = next((name for name in values if name not in known), None)
    if strange is not None:
        raise UsageError(f"A sheet of '{layout.template.name}' has no field '{strange}'.")
    numbers = [item.number for item in layout.template.items]
    fields = []
    for spec in layout.fields:
        # Where it lies on the page is not known: nothing found the sheet there.
        blank = SettledField(
            spec.id, spec.kind.value, None, State.CONFIRMED, CONFIRMED_CONFIDENCE, (), (), critical=spec.critical
        )
        fields.append(replace(blank, value=checked_value(blank, values.get(spec.id), numbers)))
    return tuple(fields)


def _page_to_enter(connection: Connection, number: int) -> Row[Any]:
    stored = connection.execute(select(page).where(page.c.id == number)).first()
    if stored is None:
        raise UsageError(f"There is no page {number} in this binder.")
    if is_void(stored.outcome, stored.reason):
        raise UsageError(f"Sheet {number} is void; take that back, and its values count again.")
    if stored.outcome not in MAY_BE_ENTERED:
        raise UsageError(f"Page {number} is on record as {stored.outcome}; only a page without values is entered.")
    return stored


def _checked_serial(connection: Connection, typed: str) -> str:
    signs = typed.strip().upper()
    code = parse_code(signs)
    serial = code.serial if code is not None else signs
    if pad_of(serial) is None:
        raise UsageError(f"'{typed.strip()}' is no serial; write the ten signs that are printed, or leave it empty.")
    same = (page.c.serial == serial) & (page.c.outcome == Outcome.READ.value)
    other = connection.execute(select(page.c.id).where(same)).scalar()
    if other is not None:
        raise UsageError(
            f"Serial {serial} is on record as sheet {other}; if that is this very sheet, nothing needs to be entered, "
            "else leave the serial empty."
        )
    return serial
