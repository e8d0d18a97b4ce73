"""The check of a whole binder: the chain, the tables against the journal, the archive against its hashes."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence, Set
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, RowMapping, func, select, true

from scanform.binder import schema
from scanform.binder.archive import archived_files, file_sha256
from scanform.binder.journal import HEAD, Head, noted_head
from scanform.binder.replay import Replay, Row, replay
from scanform.binder.rows import BEFORE_COLUMN, PAGE_COLUMNS, journal_field, plain_value
from scanform.binder.store import reading
from scanform.binder.types import VerifyReport
from scanform.binder.waiting import waiting_rows
from scanform.errors import BinderError, FileUnreadable
from scanform.files import UNFINISHED

__all__ = ["compare_pages", "compare_tables", "head_problems", "missing_and_extra", "said", "verify"]

_AT_ONCE = 200  # pages compared at a time, so that a binder of many years fits in memory


def verify(engine: Engine, folder: Path) -> VerifyReport:
    """Check everything; nothing is written. Whatever is wrong is a sentence in ``problems``.

    What it cannot see: entries cut off the end by somebody who also rewrites ``journal.head``. Keep a copy of
    ``head_hash`` elsewhere (on the printed list, say) to close that gap.
    """
    noted = noted_head(folder)  # before the database is looked at: another process may be adding to both
    try:
        with reading(engine) as connection:
            told = replay(connection)
            problems = [*told.problems, *head_problems(connection, folder, noted, told.last)]
            problems += _page_problems(connection, told)
            problems += compare_tables(connection, told.tables)
            problems += _waiting_problems(connection)
            named = _named_files(connection)
            pages = connection.execute(select(func.count()).select_from(schema.page)).scalar_one()
    except BinderError as problem:
        return VerifyReport(0, 0, 0, "", (str(problem),))
    wrong, notes, files = _archive_findings(folder, named)
    return VerifyReport(told.last.seq, pages, files, told.last.hash, (*problems, *wrong), tuple(notes))


def head_problems(connection: Connection, folder: Path, noted: Head | None, last: Head) -> Iterator[str]:
    """What is wrong between the journal's last entry and the head noted beside it."""
    if noted is None:
        if last.seq > 1:
            yield f"{folder / HEAD} is missing or empty; entries cut off the journal's end would go unseen."
        return
    if noted.seq > last.seq:
        lost = f"entry {noted.seq} is" if noted.seq == last.seq + 1 else f"entries {last.seq + 1} to {noted.seq} are"
        yield f"The journal ends at entry {last.seq}, but {HEAD} has noted entry {noted.seq}: {lost} missing."
        return
    table = schema.journal
    if connection.execute(select(table.c.hash).where(table.c.seq == noted.seq)).scalar() != noted.hash:
        yield f"Journal entry {noted.seq} is not the one that {HEAD} has noted; the journal was replaced."


def _page_problems(connection: Connection, told: Replay) -> Iterator[str]:
    stored = set(connection.execute(select(schema.page.c.id)).scalars())
    yield from missing_and_extra(stored, told)
    orphans = select(schema.field.c.page_id).where(schema.field.c.page_id.not_in(select(schema.page.c.id))).distinct()
    for number in connection.execute(orphans).scalars():
        yield f"The tables hold fields of page {number}, which is not there."
    yield from compare_pages(connection, told, sorted(stored & told.page_seq.keys()))


def missing_and_extra(stored: Set[int], told: Replay) -> Iterator[str]:
    """Pages that only the tables have (``stored``: their numbers), or only the journal."""
    for number in sorted(stored - told.page_seq.keys()):
        yield f"Page {number} is in the tables, but no journal entry records it."
    for number in sorted(told.page_seq.keys() - stored):
        yield f"Page {number} was recorded by journal entry {told.page_seq[number]}, but it is gone from the tables."


def compare_pages(connection: Connection, told: Replay, numbers: Sequence[int]) -> Iterator[str]:
    """What some pages' rows and fields say other than their journal entries and people's decisions."""
    for start in range(0, len(numbers), _AT_ONCE):
        yield from _compare_some(connection, told, numbers[start : start + _AT_ONCE])


def _compare_some(connection: Connection, told: Replay, numbers: Sequence[int]) -> Iterator[str]:
    page, field, table = schema.page, schema.field, schema.journal
    fields: dict[int, list[RowMapping]] = defaultdict(list)
    query = select(field).where(field.c.page_id.in_(numbers)).order_by(field.c.page_id, field.c.position)
    for row in connection.execute(query).mappings():
        fields[row["page_id"]].append(row)
    seqs = [told.page_seq[n] for n in numbers]
    entries = connection.execute(select(table.c.seq, table.c.body).where(table.c.seq.in_(seqs)))
    bodies = {entry.seq: entry.body for entry in entries}
    for row in connection.execute(select(page).where(page.c.id.in_(numbers)).order_by(page.c.id)).mappings():
        number = row["id"]
        body = json.loads(bodies[told.page_seq[number]])
        name = f"Page {number} ({row['source']}, page {row['page_number']})"
        try:
            yield from _compare_page(name, row, fields[number], body, told.changes[number])
        except (ValueError, KeyError, TypeError) as problem:
            yield f"{name} cannot be compared with its journal entry ({problem}); one of the two was changed."


