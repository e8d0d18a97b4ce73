"""The queue: every field that waits for a person, the dangerous ones first and like ones together."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import ColumnElement, Connection, Engine, select

from scanform.binder.rows import settled_from
from scanform.binder.schema import field, page, template_item, waiting
from scanform.binder.store import reading
from scanform.binder.types import Doubt
from scanform.form import parted

__all__ = ["doubts_in", "queue"]


def queue(engine: Engine) -> list[Doubt]:
    """All doubtful fields of sheets that were read.

    Safety-critical fields first; within each half the fields of one sort together (all dates, then all hours,
    ...), so that the eye stays on one task; within a sort by record number.
    """
    with reading(engine) as connection:
        return doubts_in(connection, ~waiting.c.spot_check)


def doubts_in(connection: Connection, condition: ColumnElement[bool]) -> list[Doubt]:
    """The fields that wait and meet a condition on ``waiting``, in the order of the queue."""
    query = (
        select(page, field)
        .select_from(waiting)
        .join(field, (field.c.page_id == waiting.c.page_id) & (field.c.field_id == waiting.c.field_id))
        .join(page, page.c.id == waiting.c.page_id)
        .where(condition)
        .order_by(waiting.c.urgency, waiting.c.page_id, waiting.c.field_id)
    )
    labels = {(row.template, row.version, row.item): row.text for row in connection.execute(select(template_item))}
    # `unit`, `date` and such name columns in one of the two tables only; `page.id` is the record number.
    return [
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
