"""What sheets said at an earlier moment, told from the journal: when a person closed a defect that stands on them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any, NamedTuple

from sqlalchemy import Connection, Engine, text

from scanform.binder.history import CHANGES, READINGS, VOIDS, entries_of_page
from scanform.binder.rows import stored_value
from scanform.binder.schema import PAGE_OF_ENTRY
from scanform.binder.store import reading
from scanform.settle.types import Outcome, State

__all__ = ["FieldThen", "SheetThen", "changed_since", "first_recorded", "said_at"]

_AT_ONCE = 900  # bound values of one query; SQLite allowed 999 in old builds
_KINDS = ", ".join(f"'{kind}'" for kind in (*READINGS, *CHANGES, *VOIDS))


class FieldThen(NamedTuple):
    """A field as it stood; ``value`` as stored: a signature is "true" or "false"."""

    id: str
    value: str | None
    state: State
    critical: bool
    original: str | None = None


class SheetThen(NamedTuple):
    """A sheet as it stood, with ``date`` in ISO 8601."""

    unit: str | None
    date: str | None
    template: str | None
    version: int | None
    fields: tuple[FieldThen, ...]


def said_at(engine: Engine, moments: Iterable[tuple[int, int]]) -> dict[tuple[int, int], SheetThen | None]:
    """What pages said just before a journal entry, of pairs of page and entry, as far as the journal has changed the
    page since; None where it was no sheet then. A pair that is not in the answer: the page said what it says now.
    """
    asked = set(moments)
    with reading(engine) as connection:
        last = _last_changes(connection, {number for number, _ in asked})
        return {(number, seq): _told(connection, number, seq) for number, seq in asked if last.get(number, 0) > seq}


def changed_since(connection: Connection, number: int, seq: int) -> bool:
    """Whether the journal has anything on what a page says after one of its entries."""
    return _last_changes(connection, {number}).get(number, 0) > seq


def first_recorded(engine: Engine, numbers: Iterable[int]) -> dict[int, str]:
    """The moment at which each page came into the record, ISO 8601 in UTC."""
    with reading(engine) as connection:
        return dict(_of_pages(connection, "min(at)", "'page'", set(numbers)))


def _last_changes(connection: Connection, numbers: set[int]) -> dict[int, int]:
    return dict(_of_pages(connection, "max(seq)", _KINDS, numbers))


def _of_pages(connection: Connection, what: str, kinds: str, numbers: set[int]) -> Iterable[tuple[int, Any]]:
    wanted = sorted(int(number) for number in numbers)
    for start in range(0, len(wanted), _AT_ONCE):
        # Numbers, not bound values: the index serves a query only if it says the page in just these words.
        some = ", ".join(map(str, wanted[start : start + _AT_ONCE]))
        query = f"SELECT {PAGE_OF_ENTRY} AS number, {what} FROM journal WHERE {PAGE_OF_ENTRY} IN ({some}) "
        for row in connection.execute(text(f"{query} AND kind IN ({kinds}) GROUP BY number")):
            yield row[0], row[1]


def _told(connection: Connection, number: int, seq: int) -> SheetThen | None:
    head: dict[str, Any] = {}
    fields: dict[str, FieldThen] = {}
    for entry in entries_of_page(connection, number):
        if entry.seq >= seq:
            break
        body = json.loads(entry.body)
        if entry.kind in READINGS:
            head = {key: body[key] for key in ("outcome", "unit", "date", "template", "version")}
            fields = {
                read["id"]: FieldThen(
                    read["id"], stored_value(read["value"]), State(read["state"]), bool(read["critical"])
                )
                for read in body["fields"]
            }
        elif entry.kind in CHANGES or entry.kind in VOIDS:
            head |= {key: value for key, value in body["filed_after"].items() if key in head}
            if (name := body.get("field")) in fields:
                new = body["new"]
                fields[name] = fields[name]._replace(value=stored_value(new["value"]), state=State(new["state"]))
    if head.get("outcome") != Outcome.READ:
        return None
    return SheetThen(head["unit"], head["date"], head["template"], head["version"], tuple(fields.values()))
