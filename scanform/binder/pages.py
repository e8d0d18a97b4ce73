"""Recording pages, each with its journal entry in one transaction, and finding them again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection, Engine, Row, func, insert, literal, select, true, update

from scanform.binder import journal
from scanform.binder.objections import raise_objections
from scanform.binder.rows import field_rows, journal_page, page_from, page_row, settled_from, writable
from scanform.binder.schema import field, page
from scanform.binder.spot_checks import draw_spot_checks
from scanform.binder.store import reading, writing
from scanform.binder.types import VOID, PageHead, PageRecord, RecordedPage, is_void
from scanform.binder.waiting import note_page_waiting
from scanform.errors import BinderError
from scanform.settle.types import Outcome, SettledField

__all__ = [
    "NOT_READ",
    "head_with_bytes",
    "heads_alike",
    "heads_named_in",
    "heads_of_picture",
    "heads_with_serial",
    "page_as_read",
    "page_for",
    "page_in",
    "page_numbered",
    "pages_numbered",
    "pages_of_batch",
    "pages_where",
    "read_again",
    "record_page",
]

# A page with one of these outcomes has no fields, and another try may find some.
NOT_READ = frozenset({Outcome.UNKNOWN_FORM, Outcome.UNREADABLE})

_AT_ONCE = 400  # pages fetched with their fields in one query; SQLite allows 999 parameters in old builds

# The columns of a PageHead.
_HEAD = ("id", "source", "page_number", "part", "parts", "outcome", "serial", "ink_signature", "reason")
_READ = page.c.outcome == Outcome.READ.value
_VOID = (page.c.outcome == Outcome.UNREADABLE.value) & page.c.reason.startswith(VOID)


def record_page(engine: Engine, folder: Path, record: PageRecord) -> RecordedPage:
    """Put a page on the record; a page that is on it already is given back unchanged and nothing is written."""
    row = page_row(record)
    with writing(engine, folder) as connection:
        known = connection.execute(
            select(page).where(_same_page(row["sha256"], row["page_number"], row["source_path"], row["part"]))
        ).first()
        if known is not None:
            return _with_fields(connection, [known])[0]
        page_id = connection.execute(insert(page).returning(page.c.id), row).scalar_one()
        rows = field_rows(page_id, record.fields)
        if rows:
            connection.execute(insert(field), rows)
        checks = draw_spot_checks(connection, page_id, row, rows)
        note_page_waiting(connection, page_id)
        journal.append(connection, "page", journal_page(page_id, row, rows) | {"spot_checks": checks})
        raise_objections(connection, record.objections, page_id)
        # Given back as it was written down, so that a second run answers with the very same values.
        return replace(page_in(connection, page_id), new=True)


def read_again(engine: Engine, folder: Path, number: int, record: PageRecord) -> RecordedPage:
    """Put a new reading in the place of a page from which nothing was read; the journal keeps the first.

    BinderError if the page has fields already: a reading that people may have worked on is never replaced.
    """
    row = page_row(record)
    with writing(engine, folder) as connection:
        stored = connection.execute(select(page).where(page.c.id == number)).first()
        if stored is None or not _may_be_read_again(connection, stored):
            raise BinderError(f"Page {number} is not on record as unreadable or an unknown form, so it stays as it is.")
        connection.execute(update(page).where(page.c.id == number), row)
        rows = field_rows(number, record.fields)
        if rows:
            connection.execute(insert(field), rows)
        checks = draw_spot_checks(connection, number, row, rows)
        note_page_waiting(connection, number)
        journal.append(connection, "page-read-again", journal_page(number, row, rows) | {"spot_checks": checks})
        raise_objections(connection, record.objections, number)
        return replace(page_in(connection, number), new=True)


def _may_be_read_again(connection: Connection, stored: Row[Any]) -> bool:
    """Whether nothing was read from the page, and nobody has filled anything in for it since."""
    if Outcome(stored.outcome) not in NOT_READ:
        return False
    return connection.execute(select(field.c.page_id).where(field.c.page_id == stored.id).limit(1)).first() is None


def page_for(engine: Engine, sha256: str, page_number: int, source_path: str, part: int = 1) -> RecordedPage | None:
    """The very page, by its bytes, its number in the file, the file's path, and which sheet of the picture it is."""
    return _first(engine, _same_page(sha256, page_number, source_path, part))


def heads_of_picture(engine: Engine, sha256: str, page_number: int, source_path: str) -> tuple[PageHead, ...]:
    """Every sheet on record of one picture, in their order; mostly one."""
    found = _heads(engine, _same_picture(sha256, page_number, source_path))
    return tuple(sorted(found, key=lambda head: head.part))


def head_with_bytes(engine: Engine, sha256: str, page_number: int, part: int = 1) -> PageHead | None:
    """The first page recorded with these bytes, number and part, under whatever path."""
    same = (page.c.sha256 == sha256) & (page.c.page_number == page_number) & (page.c.part == part)
    return next(iter(_heads(engine, same)), None)


