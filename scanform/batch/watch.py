"""Watching a scanner's folder: whatever arrives is read once it is whole, until somebody asks for an end."""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Iterator, Sequence
from pathlib import Path

import watchfiles

from scanform.batch.arrivals import Arrivals, Look
from scanform.batch.drawers import DONE, PROBLEM
from scanform.errors import BinderError, StorageFailed, UsageError

__all__ = ["read_what_is_there", "watch_folder"]

_FILES_AT_ONCE = 16  # one batch: enough to keep all workers busy, few enough that files are moved soon
_LOOK_SOON_S = 0.5
_TRY_AGAIN_S = 60.0  # after a full disk, a share that went away, a file that could not be moved

Read = Callable[[Sequence[Path]], Collection[Path]]
Say = Callable[[str], None]


def watch_folder(
    folder: Path, read: Read, say: Say, stop: threading.Event, *, quiet_s: float, look_every_s: float
) -> None:
    """Hand files that are whole to ``read`` until ``stop`` is set. ``read`` returns those that it had to leave.

    Notices of changes wake it at once; at any rate the folder is listed every ``look_every_s`` seconds, since a network
    share sends no notices of what other computers do. If disk or binder fail, ``say`` gets the sentence, and it
    is tried again a minute later.
    """
    arrivals = _arrivals(folder, quiet_s)
    trouble: set[str] = set()

    def said_once(sentence: str) -> None:
        if sentence not in trouble:
            say(sentence)
        trouble.add(sentence)

    for _ in _wakes(folder, stop, look_every_s):
        try:
            _read_ready(arrivals, read, say, stop)
            trouble.clear()
        except (BinderError, StorageFailed) as problem:
            said_once(f"{problem} Trying again in {_TRY_AGAIN_S:.0f} seconds.")
            stop.wait(_TRY_AGAIN_S)
        except UsageError as problem:  # the folder cannot be listed, or a file went away this moment
            said_once(f"{problem} Waiting for it to come back.")


def read_what_is_there(folder: Path, read: Read, say: Say, stop: threading.Event, *, quiet_s: float) -> None:
    """Hand the files that lie in ``folder`` to ``read`` as they become whole, then return; errors are raised."""
    arrivals = _arrivals(folder, quiet_s)
    while True:
        look = _read_ready(arrivals, read, say, stop)
        if not look.waiting or stop.wait(min(quiet_s, _LOOK_SOON_S)):
            break
    for path in look.held:
        say(f"{path} is left: a program still has it open for writing.")


def _arrivals(folder: Path, quiet_s: float) -> Arrivals:
    return Arrivals(folder, (folder / DONE, folder / PROBLEM), quiet_s)


def _read_ready(arrivals: Arrivals, read: Read, say: Say, stop: threading.Event) -> Look:
    """Read until nothing is ready; the last look."""
    while True:
        look = arrivals.look()
        for path, why in look.skipped:
            say(f"Left alone: {path} ({why}).")
        if not look.ready or stop.is_set():
            return look
        for path in read(look.ready[:_FILES_AT_ONCE]):
            arrivals.leave(path, _TRY_AGAIN_S)


def _wakes(folder: Path, stop: threading.Event, look_every_s: float) -> Iterator[None]:
    """Yield at once, then whenever something may have changed, at least every so often; end when ``stop`` is set."""
    yield
    try:
        for _ in watchfiles.watch(
            folder,
            watch_filter=None,
            stop_event=stop,
            rust_timeout=round(look_every_s * 1000),
            yield_on_timeout=True,
            raise_interrupt=False,
            ignore_permission_denied=True,
        ):
            yield
    except (OSError, RuntimeError):
        pass  # no notices to be had here, or none any more
    while not stop.wait(look_every_s):
        yield
