"""Stand-ins for reading a page that do to their worker process what a hostile file might. Imported by workers."""

from __future__ import annotations

import os
import signal
import time

from scanform.batch.worker import CarriedPage, Task


def carried(task: Task) -> CarriedPage:
    """A page that is read without trouble, whatever its file."""
    return CarriedPage(task, "blank", str(os.getpid()))


def seventh_kills(task: Task) -> CarriedPage:
    """As :func:`carried`, but the seventh page ends its process as the kernel does when memory is short."""
    if task.number == 7:
        os.kill(os.getpid(), signal.SIGKILL)
    return carried(task)


def fifth_hangs(task: Task) -> CarriedPage:
    """As :func:`carried`, but the fifth page never ends."""
    while task.number == 5:
        time.sleep(0.1)
    return carried(task)


def slow(task: Task) -> CarriedPage:
    """As :func:`carried`, slowly enough to be killed from outside."""
    time.sleep(0.15)
    return carried(task)


def first_kills(task: Task) -> CarriedPage:
    """As :func:`carried`, but a file whose name begins with 1 ends its process."""
    if task.path.name.startswith("1"):
        os.kill(os.getpid(), signal.SIGKILL)
    return carried(task)


def aborts_for_bad(piece: tuple[str, int]) -> int:
    """The piece's number; every piece of the file ``bad`` ends its process."""
    if piece[0] == "bad":
        os.abort()
    return piece[1]


def file_of(piece: tuple[str, int]) -> str:
    """The file that a piece comes from."""
    return piece[0]


def aborts() -> None:
    """A preparation that no process survives."""
    os.abort()
