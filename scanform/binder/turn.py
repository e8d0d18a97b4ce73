"""Taking turns: one run at a time reads pages into a binder.

Whether a sheet was seen before, and what its hours may be, hangs on all that is on record. Two runs that settle pages
side by side would each miss what the other is about to record. The lock is a SQLite file held exclusively: it
works wherever the record itself does, and the system lets go of it when its holder is killed.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from scanform.errors import BinderError

__all__ = ["TURN", "held_alone", "one_reader"]

TURN = "reading.lock"

_SHORT_WAIT_S = 2.0  # a wait that nobody needs to be told of
_LOOK_AGAIN_S = 0.5  # while waiting on, so that Ctrl-C is heard


@contextmanager
def one_reader(folder: Path, on_wait: Callable[[str], None]) -> Iterator[None]:
    """Hold the binder for reading into it; wait for whoever holds it.

    While the wait is long ``on_wait`` is called again and again with the same sentence; it may raise to end it.
    """
    with closing(_lock(folder / TURN)) as lock:
        wait_s = _SHORT_WAIT_S
        while not _taken(lock, wait_s, folder):
            on_wait(f"Another run is reading into {folder}; this one goes on when that has finished.")
            wait_s = _LOOK_AGAIN_S
        yield


@contextmanager
def held_alone(lock_file: Path) -> Iterator[bool]:
    """Hold a lock file without waiting; False if somebody else holds it. BinderError if it cannot be made."""
    with closing(_lock(lock_file)) as lock:
        yield _taken(lock, 0.0, lock_file.parent)


def _lock(file: Path) -> sqlite3.Connection:
    try:
        lock = sqlite3.connect(file, isolation_level=None)
        if not file.stat().st_size:  # to hold an empty database SQLite has to write; to hold this one it need not
            lock.execute("PRAGMA user_version = 1")
    except sqlite3.OperationalError as problem:
        if "locked" not in str(problem):  # somebody else is filling it this moment
            raise _refused(file.parent, problem) from problem
    return lock


def _taken(lock: sqlite3.Connection, wait_s: float, folder: Path) -> bool:
    try:
        lock.execute(f"PRAGMA busy_timeout = {round(wait_s * 1000)}")
        lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as problem:
        if "locked" in str(problem):
            return False
        raise _refused(folder, problem) from problem
    return True


def _refused(folder: Path, problem: sqlite3.OperationalError) -> BinderError:
    return BinderError(
        f"{folder} cannot be held for reading ({problem}); make room there, or check that you may write to the folder."
    )
