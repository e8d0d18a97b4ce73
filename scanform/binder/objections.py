"""Accepted fields that a later scan of the same sheet contradicts: doubtful from then on, the reason beside them."""

from __future__ import annotations

import json
from collections.abc import Iterable

from sqlalchemy import Connection, select, update

from scanform.binder import journal
from scanform.binder.rows import plain_value
from scanform.binder.schema import field
from scanform.binder.types import Objection
from scanform.binder.waiting import note_waiting
from scanform.settle.types import State

__all__ = ["raise_objections"]


def raise_objections(connection: Connection, objections: Iterable[Objection], because_of: int) -> None:
    """Make the fields doubtful, each with its journal entry, inside the caller's transaction.

    ``because_of``: the page that says otherwise. What a person has confirmed, or what is doubtful already, stays.
    """
    for objection in objections:
        this = (field.c.page_id == objection.number) & (field.c.field_id == objection.field_id)
        row = connection.execute(select(field).where(this & (field.c.state == State.ACCEPTED.value))).first()
        if row is None:
            continue
        value = plain_value(row.kind, row.value)
        reasons = json.dumps([*json.loads(row.reasons), objection.reason], ensure_ascii=False)
        connection.execute(update(field).where(this).values(state=State.DOUBTFUL.value, reasons=reasons))
        note_waiting(connection, objection.number, objection.field_id)
        body = {
            "page": objection.number,
            "field": objection.field_id,
            "because_of": because_of,
            "reason": objection.reason,
            "old": {"value": value, "state": row.state},
            "new": {"value": value, "state": State.DOUBTFUL.value},
            "filed_after": {},  # a sheet stays filed where it is until a person says otherwise
        }
        journal.append(connection, "field-doubted", body)
