"""What happened to one field or one page, told from the journal: who, when, from which value to which."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection, Engine, Row, select, text

from scanform.binder.schema import PAGE_OF_ENTRY, journal
from scanform.binder.store import reading
from scanform.settle.types import Outcome, State

__all__ = [
    *("CHANGES", "READINGS", "VOIDED", "VOIDS", "VOID_TAKEN_BACK"),
    *("FieldEvent", "entries_of_page", "field_history", "last_outcome", "page_readings"),
]

# What a page's entries say happened to all of its fields at once.
READINGS = {
    "page": "read",
    "page-read-again": "read",
    "page-entered-by-hand": "entered",
    "entry-taken-back": "entry-taken-back",
}
# And to one of them.
CHANGES = {
    "field-confirmed": "confirmed",
    "decision-undone": "taken-back",
    "field-doubted": "doubted",
    "doubt-resolved": "resolved",
}
# And what lets a whole sheet count no more, or again.
VOIDED, VOID_TAKEN_BACK = "sheet-voided", "void-taken-back"
VOIDS = (VOIDED, VOID_TAKEN_BACK)


@dataclass(frozen=True)
class FieldEvent:
    """One thing that happened to a field, as the journal entry ``seq`` has it.

    ``what``: ``read`` (by machine), ``entered`` (a person read the whole sheet), ``entry-taken-back``, ``confirmed`` (a
    person said this field), ``taken-back`` (a person undid what was said), ``doubted`` (another scan of the sheet
    speaks against it, for ``reason``), ``resolved`` (other sheets settled a doubt, as ``reason`` says). ``initials`` is
    None for the machine; a state is None where there was no field before or is none after. ``undone_by`` is the entry
    that took it back, None while it stands.
    """

    seq: int
    at: dt.datetime
    what: str
    initials: str | None
    old_value: str | bool | None
    old_state: State | None
    new_value: str | bool | None
    new_state: State | None
    undone_by: int | None = None
    reason: str = ""


def field_history(engine: Engine, number: int, field_id: str) -> list[FieldEvent]:
    """Everything that the journal says about a field of a page, oldest first; empty if it says nothing."""
    with reading(engine) as connection:
        entries = entries_of_page(connection, number)
    events: list[FieldEvent] = []
    undone: dict[int, int] = {}
    for entry in entries:
        body = json.loads(entry.body)
        at = dt.datetime.fromisoformat(entry.at)
        if entry.kind in READINGS:
            events += _of_reading(entry.seq, at, READINGS[entry.kind], body, field_id, events[-1:])
        elif entry.kind in CHANGES and body["field"] == field_id:
            events.append(_change(entry.seq, at, CHANGES[entry.kind], body))
            if entry.kind == "decision-undone":
                undone[body["undoes"]] = entry.seq
    return [replace(event, undone_by=undone.get(event.seq)) for event in events]


def page_readings(connection: Connection, number: int) -> list[Row[Any]]:
    """The journal entries (seq, at, kind, body) that say what a page as a whole is, oldest first."""
    return [entry for entry in entries_of_page(connection, number) if entry.kind in READINGS]


def last_outcome(connection: Connection, number: int) -> Outcome:
    """What the journal says last about a page as a whole."""
    said = [json.loads(e.body) for e in entries_of_page(connection, number) if e.kind in (*READINGS, *VOIDS)]
    return Outcome(said[-1].get("filed_after", said[-1])["outcome"])


def entries_of_page(connection: Connection, number: int) -> list[Row[Any]]:
    """The journal entries about one page and its fields, oldest first."""
    of_page = text(f"{PAGE_OF_ENTRY} = :number").bindparams(number=number)
    return list(connection.execute(select(journal).where(of_page).order_by(journal.c.seq)))


def _of_reading(
    seq: int, at: dt.datetime, what: str, body: Mapping[str, Any], field_id: str, before: Sequence[FieldEvent]
) -> list[FieldEvent]:
    who = body.get("initials")
    read = next((f for f in body["fields"] if f["id"] == field_id), None)
    if read is not None:
        return [FieldEvent(seq, at, what, who, None, None, read["value"], State(read["state"]))]
    if what == "entry-taken-back" and before:
        return [FieldEvent(seq, at, what, who, before[0].new_value, before[0].new_state, None, None)]
    return []


def _change(seq: int, at: dt.datetime, what: str, body: Mapping[str, Any]) -> FieldEvent:
    old, new = body["old"], body["new"]
    return FieldEvent(
        seq,
        at,
        what,
        body.get("initials"),
        old["value"],
        State(old["state"]),
        new["value"],
        State(new["state"]),
        reason=body.get("reason", ""),
    )
