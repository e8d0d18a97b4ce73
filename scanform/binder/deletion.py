"""Deleting files whose time is over, with all their pages: the journal keeps what went, by its hashes.

The journal's own entries stay, since the chain of hashes hangs on them: what was read stays known, its ink is gone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, delete, func, select

from scanform.binder import journal, schema
from scanform.binder.archive import find_archived
from scanform.binder.closings import put_closing
from scanform.binder.schema import closing, decision, field, page, spot_check
from scanform.binder.store import writing
from scanform.binder.types import ClosingWish
from scanform.binder.values import checked_initials
from scanform.errors import BinderError, UsageError
from scanform.settle.types import Outcome, State

__all__ = ["delete_files", "forget_pages", "page_of"]

_KEPT = (Outcome.UNREADABLE.value, Outcome.UNKNOWN_FORM.value)


def delete_files(
    engine: Engine, folder: Path, reasons: Mapping[str, str], initials: str, carried: Sequence[ClosingWish] = ()
) -> list[int]:
    """Delete archived files, by SHA-256, with the rows of all their pages; ``reasons``: for each the rule that lets it.

    ``carried``: closings that are to stand at reports that stay, because what they were said of goes; they are on
    record before anything is gone. Each file is one journal entry, with the SHA-256 of each page's own entry. Returns
    the record numbers deleted. UsageError, and nothing deleted, if a page was never read, still has a doubt, or is the
    newest on record.
    """
    who = checked_initials(initials)
    gone: list[int] = []
    with writing(engine, folder) as connection:
        for wish in carried:
            put_closing(connection, wish, who)
        for sha256, rule in reasons.items():
            gone += _delete(connection, sha256, rule, who)
    # Only after the commit: a file without its rows is a note of the check, rows without their file are a fault.
    for sha256 in reasons:
        archived = find_archived(folder, sha256)
        if archived is not None:
            try:
                archived.unlink()
            except OSError as problem:
                raise BinderError(f"{archived} cannot be deleted: {problem.strerror}; delete it by hand.") from problem
    return gone


def forget_pages(tables: Mapping[str, dict[Any, dict[str, Any]]], numbers: Sequence[int]) -> None:
    """What a deletion leaves of the tables as the journal tells them."""
    for name in ("decision", "spot_check", "closing"):
        for key in [key for key, row in tables[name].items() if row["page_id"] in numbers]:
            del tables[name][key]


def _delete(connection: Connection, sha256: str, rule: str, who: str) -> list[int]:
    rows = connection.execute(select(page).where(page.c.sha256 == sha256).order_by(page.c.id)).all()
    if not rows:
        raise UsageError(f"No page of a file {sha256[:16]}... is on record; list what may go anew.")
    numbers = [row.id for row in rows]
    newest = connection.execute(select(func.max(page.c.id))).scalar()
    doubtful = (field.c.page_id.in_(numbers)) & (field.c.state == State.DOUBTFUL.value)
    unread = [row.id for row in rows if row.outcome in _KEPT]
    if unread or newest in numbers or connection.execute(select(field.c.page_id).where(doubtful)).first():
        raise UsageError(f"Page {(unread or numbers)[0]} ({rows[0].source}) may not go yet; list what may go anew.")
    body = {
        "sha256": sha256,
        "source": rows[0].source,
        "pages": numbers,
        "entries": _entries(connection, numbers),
        "rule": rule,
        "initials": who,
    }
    journal.append(connection, "pages-deleted", body)
    for table in (spot_check, decision, closing, field):
        connection.execute(delete(table).where(table.c.page_id.in_(numbers)))
    connection.execute(delete(page).where(page.c.id.in_(numbers)))
    return numbers


def _entries(connection: Connection, numbers: Sequence[int]) -> dict[str, str]:
    """The hash of the journal entry that recorded each page, in one pass over the journal."""
    wanted = set(numbers)
    table = schema.journal
    query = (
        select(table.c.hash, table.c.body).where(table.c.kind.in_(("page", "page-read-again"))).order_by(table.c.seq)
    )
    found = {}
    for row in connection.execute(query).yield_per(200):
        number = page_of(row.body)
        if number in wanted:
            found[str(number)] = row.hash
    return found


def page_of(body: str) -> int:
    """The record number in the body of a page's entry, which is canonical JSON: keys in order, no spaces."""
    match = re.search(r'"page":(\d+),"page_number":', body)
    return int(match[1]) if match else -1
