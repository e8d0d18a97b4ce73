"""Worker processes for what may go wrong: each may die or hang and takes only its own piece of work along.

Decoders meet files from outside. Every worker is a process with bounds of its own (:mod:`scanform.batch.bounds`) and
works on one piece at a time, so that the guilty piece is known at once and all others go on. A thread in this process
attends to each worker: it hands out, waits, and puts another worker in the place of one that is gone.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections import Counter
from collections.abc import Callable, Generator, Hashable, Iterable, Iterator
from enum import Enum
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, Generic, NamedTuple, TypeVar

from scanform.batch.bounds import MOST_LOST_PAGES, WORKER_DATA_BYTES, confine, time_left
from scanform.errors import ScanformError

__all__ = ["Job", "Loss", "WorkersFailed", "done_in_order"]

Piece = TypeVar("Piece")
Result = TypeVar("Result")

_AHEAD = 6  # pieces a worker may be ahead of the one asked for: enough to keep all busy, little enough to hold
_THREAD_LIMITS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_THREAD_LIMIT")
# Loading takes a second or two; a machine that is short of everything has ample room.
_START_S = 180.0
# A piece whose worker died gets a second one: the first may have been ended from outside, for want of memory say.
_TRIES = 2
# On Linux workers are copies of one server process that has the modules loaded and nothing else, no thread and no open
# file; elsewhere each starts from scratch, because system libraries there do not bear copying.
_LOADED = ["scanform.batch.worker", "scanform.batch.counting"]


class WorkersFailed(ScanformError):
    """Workers end before they are given anything: no page is to blame."""


class Loss(Enum):
    """What became of a piece of work that has no result."""

    DIED = "ended its process"
    HUNG = "came to no end"
    NOT_TRIED = "comes from a file of which too much was lost"


class Job(NamedTuple, Generic[Piece, Result]):
    """What workers do: ``prepare(*prepared_with)`` once, then ``work`` for each piece.

    A piece may take ``longest_s`` seconds, a worker ``memory_bytes`` of memory of its own. All of it is sent to other
    processes, so functions are module-level ones.
    """

    work: Callable[[Piece], Result]
    longest_s: float
    prepare: Callable[..., None] | None = None
    prepared_with: tuple[Any, ...] = ()
    memory_bytes: int = WORKER_DATA_BYTES


def done_in_order(
    job: Job[Piece, Result], pieces: Iterable[Piece], file_of: Callable[[Piece], Hashable], workers: int
) -> Generator[Result | Loss, None, None]:
    """Every piece's result, in the order of the pieces; a :class:`Loss` for one that killed or blocked its worker.

    ``file_of`` says which file a piece comes from. What ``work`` raises is raised here when the piece's turn comes;
    WorkersFailed if workers cannot even be started.
    """
    crew = _Crew(job, tuple(pieces), file_of, workers)
    try:
        yield from crew.results()
    finally:
        crew.dismiss()


class _Raised(NamedTuple):
    """What a piece's work has raised in its worker."""

    problem: Exception


class _Worker:
    """One process and the line to it."""

    def __init__(self, job: Job[Any, Any]) -> None:
        for name in _THREAD_LIMITS:
            os.environ.setdefault(name, "1")  # inherited by the workers; Tesseract obeys the last
        if sys.platform == "linux":
            forking = multiprocessing.get_context("forkserver")
            forking.set_forkserver_preload(_LOADED)
            self.line, theirs = forking.Pipe()
            self._process: BaseProcess = forking.Process(target=_attend, args=(theirs, job), daemon=True)
        else:
            spawning = multiprocessing.get_context("spawn")
            self.line, theirs = spawning.Pipe()
            self._process = spawning.Process(target=_attend, args=(theirs, job), daemon=True)
        self._process.start()
        theirs.close()  # or the end of the worker would not be seen as the end of the line

    def is_ready(self) -> bool:
        """Wait until it has loaded what it needs; False if it ended before."""
        try:
            return self.line.poll(_START_S) and self.line.recv() is None
        except (EOFError, OSError):
            return False

    def stop(self) -> None:
        """End it, whatever it is doing; the line says so to whoever listens."""
        self._process.kill()

    def end(self) -> None:
        """Stop it and put everything away."""
        self.stop()
        self._process.join()
        self.line.close()


