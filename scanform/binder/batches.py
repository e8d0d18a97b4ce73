"""Batches: what came in and what became of it. The count of pages in comes from outside and must balance."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Row, insert, select, update

from scanform.binder import journal
from scanform.binder.history import last_outcome
from scanform.binder.schema import batch, page
from scanform.binder.store import reading, writing
from scanform.binder.types import BatchRecord
from scanform.errors import BinderError
from scanform.settle.types import Outcome

__all__ = [
    "balance",
    "balance_in_journal",
    "balance_sentence",
    "batch_record",
    "batches",
    "begin_batch",
    "end_batch",
    "last_batch",
]


def begin_batch(engine: Engine, folder: Path, sources: Iterable[str]) -> int:
    """Open a batch over the files as the user named them; returns its id."""
    named = [str(s).encode("utf-8", "backslashreplace").decode() for s in sources]
    at = journal.now()
    with writing(engine, folder) as connection:
        row = {"begun_at": at, "sources": named}
        batch_id = connection.execute(insert(batch).returning(batch.c.id), row).scalar_one()
        journal.append(connection, "batch-begun", {"batch": batch_id, "sources": named}, at)
    return batch_id


def end_batch(engine: Engine, folder: Path, batch_id: int, pages: Sequence[int], pages_in: int) -> dict[Outcome, int]:
    """Close a batch; returns its balance, counted from the record.

    ``pages``: the record number of every page fed, in input order (those known from before included).
    ``pages_in``: how many pages the files hold, counted while opening them and not from ``pages``.
    BinderError if the two do not agree, if a number is not on the record, or if the batch has ended before.
    """
    at = journal.now()
    with writing(engine, folder) as connection:
        row = connection.execute(select(batch).where(batch.c.id == batch_id)).first()
        if row is None:
            raise BinderError(f"There is no batch {batch_id} in this binder.")
        if row.ended_at is not None:
            raise BinderError(f"Batch {batch_id} has ended before; begin a new one.")
        counted, more = _count(connection, pages), _more_sheets(connection, pages)
        if sum(counted.values()) != pages_in + more:
            raise BinderError(f"Batch {batch_id} does not balance: {balance_sentence(pages_in, more, counted)}.")
        plain = {outcome.value: n for outcome, n in counted.items()}
        closed = {"pages_in": pages_in, "more_sheets": more, "pages": list(pages), "balance": plain}
        connection.execute(update(batch).where(batch.c.id == batch_id).values(ended_at=at, **closed))
        body = {"batch": batch_id, **closed}
        journal.append(connection, "batch-ended", body, at)
    return counted


def balance(engine: Engine, batch_id: int) -> dict[Outcome, int]:
    """Pages by outcome, counted anew from the record: of an open batch, of what it has recorded so far."""
    record = batch_record(engine, batch_id)
    with reading(engine) as connection:
        pages: Sequence[int] = record.pages
        if record.ended_at is None:
            own = select(page.c.id).where(page.c.batch_id == batch_id)
            pages = list(connection.execute(own).scalars())
        return _count(connection, pages)


def balance_in_journal(engine: Engine, batch_id: int) -> dict[Outcome, int]:
    """Pages of a finished batch by the outcome that the journal last gave each."""
    record = batch_record(engine, batch_id)
    with reading(engine) as connection:
        tally = Counter(last_outcome(connection, number) for number in record.pages)
    return {outcome: tally[outcome] for outcome in Outcome}


def batch_record(engine: Engine, batch_id: int) -> BatchRecord:
    """A batch as it stands; BinderError if there is none with that id."""
    with reading(engine) as connection:
        row = connection.execute(select(batch).where(batch.c.id == batch_id)).first()
    if row is None:
        raise BinderError(f"There is no batch {batch_id} in this binder.")
    return _record_from(row)


def batches(engine: Engine, start: int, at_most: int) -> list[BatchRecord]:
    """Batches ``start`` and following, the newest first."""
    with reading(engine) as connection:
        rows = connection.execute(select(batch).order_by(batch.c.id.desc()).limit(at_most).offset(start)).all()
    return [_record_from(row) for row in rows]


def last_batch(engine: Engine) -> int | None:
    """The id of the newest batch, None if there is none."""
    with reading(engine) as connection:
        return connection.execute(select(batch.c.id).order_by(batch.c.id.desc()).limit(1)).scalar()


def balance_sentence(pages_in: int, more_sheets: int, counted: dict[Outcome, int]) -> str:
    """The balance in words, whether it holds or not."""
    parts = " + ".join(f"{n} {outcome.value}" for outcome, n in counted.items())
    more = f" and {more_sheets} more sheets beside another" if more_sheets else ""
    return f"{pages_in} pages in{more}, {sum(counted.values())} accounted for ({parts})"


def _more_sheets(connection: Connection, pages: Sequence[int]) -> int:
    """How many of the pages are further sheets of one picture.

    BinderError if a picture's sheets are not all among the pages.
    """
    fed = Counter(pages)
    near = page.c.id.between(min(pages, default=0), max(pages, default=0))
    columns = (page.c.id, page.c.sha256, page.c.page_number, page.c.source_path, page.c.part, page.c.parts)
    pictures: dict[tuple[str, int, str], list[int]] = {}
    sheets: dict[tuple[str, int, str], int] = {}
    more = 0
    for row in connection.execute(select(*columns).where(near)):
        if fed[row.id]:
            key = (row.sha256, row.page_number, row.source_path)
            pictures.setdefault(key, []).append(row.part)
            sheets[key] = max(sheets.get(key, 1), row.parts)
            more += fed[row.id] * (row.part > 1)
    for key, parts in pictures.items():
        if sorted(parts) != list(range(1, len(parts) + 1)) or len(parts) < sheets[key]:
            raise BinderError(f"Page {key[1]} of {key[2]} shows several sheets, and not all of them are counted.")
    return more


def _record_from(row: Row[Any]) -> BatchRecord:
    return BatchRecord(
        row.id,
        dt.datetime.fromisoformat(row.begun_at),
        tuple(row.sources),
        dt.datetime.fromisoformat(row.ended_at) if row.ended_at else None,
        row.pages_in,
        tuple(row.pages or ()),
        {Outcome(k): v for k, v in row.balance.items()} if row.balance is not None else None,
        row.more_sheets or 0,
    )


def _count(connection: Connection, pages: Sequence[int]) -> dict[Outcome, int]:
    near = page.c.id.between(min(pages, default=0), max(pages, default=0))
    found = connection.execute(select(page.c.id, page.c.outcome).where(near))
    outcomes: dict[int, str] = {row.id: row.outcome for row in found}
    tally = Counter(outcomes.get(number) for number in pages)
    if None in tally:
        missing = next(n for n in pages if n not in outcomes)
        raise BinderError(f"Page {missing} is counted in a batch but is not on the record.")
    return {outcome: tally[outcome.value] for outcome in Outcome}
