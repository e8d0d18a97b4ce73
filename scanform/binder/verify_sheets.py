"""The check of some sheets: the whole chain of the journal, and these sheets' rows and files against it.

For evidence on one unit out of a record of years: the full check compares every page, which takes minutes there.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import rfc8785
from sqlalchemy import Engine, select

from scanform.binder import schema
from scanform.binder.archive import file_sha256, find_archived
from scanform.binder.deletion import page_of
from scanform.binder.journal import Head, noted_head
from scanform.binder.replay import CHANGED, RECORDED, WRITTEN_ANEW, Replay
from scanform.binder.store import reading
from scanform.binder.types import VerifyReport
from scanform.binder.verify import compare_pages, head_problems

__all__ = ["verify_sheets"]


def verify_sheets(engine: Engine, folder: Path, numbers: Sequence[int]) -> VerifyReport:
    """Check the chain from its first entry to its last, and these sheets; nothing is written."""
    noted, wanted = noted_head(folder), sorted(set(numbers))
    with reading(engine) as connection:
        told = Replay()
        for entry in connection.execute(select(schema.journal).order_by(schema.journal.c.seq)).yield_per(200):
            told.problems += _chain_problems(entry, told.last)
            told.last = Head(entry.seq, entry.hash)
            if entry.kind in RECORDED:
                told.page_seq[page_of(entry.body)] = entry.seq
            elif entry.kind in WRITTEN_ANEW:
                number = json.loads(entry.body)["page"]
                told.page_seq[number] = entry.seq
                told.changes.pop(number, None)
            elif entry.kind in CHANGED:
                body = json.loads(entry.body)
                told.changes[body["page"]].append(body)
        problems = [*told.problems, *head_problems(connection, folder, noted, told.last)]
        lost = [number for number in wanted if number not in told.page_seq]
        problems += [f"No journal entry records page {number}." for number in lost]
        problems += compare_pages(connection, told, [number for number in wanted if number not in lost])
        table = schema.page.c
        came_from = select(table.sha256, table.source).where(table.id.in_(wanted)).distinct()
        files = {row.sha256: row.source for row in connection.execute(came_from)}
    problems += [said for sha256, source in files.items() for said in _file_problems(folder, sha256, source)]
    return VerifyReport(told.last.seq, len(wanted), len(files), told.last.hash, tuple(problems))


def _chain_problems(entry: Any, last: Head) -> Iterator[str]:
    if entry.seq != last.seq + 1 or entry.previous_hash != last.hash:
        yield f"Journal entry {entry.seq} does not follow entry {last.seq}; one is missing or was replaced."
    # The body is kept as canonical JSON, so its bytes stand unchanged inside the whole entry's.
    whole = b'{"at":%s,"body":%s,"kind":%s,"previous":"%s","seq":%d}' % (
        *(rfc8785.dumps(entry.at), entry.body.encode(), rfc8785.dumps(entry.kind), entry.previous_hash.encode()),
        entry.seq,
    )
    if hashlib.sha256(whole).hexdigest() != entry.hash:
        yield f"Journal entry {entry.seq} ({entry.kind}, {entry.at}) does not match its hash; it was changed."


def _file_problems(folder: Path, sha256: str, source: str) -> Iterator[str]:
    archived = find_archived(folder, sha256)
    if archived is None:
        yield f"The file {source} is not in the archive (SHA-256 {sha256})."
    elif file_sha256(archived) != sha256:
        yield f"The archived file of {source} does not hold the bytes that were recorded; it was changed."