def page_numbered(engine: Engine, number: int) -> RecordedPage | None:
    """The page with that record number."""
    return _first(engine, page.c.id == number)


def page_as_read(engine: Engine, number: int) -> RecordedPage | None:
    """The same with what was read on it even if it is void, for telling whether another page is of the same paper."""
    with reading(engine) as connection:
        row = connection.execute(select(page).where(page.c.id == number)).first()
        return RecordedPage(row.id, page_from(row, tuple(_fields(connection, [row.id])[row.id]))) if row else None


def page_in(connection: Connection, number: int) -> RecordedPage:
    """The same inside a transaction, where the page is known to be there."""
    return _with_fields(connection, [connection.execute(select(page).where(page.c.id == number)).one()])[0]


def heads_with_serial(engine: Engine, serial: str) -> list[PageHead]:
    """Every page that was read as the sheet with that serial, oldest first, void ones too; no duplicates."""
    return _heads(engine, (page.c.serial == serial) & (_READ | _VOID))


def heads_alike(
    engine: Engine, template: str, version: int, unit: str | None, date: str | None, serial: str | None
) -> list[PageHead]:
    """Every page read as a sheet of this template that is filed under this unit or this date, oldest first, void ones
    too.

    If ``serial`` is one, only those that show none: two serials tell two sheets apart.
    """
    filed = (page.c.unit == unit) | (page.c.date == date)
    same_form = (page.c.template == template) & (page.c.version == version)
    unnamed = true() if serial is None else page.c.serial.is_(None)
    return _heads(engine, filed & same_form & unnamed & (_READ | _VOID))


def heads_named_in(engine: Engine, text: str, template: str, version: int) -> list[PageHead]:
    """Every page read as a sheet of this template whose file is named in a sentence, oldest first."""
    named = func.replace(literal(text), page.c.source, "") != text
    return _heads(engine, named & (page.c.template == template) & (page.c.version == version) & _READ)


def pages_of_batch(engine: Engine, batch_id: int) -> list[RecordedPage]:
    """The pages that this batch recorded first, in order of recording."""
    return pages_where(engine, page.c.batch_id == batch_id)


def pages_numbered(engine: Engine, numbers: Sequence[int]) -> list[RecordedPage]:
    """Pages in the order of ``numbers``, repeats included; numbers that do not exist are left out."""
    wanted, found = sorted(set(numbers)), {}
    for start in range(0, len(wanted), _AT_ONCE):
        for recorded in pages_where(engine, page.c.id.in_(wanted[start : start + _AT_ONCE])):
            found[recorded.number] = recorded
    return [found[n] for n in numbers if n in found]


def pages_where(engine: Engine, condition: ColumnElement[bool] | None = None) -> list[RecordedPage]:
    """All pages with their fields, or those that meet a condition on ``page``, by record number."""
    query = select(page).order_by(page.c.id)
    with reading(engine) as connection:
        rows = connection.execute(query if condition is None else query.where(condition)).all()
        return [
            recorded
            for start in range(0, len(rows), _AT_ONCE)
            for recorded in _with_fields(connection, rows[start : start + _AT_ONCE])
        ]


def _heads(engine: Engine, condition: ColumnElement[bool]) -> list[PageHead]:
    columns = [page.c[name] for name in _HEAD]
    with reading(engine) as connection:
        rows = connection.execute(select(*columns).where(condition).order_by(page.c.id))
        return [
            PageHead(
                *(r.id, r.source, r.page_number, r.part, r.parts, Outcome(r.outcome), r.serial, r.ink_signature),
                void=is_void(r.outcome, r.reason),
            )
            for r in rows
        ]


def _same_page(sha256: str, page_number: int, source_path: str, part: int) -> ColumnElement[bool]:
    return _same_picture(sha256, page_number, source_path) & (page.c.part == part)


def _same_picture(sha256: str, page_number: int, source_path: str) -> ColumnElement[bool]:
    return (
        (page.c.sha256 == sha256) & (page.c.page_number == page_number) & (page.c.source_path == writable(source_path))
    )


def _first(engine: Engine, condition: ColumnElement[bool]) -> RecordedPage | None:
    with reading(engine) as connection:
        row = connection.execute(select(page).where(condition).order_by(page.c.id).limit(1)).first()
        return _with_fields(connection, [row])[0] if row is not None else None


def _with_fields(connection: Connection, rows: Sequence[Row[Any]]) -> list[RecordedPage]:
    # What was read on a sheet that is void stays in the table and says nothing.
    fields = _fields(connection, [r.id for r in rows if r.outcome == Outcome.READ])
    return [RecordedPage(row.id, page_from(row, tuple(fields[row.id]))) for row in rows]


def _fields(connection: Connection, numbers: Sequence[int]) -> dict[int, list[SettledField]]:
    fields: dict[int, list[SettledField]] = defaultdict(list)
    query = select(field).where(field.c.page_id.in_(numbers))
    for row in connection.execute(query.order_by(field.c.page_id, field.c.position)):
        fields[row.page_id].append(settled_from(row))
    return fields
