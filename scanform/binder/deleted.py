"""What the journal still tells of sheets whose files were deleted: of which unit and which days they were."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Engine, func, select

from scanform.binder import schema
from scanform.binder.history import entries_of_page
from scanform.binder.replay import Replay, tell
from scanform.binder.store import reading
from scanform.binder.types import DeletedSheet
from scanform.form import date_of, parted
from scanform.settle.types import Outcome

__all__ = ["deleted_sheets"]

_BY_THE_DAY = ("item", "hours", "initials")  # fields that say of a week's or a month's sheet which days it speaks for


def deleted_sheets(engine: Engine) -> list[DeletedSheet]:
    """The sheets that were filed under a unit and a date when their files were deleted."""
    table, page = schema.journal.c, schema.page.c
    with reading(engine) as connection:
        kept, newest = connection.execute(select(func.count(), func.max(page.id)).select_from(schema.page)).one()
        if kept == (newest or 0):  # numbers are given out in turn, and the newest page is never deleted
            return []
        deletions = select(table.at, table.body).where(table.kind == "pages-deleted").order_by(table.seq)
        found = []
        for entry in connection.execute(deletions).all():
            body, on = json.loads(entry.body), dt.datetime.fromisoformat(entry.at).date()
            sheets = (_sheet(connection, number, on, body["rule"]) for number in body["pages"])
            found += [sheet for sheet in sheets if sheet is not None]
        return found


def _sheet(connection: Connection, number: int, on: dt.date, rule: str) -> DeletedSheet | None:
    told, bodies = Replay(), dict[int, dict[str, Any]]()
    for entry in entries_of_page(connection, number):
        tell(told, entry)
        bodies[entry.seq] = json.loads(entry.body)
    read = bodies[told.page_seq[number]]
    filed = {name: read[name] for name in ("unit", "date", "outcome")}
    values = {field["id"]: field["value"] for field in read["fields"]}
    for change in told.changes[number]:
        filed |= change["filed_after"]
        if "field" in change:
            values[change["field"]] = change["new"]["value"]
    if filed["outcome"] != Outcome.READ or not filed["unit"] or not filed["date"]:
        return None
    filled, free = _days(dt.date.fromisoformat(filed["date"]), values)
    return DeletedSheet(number, filed["unit"], filled, free, on, rule)


def _days(first: dt.date, values: Mapping[str, Any]) -> tuple[tuple[dt.date, ...], tuple[dt.date, ...]]:
    """The days that a sheet spoke for, and those that it left free."""
    filled: dict[dt.date, bool] = {}
    for (stem, day), value in ((parted(name), value) for name, value in values.items()):
        on = date_of(first, day) if day is not None and stem.partition(".")[0] in _BY_THE_DAY else None
        if on is not None:
            filled[on] = filled.get(on, False) or bool(value)
    days = filled or {first: True}
    return tuple(sorted(on for on in days if days[on])), tuple(sorted(on for on in days if not days[on]))
