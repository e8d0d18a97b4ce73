"""A record that must not be written to: a backup on a read-only disk, a folder that belongs to somebody else.

SQLite keeps two files beside a database in WAL mode while anybody reads it. Where these can neither be made nor are
there, the database is opened as one that nothing changes, which holds as long as it is write-protected for everybody.
"""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from urllib.parse import quote

from scanform.errors import BinderError

__all__ = ["connect_protected", "is_protected"]


def is_protected(record: Path) -> bool:
    """Whether the database or its folder cannot be written to by this process."""
    return not (os.access(record, os.W_OK) and os.access(record.parent, os.W_OK))


def connect_protected(record: Path, timeout_s: float) -> sqlite3.Connection:
    """A connection that can only read; BinderError if the database holds words that it cannot show."""
    wal = record.with_name(f"{record.name}-wal")
    unmerged = wal.is_file() and wal.stat().st_size > 0
    mode = "mode=ro" if unmerged else "mode=ro&immutable=1"
    connection = sqlite3.connect(
        f"file:{quote(str(record.absolute()))}?{mode}", uri=True, timeout=timeout_s, check_same_thread=False
    )
    try:
        connection.execute("PRAGMA schema_version").fetchone()
    except sqlite3.OperationalError as problem:
        connection.close()
        if unmerged:
            raise BinderError(
                f"The binder {record.parent} is write-protected, and {wal.name} holds entries of a run that was "
                "stopped; copy the whole folder to where it can be written, and open the copy."
            ) from problem
        raise
    return connection
