"""Runs scanform's commands as processes that kill themselves just before their n-th write, or have no rights.

Started as a script it is a server: it has scanform imported once, and for each line on its standard input, a JSON
object, it forks a process that runs the command in ``argv``. That one sends itself the signal ``by`` before its
``at``-th write (0: never), or is sent it after ``after_s`` seconds (0: never), and gives up root's rights if ``user``
is above 0.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

# Everything by which a command makes something last, or undoes it. What SQLite does within a commit cannot be cut
# open here; that a commit lands whole or not at all is SQLite's promise, and the kills by the clock put it to the test.
_CALLS = ("fsync", "replace", "rename", "mkdir", "unlink", "chmod")
_CHANGES = ("INSERT", "UPDATE", "DELETE", "CREATE")


@dataclass(frozen=True)
class Ended:
    """``status``: the exit status, or minus the signal that ended it. ``writes``: the name of each write up to there.
    ``said``: what it wrote to the terminal.
    """

    status: int
    writes: tuple[str, ...]
    said: str


class Server:
    """The server as a test asks it."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def run(self, *argv: object, at: int = 0, after_s: float = 0.0, by: int = signal.SIGKILL, user: int = 0) -> Ended:
        """Run a command in a process of its own."""
        answer = self._ask(argv=[str(a) for a in argv], at=at, after_s=after_s, by=by, user=user, warm=False)
        return Ended(answer["status"], tuple(answer["writes"].split()), answer["said"])

    def warm_up(self, *argv: object) -> None:
        """Run a command in the server itself, only so that later processes have its tables and vocabulary loaded."""
        self._ask(argv=[str(a) for a in argv], warm=True)

    def _ask(self, **asked: Any) -> dict[str, Any]:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(asked) + "\n")
        self._process.stdin.flush()
        answer: dict[str, Any] = json.loads(self._process.stdout.readline())
        return answer


@contextlib.contextmanager
def server(env: dict[str, str]) -> Iterator[Server]:
    """A running server."""
    process = subprocess.Popen(
        [sys.executable, __file__],
        cwd=Path(__file__).resolve().parents[1],
        env=env,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    try:
        yield Server(process)
    finally:
        assert process.stdin is not None
        process.stdin.close()
        process.wait()


def _count_writes(at: int, by: int, tell: int) -> None:
    done = 0

    def write(name: str) -> None:
        nonlocal done
        done += 1
        if done == at:
            os.kill(os.getpid(), by)
        os.write(tell, name.encode() + b"\n")

    for name in _CALLS:
        original = getattr(os, name)

        def counted(*arguments: Any, _original: Any = original, _name: str = name, **named: Any) -> Any:
            write(_name)
            return _original(*arguments, **named)

        setattr(os, name, counted)

    class Cursor(sqlite3.Cursor):
        def execute(self, statement: str, *arguments: Any) -> sqlite3.Cursor:
            if statement.lstrip().upper().startswith(_CHANGES):
                write("statement")
            return super().execute(statement, *arguments)

    class Connection(sqlite3.Connection):
        def cursor(self, *_: Any) -> Cursor:
            return super().cursor(Cursor)

        def commit(self) -> None:
            write("commit")
            super().commit()

    connect = sqlite3.dbapi2.connect

    def connected(*arguments: Any, **named: Any) -> sqlite3.Connection:
        return connect(*arguments, **{**named, "factory": Connection})

    sqlite3.connect = sqlite3.dbapi2.connect = connected  # type: ignore[assignment]


def _serve() -> None:
    from scanform.batch import counting, pool, worker
    from scanform.cli import main
    from scanform.form import built_in_templates

    # Only for speed: the networks are loaded once, the processes that are killed have them from the start, and do the
    # work of their workers themselves.
    worker.prepare(built_in_templates())
    pool.done_in_order = counting.done_in_order = _done_here  # type: ignore[assignment]
    for line in sys.stdin:
        asked = json.loads(line)
        if asked["warm"]:
            sys.argv = ["scanform", *asked["argv"]]
            with contextlib.redirect_stdout(sys.stderr), contextlib.suppress(SystemExit):
                main()
            answer = {}
        else:
            answer = _ended(main, asked)
        print(json.dumps(answer), flush=True)


def _done_here(job: Any, pieces: Iterable[Any], *_: Any) -> Generator[Any, None, None]:
    yield from map(job.work, pieces)


def _ended(main: Callable[[], None], asked: dict[str, Any]) -> dict[str, Any]:
    tell, said = os.memfd_create("writes"), os.memfd_create("said")
    child = os.fork()
    if child == 0:
        os.dup2(said, 1)
        os.dup2(said, 2)
        if asked["user"]:
            os.setgroups([])
            os.setgid(asked["user"])
            os.setuid(asked["user"])
        sys.argv = ["scanform", *asked["argv"]]
        _count_writes(asked["at"], asked["by"], tell)
        try:
            main()
            status = 0
        except SystemExit as left:
            status = int(left.code or 0)
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)
    if asked["after_s"]:
        time.sleep(asked["after_s"])
        os.kill(child, asked["by"])  # not waited for yet, so the number is still its own
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    return {"status": status, "writes": _text(tell), "said": _text(said)}


def _text(handle: int) -> str:
    with os.fdopen(handle, "rb") as told:
        told.seek(0)
        return told.read().decode()


if __name__ == "__main__":
    _serve()
