"""The journal: an append-only chain of entries, each carrying the hash of the one before.

``hash`` is the SHA-256 of the RFC 8785 canonical JSON of ``{"at", "body", "kind", "previous", "seq"}``. The first
entry's ``previous`` is 64 zeros. The head (last ``seq`` and its hash) is also kept in the file ``journal.head``
beside the database, so that entries cut off the end are missed. That file is written after the commit: it may
lag behind after a crash, it can never be ahead.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import rfc8785
from sqlalchemy import Connection, insert, select

from scanform.binder.schema import journal
from scanform.binder.types import JournalEntry
from scanform.errors import JournalBroken
from scanform.files import write_whole

__all__ = [
    "GENESIS",
    "HEAD",
    "NOTHING_YET",
    "Head",
    "append",
    "check_head",
    "entries",
    "entry_hash",
    "entry_heads",
    "entry_row",
    "head",
    "note_head",
    "noted_head",
    "now",
]

HEAD = "journal.head"
GENESIS = "0" * 64


class Head(NamedTuple):
    """The last entry's number and hash; ``(0, GENESIS)`` for an empty journal."""

    seq: int
    hash: str


NOTHING_YET = Head(0, GENESIS)


def now() -> str:
    """This moment in UTC, ISO 8601 with microseconds."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="microseconds")


def entry_hash(seq: int, at: str, kind: str, body: Mapping[str, Any], previous: str) -> str:
    """The hash of an entry, in hex."""
    whole: dict[str, Any] = {"at": at, "body": body, "kind": kind, "previous": previous, "seq": seq}
    return hashlib.sha256(rfc8785.dumps(whole)).hexdigest()


def append(connection: Connection, kind: str, body: Mapping[str, Any], at: str | None = None) -> int:
    """Add an entry inside the caller's transaction; returns its ``seq``."""
    row = entry_row(head(connection), kind, rfc8785.dumps(dict(body)), at or now())
    connection.execute(insert(journal), [row])
    return int(row["seq"])


def entry_row(last: Head, kind: str, canonical: bytes, at: str) -> dict[str, Any]:
    """The row of the entry that follows ``last``; ``canonical``: its body as RFC 8785 canonical JSON."""
    seq = last.seq + 1
    # Canonical JSON nests, so the body's bytes stand unchanged inside the whole entry's: canonicalise it once.
    whole = b'{"at":%s,"body":%s,"kind":%s,"previous":"%s","seq":%d}' % (
        rfc8785.dumps(at),
        canonical,
        rfc8785.dumps(kind),
        last.hash.encode(),
        seq,
    )
    return {
        "seq": seq,
        "at": at,
        "kind": kind,
        "body": canonical.decode(),
        "previous_hash": last.hash,
        "hash": hashlib.sha256(whole).hexdigest(),
    }


def head(connection: Connection) -> Head:
    """The last entry in the database."""
    row = connection.execute(select(journal.c.seq, journal.c.hash).order_by(journal.c.seq.desc()).limit(1)).first()
    return Head(row.seq, row.hash) if row else NOTHING_YET


def entries(connection: Connection) -> Iterator[JournalEntry]:
    """All entries in order of ``seq``, as they stand: nothing is checked here."""
    for row in connection.execute(select(journal).order_by(journal.c.seq)).yield_per(200):
        yield JournalEntry(
            row.seq,
            dt.datetime.fromisoformat(row.at),
            row.kind,
            json.loads(row.body),
            row.previous_hash,
            row.hash,
        )


def entry_heads(connection: Connection) -> list[JournalEntry]:
    """All entries in order of ``seq`` with empty bodies, which would be most of their bulk."""
    columns = (journal.c.seq, journal.c.at, journal.c.kind, journal.c.previous_hash, journal.c.hash)
    return [
        JournalEntry(row.seq, dt.datetime.fromisoformat(row.at), row.kind, {}, row.previous_hash, row.hash)
        for row in connection.execute(select(*columns).order_by(journal.c.seq))
    ]


def note_head(folder: Path, last: Head) -> None:
    """Write ``journal.head``, unless it notes this entry or a later one already; OSError if it cannot be written."""
    noted = noted_head(folder)
    if noted is not None and noted.seq >= last.seq:
        return
    write_whole(folder / HEAD, (json.dumps({"seq": last.seq, "hash": last.hash}).encode(),))


def noted_head(folder: Path) -> Head | None:
    """What ``journal.head`` says; None if it is missing or says nothing."""
    try:
        said = json.loads((folder / HEAD).read_text())
        return Head(int(said["seq"]), str(said["hash"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def check_head(connection: Connection, folder: Path) -> None:
    """Refuse to write on top of a journal that has lost entries; JournalBroken names what is gone.

    Writing on would hide the loss: new entries would take the lost ones' numbers.
    """
    noted = noted_head(folder)
    if noted is None:
        last = head(connection)
        if last.seq == 1:  # a binder killed while it was made has one entry and no head file yet
            note_head(folder, last)
        elif last.seq > 1:
            raise JournalBroken(
                f"{folder / HEAD} is missing or empty, so nobody can tell whether the journal is whole; "
                "put it back from a backup before adding to this binder."
            )
        return
    stored = connection.execute(select(journal.c.hash).where(journal.c.seq == noted.seq)).scalar()
    if stored != noted.hash:
        raise JournalBroken(
            f"The journal of {folder} no longer holds entry {noted.seq} as {HEAD} noted it; "
            "run the verification and put the binder back from a backup."
        )
