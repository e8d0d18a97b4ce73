"""Reading stacks in the background, one after the other, with what has become of each so far."""

from __future__ import annotations

import logging
import os
import threading
from collections import Counter, OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from queue import SimpleQueue

from scanform.batch import CarriedPage, gather, read_stack, templates_for
from scanform.binder import Binder, RecordedPage
from scanform.desk.inbox import forget, sweep, unread_stacks, without_folders
from scanform.errors import ScanformError
from scanform.settle import Outcome, State

__all__ = ["Progress", "StackReader", "Stage"]

_log = logging.getLogger(__name__)
_READ_ON = "What was read is kept, the files too; the rest is read when the desk is started again."
_KEPT = 20  # finished stacks that the page still tells of; their batches are on record anyway


class Stage(StrEnum):
    """How far a stack is."""

    WAITING = "waiting"
    READING = "reading"
    READ = "read"
    FAILED = "failed"


@dataclass(frozen=True)
class Progress:
    """One stack. ``pages_in`` is None until its files have been counted, ``batch`` until it has been read.

    ``said``: why it failed, and what is read already all the same.
    """

    stack: str
    initials: str
    files: tuple[str, ...]
    stage: Stage = Stage.WAITING
    pages_in: int | None = None
    pages_done: int = 0
    doubts: int = 0
    outcomes: dict[Outcome, int] = field(default_factory=dict)
    batch: int | None = None
    said: str = ""


class _Ended(Exception):
    """The desk is closing; what was read is on record, the rest is read when it is started again."""


class StackReader:
    """Reads stacks of the inbox into the binder in a thread of its own. Safe to use from several threads."""

    def __init__(self, binder: Binder) -> None:
        self._binder = binder
        self._stacks: OrderedDict[str, Progress] = OrderedDict()
        self._waiting: SimpleQueue[tuple[str, list[Path]] | None] = SimpleQueue()
        self._lock = threading.Lock()
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None

    def begin(self) -> None:
        """Start, with what an earlier desk left unread."""
        sweep(self._binder.folder)
        self._thread = threading.Thread(target=self._read_all, name="stack reader", daemon=True)
        self._thread.start()
        for stack, files in unread_stacks(self._binder.folder):
            self.add(stack, files, "")

    def end(self) -> None:
        """Stop after the page that is being recorded; what is left is read when the desk is started again."""
        self._ending.set()
        self._waiting.put(None)
        if self._thread is not None:
            self._thread.join(timeout=30)

    def add(self, stack: str, files: Sequence[Path], initials: str) -> None:
        """Have a complete stack read when its turn comes."""
        with self._lock:
            self._stacks[stack] = Progress(stack, initials, tuple(path.name for path in files))
            finished = [name for name, s in self._stacks.items() if s.stage in (Stage.READ, Stage.FAILED)]
            for name in finished[:-_KEPT]:
                del self._stacks[name]
        self._waiting.put((stack, list(files)))

    def progress(self) -> list[Progress]:
        """Every stack since the desk was started, the newest first."""
        with self._lock:
            return list(reversed(self._stacks.values()))

    def _change(self, stack: str, **changed: object) -> None:
        with self._lock:
            self._stacks[stack] = replace(self._stacks[stack], **changed)  # type: ignore[arg-type]

    def _read_all(self) -> None:
        while (next_one := self._waiting.get()) is not None and not self._ending.is_set():
            stack, files = next_one
            try:
                self._read(stack, files)
            except _Ended:
                return
            except ScanformError as problem:
                said = without_folders(self._binder.folder, str(problem))
                self._change(stack, stage=Stage.FAILED, said=f"{said} {_READ_ON}")
            except Exception:
                _log.exception("a stack could not be read")
                said = f"This stack met an error that nobody thought of. {_READ_ON}"
                self._change(stack, stage=Stage.FAILED, said=said)

    def _read(self, stack: str, files: Sequence[Path]) -> None:
        self._change(stack, stage=Stage.READING)
        gathered = gather(files)
        self._change(stack, pages_in=gathered.pages_in)
        outcomes: Counter[Outcome] = Counter()
        doubts = 0

        def on_page(page: RecordedPage, _carried: CarriedPage | None) -> None:
            nonlocal doubts
            outcomes[page.record.outcome] += 1
            doubts += sum(f.state is State.DOUBTFUL for f in page.record.fields)
            self._change(stack, pages_done=outcomes.total(), doubts=doubts, outcomes=dict(outcomes), said="")
            if self._ending.is_set() and outcomes.total() < gathered.pages_in:
                raise _Ended

        def on_wait(said: str) -> None:
            self._change(stack, said=said)

        templates = templates_for(self._binder, ())
        result = read_stack(gathered, self._binder, templates, workers=_workers(), on_page=on_page, on_wait=on_wait)
        forget(self._binder.folder, stack)
        self._change(stack, stage=Stage.READ, batch=result.batch_id)


def _workers() -> int:
    # One core stays free for whoever settles meanwhile; two processes at least, so that none reads in the desk's own.
    return max(2, (os.cpu_count() or 1) - 1)
