"""Doubtful fields that later sheets have settled: accepted from then on, with the reason, and out of the queue."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

from sqlalchemy import Connection, Engine, select, update

from scanform.binder import journal
from scanform.binder.rows import plain_value, stored_value
from scanform.binder.schema import field, page
from scanform.binder.store import writing
from scanform.binder.types import Resolution
from scanform.binder.waiting import note_waiting
from scanform.settle.types import Outcome, State

__all__ = ["resolve_doubts"]

_FILED_UNDER = ("unit", "date")  # fields that also say where the sheet is filed


def resolve_doubts(engine: Engine, folder: Path, resolutions: Iterable[Resolution]) -> int:
    """Accept fields that are still doubtful, each with its journal entry; returns how many.

    What a person has confirmed meanwhile stays as it is.
    """
    with writing(engine, folder) as connection:
        return sum(_resolve(connection, resolution) for resolution in resolutions)


def _resolve(connection: Connection, resolution: Resolution) -> bool:
    this = (field.c.page_id == resolution.number) & (field.c.field_id == resolution.field_id)
    row = connection.execute(select(field).where(this & (field.c.state == State.DOUBTFUL.value))).first()
    of_page = (page.c.id == resolution.number) & (page.c.outcome == Outcome.READ.value)
    sheet = connection.execute(select(page.c.unit, page.c.date).where(of_page)).first()
    if row is None or sheet is None:
        return False
    filed = {"unit": sheet.unit, "date": sheet.date}
    after = filed | ({resolution.field_id: resolution.value} if resolution.field_id in _FILED_UNDER else {})
    body = {
        "page": resolution.number,
        "field": resolution.field_id,
        "reason": resolution.reason,
        "old": {"value": plain_value(row.kind, row.value), "state": row.state},
        "new": {"value": resolution.value, "state": State.ACCEPTED.value},
        "filed_before": filed,
        "filed_after": after,
    }
    journal.append(connection, "doubt-resolved", body)
    reasons = json.dumps([*json.loads(row.reasons), resolution.reason], ensure_ascii=False)
    new = {"value": stored_value(resolution.value), "state": State.ACCEPTED.value, "reasons": reasons}
    connection.execute(update(field).where(this).values(**new))
    if after != filed:
        connection.execute(update(page).where(page.c.id == resolution.number).values(**after))
    note_waiting(connection, resolution.number, resolution.field_id)
    return True