def _attend(line: Connection, job: Job[Any, Any]) -> None:
    """A worker's whole life, no longer than its parent's, whatever ends that one."""
    for number in (signal.SIGINT, signal.SIGTERM):  # they reach the whole group, and the first process is to decide
        signal.signal(number, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    confine(job.memory_bytes)
    if job.prepare is not None:
        job.prepare(*job.prepared_with)
    try:
        line.send(None)
        while True:
            piece = line.recv()
            time_left(job.longest_s)
            try:
                result = job.work(piece)
            except Exception as problem:
                result = _Raised(problem)
            time_left(None)
            line.send(result)
    except (EOFError, OSError):
        return


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()  # without this, what was under way in a process that was killed would go on, with nobody to stop it
    os._exit(1)


class _Crew(Generic[Piece, Result]):
    """The workers, the threads that attend to them, and what they have done so far."""

    def __init__(
        self,
        job: Job[Piece, Result],
        pieces: tuple[Piece, ...],
        file_of: Callable[[Piece], Hashable],
        workers: int,
    ) -> None:
        self._job, self._pieces, self._file_of = job, pieces, file_of
        self._most_waiting = workers * _AHEAD
        self._turn = threading.Condition()
        # All below is touched by the holder of the turn only.
        self._handed_out = self._asked_for = 0
        self._results: dict[int, Result | Loss | _Raised] = {}
        self._lost: Counter[Hashable] = Counter()
        self._staff: set[_Worker] = set()
        self._over = False
        self._failure: BaseException | None = None
        self._threads = [threading.Thread(target=self._attend_to_one, daemon=True) for _ in range(workers)]
        for thread in self._threads:
            thread.start()

    def results(self) -> Iterator[Result | Loss]:
        """In the order of the pieces."""
        for number in range(len(self._pieces)):
            with self._turn:
                self._asked_for = number
                self._turn.notify_all()
                self._turn.wait_for(lambda n=number: n in self._results or self._failure is not None)  # type: ignore[misc]
                if self._failure is not None:
                    raise self._failure
                result = self._results.pop(number)
            if isinstance(result, _Raised):
                raise result.problem
            yield result

    def dismiss(self) -> None:
        """End all workers; what is under way is dropped."""
        with self._turn:
            self._over = True
            for worker in self._staff:
                worker.stop()
            self._turn.notify_all()
        for thread in self._threads:
            thread.join()

    def _attend_to_one(self) -> None:
        worker: _Worker | None = None
        try:
            while (number := self._next()) is not None:
                result, worker = self._result_of(self._pieces[number], worker)
                with self._turn:
                    self._results[number] = result
                    self._lost[self._file_of(self._pieces[number])] += isinstance(result, Loss)
                    self._turn.notify_all()
        except BaseException as problem:  # to be raised where somebody waits
            with self._turn:
                self._failure = self._failure or problem
                self._turn.notify_all()
        finally:
            if worker is not None:
                self._let_go(worker)

    def _next(self) -> int | None:
        """The number of the next piece to work on; None when there is none left."""
        with self._turn:
            while True:
                self._turn.wait_for(
                    lambda: self._over or self._failure or self._handed_out < self._asked_for + self._most_waiting
                )
                if self._over or self._failure or self._handed_out >= len(self._pieces):
                    return None
                number = self._handed_out
                self._handed_out += 1
                if self._lost[self._file_of(self._pieces[number])] < MOST_LOST_PAGES:
                    return number
                self._results[number] = Loss.NOT_TRIED
                self._turn.notify_all()

    def _result_of(self, piece: Piece, worker: _Worker | None) -> tuple[Result | Loss | _Raised, _Worker | None]:
        for _ in range(_TRIES):
            worker = worker or self._started()
            try:
                worker.line.send(piece)
                if worker.line.poll(self._job.longest_s):
                    return worker.line.recv(), worker
            except (EOFError, OSError):
                self._let_go(worker)
                worker = None
                if self._over:
                    break
                continue
            self._let_go(worker)
            return Loss.HUNG, None
        return Loss.DIED, None

    def _started(self) -> _Worker:
        for _ in range(_TRIES):
            worker = _Worker(self._job)
            with self._turn:
                self._staff.add(worker)
                over = self._over
            if not over and worker.is_ready():
                return worker
            self._let_go(worker)
            if over:
                break
        raise WorkersFailed(
            "The processes that open scans end as soon as they are started, so no page was read; "
            "see that the machine has memory to spare and that scanform is installed whole, then run this again."
        )

    def _let_go(self, worker: _Worker) -> None:
        with self._turn:
            self._staff.discard(worker)
        worker.end()
