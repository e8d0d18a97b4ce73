"""Run pages through worker processes and hand them back in input order, whatever becomes of a worker.

A page that ends its worker (a crash in a native library, more memory than a worker may have) or never comes to an end
costs that page and no other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from pathlib import Path

from scanform.batch.bounds import MOST_LOST_PAGES, PAGE_S
from scanform.batch.crew import Job, Loss, done_in_order
from scanform.batch.worker import CarriedPage, Task, carry, prepare
from scanform.form import Template
from scanform.intake import shown
from scanform.settle import Outcome

__all__ = ["Work", "carried_in_order"]

Work = Callable[[Task], CarriedPage]


def carried_in_order(
    tasks: Iterable[Task],
    templates: tuple[Template, ...],
    workers: int,
    work: Work = carry,
    longest_s: float = PAGE_S,
) -> Iterator[CarriedPage]:
    """Every task's page, in the order of the tasks; ``work`` is done for each, in processes beside this one.

    A page that kills its worker or takes longer than ``longest_s`` seconds comes back as ``unreadable``. What ``work``
    raises is raised here, when the page's turn comes.
    """
    pieces = tuple(tasks)
    job: Job[Task, CarriedPage] = Job(work, longest_s, prepare, (templates,))
    pages = done_in_order(job, pieces, _file_of, min(workers, len(pieces)))
    with closing(pages):
        for task, page in zip(pieces, pages, strict=True):
            yield page if isinstance(page, CarriedPage) else _given_up(task, page, longest_s)


def _file_of(task: Task) -> Path:
    return task.path


def _given_up(task: Task, loss: Loss, longest_s: float) -> CarriedPage:
    what = {
        Loss.DIED: "ended the process that read it and was given up",
        Loss.HUNG: f"took longer than {longest_s:.0f} s to read and was given up",
        Loss.NOT_TRIED: f"was not tried, since {MOST_LOST_PAGES} pages of its file ended or blocked what read them",
    }[loss]
    reason = (
        f"{shown(task.source)}, page {task.number} {what}; the file is kept. Scan the sheet again, or read the file "
        "with --try-again."
    )
    return CarriedPage(task, Outcome.UNREADABLE.value, reason)
