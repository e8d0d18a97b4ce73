"""The check of some sheets: the whole chain of the journal, and what evidence on these sheets rests on against it.

For evidence on one unit out of a record of years: the full check compares every field of every page, which takes
minutes there. Here the fields and files of these sheets are compared, every table beside those of pages and fields
(closings, calendar, items and the like), and of all pages whether they are there, what became of them and where they
are filed: a sheet must not leave a pack by changing its unit.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import rfc8785
from sqlalchemy import Connection, Engine, select

from scanform.binder import schema
from scanform.binder.archive import file_sha256, find_archived
from scanform.binder.deletion import page_of
from scanform.binder.journal import Head, noted_head
from scanform.binder.replay import RECORDED, Replay, Row, spot_check_rows, tell
from scanform.binder.store import reading
from scanform.binder.types import VerifyReport
from scanform.binder.verify import compare_pages, compare_tables, head_problems, missing_and_extra, said

__all__ = ["verify_sheets"]

_FILED = ("unit", "date", "outcome")
# What a page's entry says beside its fields: it is canonical JSON, so names are in order, and quotes in a text escaped.
_SAYS = {name: re.compile(rf'"{name}":(null|"(?:[^"\\]|\\.)*")') for name in _FILED}
_SPOT_CHECKS = re.compile(r'"spot_checks":(\[[^\]]*\])')
_FIELDS, _AFTER_FIELDS = '"fields":[', '"ink_sha256":'


def verify_sheets(engine: Engine, folder: Path, numbers: Sequence[int]) -> VerifyReport:
    """Check the chain from its first entry to its last, these sheets, and where all others are filed; nothing is
    written.
    """
    noted, wanted = noted_head(folder), sorted(set(numbers))
    with reading(engine) as connection:
        told, filed = _told(connection)
        problems = [*told.problems, *head_problems(connection, folder, noted, told.last)]
        problems += _filing_problems(connection, told, filed, set(wanted))
        problems += compare_tables(connection, told.tables)
        problems += compare_pages(connection, told, [number for number in wanted if number in told.page_seq])
        table = schema.page.c
        came_from = select(table.sha256, table.source).where(table.id.in_(wanted)).distinct()
        files = {row.sha256: row.source for row in connection.execute(came_from)}
    problems += [wrong for sha256, source in files.items() for wrong in _file_problems(folder, sha256, source)]
    return VerifyReport(told.last.seq, len(wanted), len(files), told.last.hash, tuple(problems))


def _told(connection: Connection) -> tuple[Replay, dict[int, Row]]:
    """What the journal tells, and what each page was filed as when it was last read or entered.

    Of what was read on a page, which is nearly all of a journal's bulk, only where it is filed is taken in.
    """
    told, filed = Replay(), defaultdict[int, Row](dict)
    for entry in connection.execute(select(schema.journal).order_by(schema.journal.c.seq)).yield_per(200):
        told.problems += _chain_problems(entry, told.last)
        told.last = Head(entry.seq, entry.hash)
        if entry.kind in RECORDED:
            beside = _beside_fields(entry.body)
            number = page_of(beside)
            if entry.kind == "page" and number in told.page_seq:
                told.problems.append(f"Journal entry {entry.seq} records page {number} a second time.")
            told.page_seq[number] = entry.seq
            filed[number] = _filed(beside)
            drawn = _SPOT_CHECKS.search(beside)
            told.tables["spot_check"].update(spot_check_rows(number, json.loads(drawn[1]) if drawn else ()))
        else:
            tell(told, entry)
            if entry.kind in ("page-entered-by-hand", "entry-taken-back"):
                body = json.loads(entry.body)
                filed[body["page"]] = {name: body[name] for name in _FILED}
    return told, filed


def _beside_fields(body: str) -> str:
    """The body of a page's entry without its fields, which are nearly all of it."""
    return body[: body.find(_FIELDS)] + body[body.rfind(_AFTER_FIELDS) :]


def _filed(beside: str) -> Row:
    found = {name: says.search(beside) for name, says in _SAYS.items()}
    return {name: json.loads(match[1]) for name, match in found.items() if match is not None}


def _filing_problems(connection: Connection, told: Replay, filed: dict[int, Row], compared: set[int]) -> Iterator[str]:
    """Pages too many or too few, and those filed elsewhere than the journal tells. ``compared``: numbers of pages that
    are compared in full.
    """
    table = schema.page.c
    stored = {row.id: row for row in connection.execute(select(table.id, *(table[name] for name in _FILED)))}
    yield from missing_and_extra(stored.keys(), told)
    yield from (f"No page {number} is on record." for number in sorted(compared - stored.keys() - told.page_seq.keys()))
    for number in sorted(stored.keys() & told.page_seq.keys() - compared):
        expected = dict(filed[number])
        for change in told.changes.get(number, ()):
            expected |= {name: value for name, value in change["filed_after"].items() if name in _FILED}
        for name, value in expected.items():
            if getattr(stored[number], name) != value:
                has = said(getattr(stored[number], name))
                yield f"Page {number}: {name} is {has} in the tables, but {said(value)} by the journal."


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
