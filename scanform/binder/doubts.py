"""The queue: every field that waits for a person, the dangerous ones first and like ones together."""

from __future__ import annotations

import datetime as dt
import re

from sqlalchemy import ColumnElement, Connection, Engine, select

from scanform.binder.rows import settled_from
from scanform.binder.schema import field, page, template_item
from scanform.binder.store import reading
from scanform.binder.types import Doubt
from scanform.form import parted
from scanform.settle.types import Outcome, State

__all__ = ["doubts_in", "queue"]

# After the safety-critical ones: what a sheet is filed under, since nothing can be looked up without it.
_ORDER = ("unit", "date", "hours", "item", "fit", "defect", "told", "signature", "initials", "workshop", "operator")


def queue(engine: Engine) -> list[Doubt]:
    """All doubtful fields of sheets that were read.

    Safety-critical fields first; within each half the fields of one sort together (all dates, then all hours,
    ...), so that the eye stays on one task; within a sort by record number.
    """
    with reading(engine) as connection:
        return doubts_in(connection, field.c.state == State.DOUBTFUL.value)


def doubts_in(connection: Connection, condition: ColumnElement[bool]) -> list[Doubt]:
    """The fields of sheets that were read and that meet a condition on ``field``, in the order of the queue."""
    query = (
        select(page, field)
        .join(field, field.c.page_id == page.c.id)
        .where(condition & (page.c.outcome == Outcome.READ.value))
    )
    labels = {(row.template, row.version, row.item): row.text for row in connection.execute(select(template_item))}
    # `unit`, `date` and such name columns in one of the two tables only; `page.id` is the record number.
    doubts = [
        Doubt(
            ref=f"{row.id}.{row.field_id}",
            number=row.id,
            source=row.source,
            page_number=row.page_number,
            sha256=row.sha256,
            template=row.template,
            version=row.version,
            serial=row.serial,
            unit=row.unit,
            date=dt.date.fromisoformat(row.date) if row.date else None,
            label=labels.get((row.template, row.version, parted(row.field_id)[0]), ""),
            field=settled_from(row),
        )
        for row in connection.execute(query)
    ]
    return sorted(doubts, key=_urgency)


def _urgency(doubt: Doubt) -> tuple[bool, int, str, int, str]:
    first = doubt.field.id.partition(".")[0]
    sort = _ORDER.index(first) if first in _ORDER else len(_ORDER)
    # The words of every defect line are one sort, and so are a week's days.
    like = re.sub(r"\d+", "#", parted(doubt.field.id)[0])
    return (not doubt.field.critical, sort, like, doubt.number, doubt.field.id)
