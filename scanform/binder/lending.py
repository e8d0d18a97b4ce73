"""Doubts on loan: each is shown to one person at a time, and comes back when that person leaves without a word."""

from __future__ import annotations

import time
from collections.abc import Collection, Sequence

from sqlalchemy import ColumnElement, Connection, Engine, func, or_, select, update

from scanform.binder.decisions import last_entry_about, split_ref
from scanform.binder.doubts import doubts_in
from scanform.binder.schema import waiting
from scanform.binder.spot_checks import hidden
from scanform.binder.store import jotting, reading
from scanform.binder.types import LentDoubt, WaitingSort

__all__ = [
    "LOAN_S",
    "count_on_loan",
    "count_waiting",
    "doubt_at",
    "hand_back",
    "lend",
    "lend_this",
    "waiting_sorts",
]

# A page that is looked at renews its loans every minute; three without a word mean that somebody has left.
LOAN_S = 180.0


def lend(
    engine: Engine, holder: str, most: int, sort: str | None = None, without: Collection[str] = ()
) -> list[LentDoubt]:
    """The next doubts for somebody, most urgent first, which nobody else gets until they are settled or handed back.

    ``holder`` names the person's seat; what it has on loan already is lent for longer and given again. ``sort``: only
    fields of that sort (:func:`scanform.binder.waiting.sort_of`). ``without``: references to leave out.
    """
    now = time.time()
    free = or_(waiting.c.lent_until.is_(None), waiting.c.lent_until < now, waiting.c.lent_to == holder)
    query = select(waiting.c.page_id, waiting.c.field_id).where(free)
    if sort is not None:
        query = query.where(waiting.c.sort == sort)
    in_order = query.order_by(waiting.c.urgency, waiting.c.page_id, waiting.c.field_id)
    left_out = set(without)
    with jotting(engine) as connection:
        found = connection.execute(in_order.limit(most + len(left_out))).all()
        chosen = [row for row in found if f"{row.page_id}.{row.field_id}" not in left_out][:most]
        if chosen:
            _lend(connection, holder, now, [(row.page_id, row.field_id) for row in chosen])
        return _lent(connection, [(row.page_id, row.field_id) for row in chosen])


def lend_this(engine: Engine, holder: str, ref: str) -> LentDoubt | None:
    """One doubt for somebody; None if it does not wait any more or somebody else has it."""
    key, now = split_ref(ref), time.time()
    with jotting(engine) as connection:
        free = or_(waiting.c.lent_until.is_(None), waiting.c.lent_until < now, waiting.c.lent_to == holder)
        if connection.execute(select(waiting.c.page_id).where(_any_of([key]) & free)).first() is None:
            return None
        _lend(connection, holder, now, [key])
        return next(iter(_lent(connection, [key])), None)


def hand_back(engine: Engine, holder: str, refs: Sequence[str] | None = None) -> None:
    """Let others have what somebody has on loan: all of it, or the doubts named."""
    mine = waiting.c.lent_to == holder
    if refs is not None:
        mine &= _any_of([split_ref(ref) for ref in refs])
    with jotting(engine) as connection:
        connection.execute(update(waiting).where(mine).values(lent_to=None, lent_until=None))


def count_on_loan(engine: Engine, holder: str) -> int:
    """How many doubts others are looking at just now."""
    query = select(func.count()).where((waiting.c.lent_until >= time.time()) & (waiting.c.lent_to != holder))
    with reading(engine) as connection:
        return connection.execute(query).scalar_one()


def count_waiting(engine: Engine) -> int:
    """How many fields wait for a person, spot checks included."""
    with reading(engine) as connection:
        return connection.execute(select(func.count()).select_from(waiting)).scalar_one()


def waiting_sorts(engine: Engine) -> list[WaitingSort]:
    """What waits, sort by sort, in the order in which it is lent."""
    query = (
        select(
            waiting.c.urgency, waiting.c.sort, waiting.c.critical, waiting.c.spot_check, func.count().label("fields")
        )
        .group_by(waiting.c.urgency)
        .order_by(waiting.c.urgency)
    )
    with reading(engine) as connection:
        return [WaitingSort(row.sort, row.critical, row.spot_check, row.fields) for row in connection.execute(query)]


def doubt_at(engine: Engine, ref: str) -> LentDoubt | None:
    """A doubt as it stands, lent to nobody; None if the field does not wait."""
    with reading(engine) as connection:
        return next(iter(_lent(connection, [split_ref(ref)])), None)


def _lend(connection: Connection, holder: str, now: float, keys: Sequence[tuple[int, str]]) -> None:
    renewed = update(waiting).values(lent_to=holder, lent_until=now + LOAN_S)
    connection.execute(renewed.where(_any_of(keys)))


def _lent(connection: Connection, keys: Sequence[tuple[int, str]]) -> list[LentDoubt]:
    if not keys:
        return []
    query = select(waiting.c.page_id, waiting.c.field_id).where(_any_of(keys) & waiting.c.spot_check)
    checks = {f"{row.page_id}.{row.field_id}" for row in connection.execute(query)}
    return [
        LentDoubt(
            hidden(doubt) if doubt.ref in checks else doubt,
            last_entry_about(connection, doubt.number, doubt.field.id),
            doubt.ref in checks,
        )
        for doubt in doubts_in(connection, _any_of(keys))
    ]


def _any_of(keys: Sequence[tuple[int, str]]) -> ColumnElement[bool]:
    return or_(*((waiting.c.page_id == number) & (waiting.c.field_id == name) for number, name in keys))