def _compare_page(
    name: str, row: RowMapping, fields: Sequence[RowMapping], body: Row, changes: Sequence[Row]
) -> Iterator[str]:
    expected = {column: (BEFORE_COLUMN | body)[column] for column in PAGE_COLUMNS}
    now = {f["id"]: (f["value"], f["state"]) for f in body["fields"]}
    objected: dict[str, list[str]] = defaultdict(list)
    for change in changes:
        expected |= change["filed_after"]
        if "field" in change:
            objected[change["field"]] += [change["reason"]] if "reason" in change else []
            now[change["field"]] = (change["new"]["value"], change["new"]["state"])
    for column, value in expected.items():
        if row[column] != value:
            yield f"{name}: {column} is {said(row[column])} in the tables, but {said(value)} by the journal."
    ink = row["ink_signature"]
    if (hashlib.sha256(ink).hexdigest() if ink is not None else None) != body["ink_sha256"]:
        yield f"{name}: its ink signature is not the one that the journal recorded."
    stored = {f["field_id"]: f for f in fields}
    if [f["field_id"] for f in fields] != [f["id"] for f in body["fields"]]:
        for lost in [i for i in now if i not in stored]:
            yield f"{name}: field {lost} is gone from the tables."
        for extra in [i for i in stored if i not in now]:
            yield f"{name}: field {extra} is in the tables, but the journal never recorded it."
        if stored.keys() == now.keys():
            yield f"{name}: its fields are in another order than the journal recorded."
    for read in body["fields"]:
        if read["id"] in stored:
            read_now = read | {"reasons": [*read["reasons"], *objected[read["id"]]]}
            yield from _compare_field(f"{name}: field {read['id']}", stored[read["id"]], read_now, now[read["id"]])


def _compare_field(name: str, row: RowMapping, read: Row, now: tuple[Any, str]) -> Iterator[str]:
    holds = (plain_value(row["kind"], row["value"]), row["state"])
    if holds != now:
        yield f"{name} is {said(holds[0])} ({holds[1]}) in the tables, but {said(now[0])} ({now[1]}) by the journal."
    for key, value in journal_field(row).items():
        if value != read[key]:
            if key == "details":
                yield f"{name}: its place on the page or its alternatives are not the ones that were recorded."
            else:
                what = f"{key} as it was read"
                yield f"{name}: {what} is {said(value)} in the tables, but {said(read[key])} by the journal."


def compare_tables(connection: Connection, tables: Mapping[str, Mapping[Any, Row]]) -> Iterator[str]:
    """What the tables beside those of pages and fields hold other than the journal tells; all of them are small."""
    for name, expected in tables.items():
        table = schema.metadata.tables[name]
        keys = [c.name for c in table.primary_key.columns]
        stored = {tuple(row[k] for k in keys): dict(row) for row in connection.execute(select(table)).mappings()}
        wanted = {key if isinstance(key, tuple) else (key,): row for key, row in expected.items()}
        for key in sorted(stored.keys() | wanted.keys(), key=str):
            what = f"{name} {' '.join(str(k) for k in key)}"
            if key not in wanted:
                yield f"The tables hold {what}, but no journal entry records it."
            elif key not in stored:
                yield f"The journal records {what}, but it is gone from the tables."
            else:
                for column in [c for c in stored[key] if stored[key][c] != wanted[key].get(c)]:
                    has, says = said(stored[key][column]), said(wanted[key].get(column))
                    yield f"{column} of {what} is {has} in the tables, but {says} by the journal."


def _waiting_problems(connection: Connection) -> Iterator[str]:
    """Whether exactly that waits for a person which is doubtful or drawn as a spot check."""
    columns = [c for c in schema.waiting.columns if not c.name.startswith("lent_")]
    stored = {(row["page_id"], row["field_id"]): dict(row) for row in connection.execute(select(*columns)).mappings()}
    wanted = {(row["page_id"], row["field_id"]): row for row in waiting_rows(connection, true())}
    for number, name in sorted(stored.keys() | wanted.keys()):
        if (number, name) not in wanted:
            yield f"Field {name} of page {number} waits for a person in the tables, but it is settled."
        elif (number, name) not in stored:
            yield f"Field {name} of page {number} waits for a person, but no desk would show it."
        elif stored[number, name] != wanted[number, name]:
            yield f"Field {name} of page {number} waits in another place than it should."


def _named_files(connection: Connection) -> dict[str, list[str]]:
    """SHA-256 of every file that pages came from, with the pages' names."""
    named: dict[str, list[str]] = defaultdict(list)
    page = schema.page.c
    for row in connection.execute(select(page.id, page.sha256, page.source, page.page_number).order_by(page.id)):
        named[row.sha256].append(f"page {row.id} ({row.source}, page {row.page_number})")
    return named


def _archive_findings(folder: Path, named: Mapping[str, Sequence[str]]) -> tuple[list[str], list[str], int]:
    problems, notes, seen, files = [], [], set(), 0
    for path in archived_files(folder):
        where = path.relative_to(folder)
        if path.name.endswith(UNFINISHED):
            notes.append(f"{where} was left by a run that was stopped; it can be deleted.")
            continue
        files += 1
        claimed = path.name.partition(".")[0]
        try:
            sound = file_sha256(path) == claimed
        except FileUnreadable as problem:
            problems.append(str(problem))
            continue
        seen.add(claimed)
        if not sound:
            problems.append(f"The archived file {where} does not hold the bytes that were recorded; it was changed.")
        elif claimed not in named:
            notes.append(f"{where} belongs to no recorded page; a run was stopped before it recorded any.")
    for sha256, pages in named.items():
        if sha256 not in seen:
            more = f" and {len(pages) - 1} more pages" if len(pages) > 1 else ""
            problems.append(f"The file of {pages[0]}{more} is not in the archive (SHA-256 {sha256}).")
    return problems, notes, files


def said(value: Any) -> str:
    """A value as problems name it."""
    return "blank" if value is None else f"'{value}'"
