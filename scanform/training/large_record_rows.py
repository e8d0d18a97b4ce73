"""Rows and journal entries of a large record, as the binder itself would have written them, put in by the thousand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import rfc8785
from sqlalchemy import Connection, Table, insert

from scanform.binder import PageRecord, journal, schema
from scanform.binder.journal import Head
from scanform.binder.rows import journal_page, page_row, plain_value, stored_value
from scanform.settle.types import State
from scanform.training.large_record_sheets import SampleForm

__all__ = ["Rows", "confirm", "insert_rows", "read_field", "record_page"]


@dataclass
class Rows:
    """What one batch adds, by table, and where the journal stands after it."""

    last: Head
    rows: dict[str, list[Any]] = field(default_factory=lambda: {n: [] for n in ("page", "spot_check", "decision")})
    fields: list[tuple[Any, ...]] = field(default_factory=list)
    entries: list[dict[str, Any]] = field(default_factory=list)

    def note(self, kind: str, canonical: bytes, at: str) -> int:
        """Add a journal entry; returns its number."""
        row = journal.entry_row(self.last, kind, canonical, at)
        self.entries.append(row)
        self.last = Head(row["seq"], row["hash"])
        return self.last.seq


@lru_cache(maxsize=100_000)
def read_field(form: SampleForm, field_id: str, value: Any, doubtful: bool) -> tuple[tuple[Any, ...], bytes]:
    """A field's row without its page, in the table's order of columns, and its part of the page's journal entry."""
    row, entry = form.read(field_id, value, doubtful)
    return tuple(row[c.name] for c in schema.field.c if c.name != "page_id"), rfc8785.dumps(entry)


def record_page(
    added: Rows, record: PageRecord, page_id: int, fragments: Sequence[bytes], checks: list[str], at: str
) -> None:
    """Put a page down with its journal entry; ``fragments``: its fields as the entry has them, already canonical."""
    row = page_row(record)
    body = rfc8785.dumps(journal_page(page_id, row, ()) | {"spot_checks": checks})
    added.note("page", body.replace(b'"fields":[]', b'"fields":[%s]' % b",".join(fragments), 1), at)
    added.rows["page"].append({"id": page_id} | row)
    added.rows["spot_check"] += [{"page_id": page_id, "field_id": name} for name in checks]


def confirm(
    added: Rows,
    number: int,
    field_id: str,
    kind: str,
    value: Any,
    state: State,
    filed: dict[str, Any],
    at: str,
    who: str,
) -> None:
    """Put down that somebody said the same about a field as the machine had read."""
    said = plain_value(kind, stored_value(value))
    body: dict[str, Any] = {
        "page": number,
        "field": field_id,
        "initials": who,
        "old": {"value": said, "state": state.value},
        "new": {"value": said, "state": State.CONFIRMED.value},
        "filed_before": filed,
        "filed_after": filed,
    }
    seq = added.note("field-confirmed", rfc8785.dumps(body), at)
    added.rows["decision"].append(
        {
            "seq": seq,
            "at": at,
            "page_id": number,
            "field_id": field_id,
            "initials": who,
            "old_value": stored_value(value),
            "old_state": state.value,
            "new_value": stored_value(value),
            "new_state": State.CONFIRMED.value,
            "old_unit": filed["unit"],
            "old_date": filed["date"],
            "undone_by": None,
        }
    )


def insert_rows(connection: Connection, added: Rows) -> None:
    """Write all that was put down."""
    for table, rows in (
        (schema.batch, added.rows["batch"]),
        (schema.page, added.rows["page"]),
        (schema.spot_check, added.rows["spot_check"]),
        (schema.decision, added.rows["decision"]),
        (schema.journal, added.entries),
    ):
        if rows:
            connection.execute(insert(table), rows)
    _insert_tuples(connection, schema.field, added.fields)


def _insert_tuples(connection: Connection, table: Table, rows: list[tuple[Any, ...]]) -> None:
    # Fifty rows a sheet: past SQLAlchemy's own handling of each, which would take most of the time.
    marks = ", ".join("?" for _ in table.c)
    connection.exec_driver_sql(f"INSERT INTO {table.name} VALUES ({marks})", rows)
