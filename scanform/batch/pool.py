"""Run pages through worker processes and hand them back in input order."""

from __future__ import annotations

import multiprocessing
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor

from scanform.batch.worker import CarriedPage, Task, carry, prepare
from scanform.form import Template

__all__ = ["carried_in_order"]

_AHEAD = 6  # pages a worker may be ahead of the one being settled: enough to keep all busy, little enough to hold
_THREAD_LIMITS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_THREAD_LIMIT")


def carried_in_order(tasks: Iterable[Task], templates: tuple[Template, ...], workers: int) -> Iterator[CarriedPage]:
    """Every task's page, in the order of the tasks. One worker runs in this process, more run beside it."""
    if workers <= 1:
        prepare(templates)
        yield from map(carry, tasks)
        return
    for name in _THREAD_LIMITS:
        os.environ.setdefault(name, "1")  # inherited by the workers; Tesseract obeys the last
    context = multiprocessing.get_context("spawn")  # a forked copy of loaded native libraries is not safe
    with ProcessPoolExecutor(workers, mp_context=context, initializer=prepare, initargs=(templates,)) as pool:
        yield from _in_order(lambda task: pool.submit(carry, task), tasks, workers * _AHEAD)


def _in_order(
    submit: Callable[[Task], Future[CarriedPage]], tasks: Iterable[Task], most_waiting: int
) -> Iterator[CarriedPage]:
    waiting: deque[Future[CarriedPage]] = deque()
    for task in tasks:
        waiting.append(submit(task))
        if len(waiting) >= most_waiting:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()
