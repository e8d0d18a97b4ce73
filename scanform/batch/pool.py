"""Run pages through worker processes and hand them back in input order, whatever becomes of a worker.

Decoders meet files from outside. A page that ends its worker (a crash in a native library, the kernel short of memory)
or never comes to an end costs that page and no other: the pages that were under way are read again one at a time,
so that the guilty one is found and named.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool

from scanform.batch.worker import CarriedPage, Task, carry, prepare
from scanform.form import Template
from scanform.settle import Outcome

__all__ = ["carried_in_order"]

_AHEAD = 6  # pages a worker may be ahead of the one being settled: enough to keep all busy, little enough to hold
_THREAD_LIMITS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_THREAD_LIMIT")
# No page takes a second, and a damaged one a few; a slow machine under load has ample room, a clerk waits no longer.
_LONGEST_S = 120.0

Work = Callable[[Task], CarriedPage]


def carried_in_order(
    tasks: Iterable[Task],
    templates: tuple[Template, ...],
    workers: int,
    work: Work = carry,
    longest_s: float = _LONGEST_S,
) -> Iterator[CarriedPage]:
    """Every task's page, in the order of the tasks. One worker runs in this process, more run beside it.

    ``work`` is done for each task. Beside this process, one that kills its worker or takes longer than ``longest_s``
    seconds comes back as ``unreadable``.
    """
    if workers <= 1:
        prepare(templates)
        yield from map(work, tasks)
        return
    for name in _THREAD_LIMITS:
        os.environ.setdefault(name, "1")  # inherited by the workers; Tesseract obeys the last
    crew = _Crew(templates, workers, work, longest_s)
    try:
        yield from _in_order(crew, tasks, workers * _AHEAD)
    finally:
        crew.dismiss()


def _in_order(crew: _Crew, tasks: Iterable[Task], most_waiting: int) -> Iterator[CarriedPage]:
    waiting: deque[tuple[Task, Future[CarriedPage]]] = deque()
    for task in tasks:
        waiting.append((task, crew.submit(task)))
        if len(waiting) >= most_waiting:
            yield from _next_pages(crew, waiting)
    while waiting:
        yield from _next_pages(crew, waiting)


def _next_pages(crew: _Crew, waiting: deque[tuple[Task, Future[CarriedPage]]]) -> list[CarriedPage]:
    """The first page waiting; all that wait, if something happened to the workers meanwhile."""
    try:
        page = waiting[0][1].result(crew.longest_s)
    except (BrokenProcessPool, CancelledError, TimeoutError):
        crew.dismiss()
        pages = [_done(future) or crew.alone(task) for task, future in waiting]
        crew.dismiss()
        crew.assemble()
        waiting.clear()
        return pages
    waiting.popleft()
    return [page]


def _done(future: Future[CarriedPage]) -> CarriedPage | None:
    """The page if it was finished before the workers went."""
    return future.result() if future.done() and not future.cancelled() and future.exception() is None else None


class _Crew:
    """Worker processes that can be replaced when one of them dies or hangs."""

    def __init__(self, templates: tuple[Template, ...], workers: int, work: Work, longest_s: float) -> None:
        self._templates = templates
        self._workers = workers
        self._work = work
        self.longest_s = longest_s
        self.assemble()

    def assemble(self) -> None:
        """Start as many workers as were asked for."""
        self._pool = self._new_pool(self._workers)

    def submit(self, task: Task) -> Future[CarriedPage]:
        """Have a page carried by whoever is free."""
        try:
            return self._pool.submit(self._work, task)
        except BrokenProcessPool as problem:  # found out when the page's turn comes
            broken: Future[CarriedPage] = Future()
            broken.set_exception(problem)
            return broken

    def alone(self, task: Task) -> CarriedPage:
        """Carry one page while nothing else is under way, to see whether it is this page that ends workers."""
        if self._workers_now != 1:
            self._pool = self._new_pool(1)
        try:
            return self._pool.submit(self._work, task).result(self.longest_s)
        except TimeoutError:
            what = f"took longer than {self.longest_s:.0f} s to read and was given up"
        except BrokenProcessPool:
            what = "ended the process that read it and was given up"
        self.dismiss()
        return _given_up(task, what)

    def dismiss(self) -> None:
        """End the workers, also one that would never finish; pages not yet begun are dropped."""
        for process in list((self._pool._processes or {}).values()):  # there is no public way before Python 3.14
            process.kill()
        self._pool.shutdown(cancel_futures=True)
        self._workers_now = 0

    def _new_pool(self, workers: int) -> ProcessPoolExecutor:
        context = multiprocessing.get_context("spawn")  # a forked copy of loaded native libraries is not safe
        self._workers_now = workers
        return ProcessPoolExecutor(
            workers, mp_context=context, initializer=_prepare_beside, initargs=(self._templates,)
        )


def _prepare_beside(templates: tuple[Template, ...]) -> None:
    """Prepare a process that lives as long as the one that started it, whatever ends that one."""
    for number in (signal.SIGINT, signal.SIGTERM):  # they reach the whole group, and the first process is to decide
        signal.signal(number, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    prepare(templates)


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()  # without this, workers of a process that was killed would wait for pages for ever
    os._exit(1)


def _given_up(task: Task, what: str) -> CarriedPage:
    reason = (
        f"{task.source}, page {task.number} {what}; the file is kept. Scan the sheet again, or open the file and save "
        "it as PDF."
    )
    return CarriedPage(task, Outcome.UNREADABLE.value, reason)
