"""Spot checks: a small share of accepted fields that a person reads without being shown what the machine read.

Which fields is decided when a page is recorded, by a hash of its content: the same page gives the same fields in any
binder, and nobody who writes, scans or reads it can choose them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, Engine, insert, select

from scanform.binder.doubts import doubts_in
from scanform.binder.rows import plain_value
from scanform.binder.schema import field, page, spot_check, waiting
from scanform.binder.settings import settings_in
from scanform.binder.store import reading
from scanform.binder.types import Doubt, JudgedField
from scanform.settle import State, only_unsure, same_value
from scanform.settle.types import Outcome

__all__ = ["checks_on", "draw_spot_checks", "drawn", "hidden", "judged_fields", "spot_checks"]

WHAT_TO_DO = "spot check: say what the paper says"


def drawn(sha256: str, page_number: int, field_id: str, share: float) -> bool:
    """Whether a field is one of the share: by the first 64 bits of a SHA-256 over the page's bytes and its name."""
    digest = hashlib.sha256(f"spot check {sha256} {page_number} {field_id}".encode()).digest()
    return int.from_bytes(digest[:8], "big") < share * 2**64


def draw_spot_checks(
    connection: Connection, page_id: int, page_row: Mapping[str, Any], fields: Iterable[Mapping[str, Any]]
) -> list[str]:
    """Note which of a page's accepted fields are to be checked; returns their ids, for the page's journal entry."""
    share = settings_in(connection).spot_check_share
    ids = [
        row["field_id"]
        for row in fields
        if row["read_state"] == State.ACCEPTED.value
        and drawn(page_row["sha256"], page_row["page_number"], row["field_id"], share)
    ]
    if ids:
        connection.execute(insert(spot_check), [{"page_id": page_id, "field_id": name} for name in ids])
    return ids


def spot_checks(engine: Engine) -> list[Doubt]:
    """The spot checks that wait for a person, in the order of doubts, with nothing in them that tells the reading."""
    with reading(engine) as connection:
        return [hidden(found) for found in doubts_in(connection, waiting.c.spot_check)]


def checks_on(engine: Engine, number: int) -> frozenset[str]:
    """The fields of one page that wait as spot checks."""
    query = select(waiting.c.field_id).where((waiting.c.page_id == number) & waiting.c.spot_check)
    with reading(engine) as connection:
        return frozenset(connection.execute(query).scalars())


def judged_fields(engine: Engine, drawn_only: bool = False) -> list[JudgedField]:
    """The fields of every sheet that the machine read, with what it thought of them and what people have said since.

    ``drawn_only``: only the spot checks among them, but for those that wait as doubts since.
    """
    drawn_too = (spot_check.c.page_id == field.c.page_id) & (spot_check.c.field_id == field.c.field_id)
    query = (
        select(field, spot_check.c.page_id.label("drawn_on"))
        .join(page, page.c.id == field.c.page_id)
        .join(spot_check, drawn_too, isouter=not drawn_only)
        .where((page.c.outcome == Outcome.READ.value) & (field.c.read_state != State.CONFIRMED.value))
        .order_by(field.c.page_id, field.c.position)
    )
    if drawn_only:
        query = query.where(field.c.state != State.DOUBTFUL.value)
    with reading(engine) as connection:
        return [_judged(row) for row in connection.execute(query)]


def hidden(found: Doubt) -> Doubt:
    """A field as a spot check shows it: where it is, never what was read there."""
    bare = replace(found.field, value=None, confidence=0.0, alternatives=(), reasons=(WHAT_TO_DO,))
    return replace(
        found,
        field=bare,
        unit=None if bare.id == "unit" else found.unit,
        date=None if bare.id == "date" else found.date,
    )


def _judged(row: Any) -> JudgedField:
    read, now = plain_value(row.kind, row.read_value), plain_value(row.kind, row.value)
    confirmed = row.state == State.CONFIRMED.value
    return JudgedField(
        ref=f"{row.page_id}.{row.field_id}",
        field_id=row.field_id,
        kind=row.kind,
        confidence=row.read_confidence,
        accepted=row.read_state == State.ACCEPTED.value,
        only_unsure=row.read_state == State.DOUBTFUL.value and only_unsure(json.loads(row.reasons)),
        drawn=row.drawn_on is not None,
        right=same_value(row.field_id, read, now) if confirmed else None,
    )
