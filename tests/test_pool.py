"""A worker process may die or hang: the page that did it is named, and no other page is lost or out of order."""

from __future__ import annotations

import multiprocessing
import subprocess
import sys
import time
from pathlib import Path

import pytest
from commands import environment
from pages_that_kill import carried, fifth_hangs, seventh_kills, slow

from scanform.batch import worker
from scanform.batch.pool import Work, carried_in_order
from scanform.batch.worker import CarriedPage, Task, carry

STACK = [Task(Path(f"/scans/{n}.pdf"), n, f"{n}.pdf") for n in range(1, 31)]


def read(work: Work, longest_s: float = 60.0) -> list[CarriedPage]:
    return list(carried_in_order(STACK, (), 2, work, longest_s))


def test_pages_come_back_in_the_order_they_were_fed() -> None:
    pages = read(carried)
    assert [page.task.number for page in pages] == list(range(1, 31))
    assert len({page.reason for page in pages}) <= 2, "two workers, two processes"


def test_a_page_that_kills_its_worker_costs_itself_and_no_other() -> None:
    pages = read(seventh_kills)
    assert [page.task.number for page in pages] == list(range(1, 31))
    assert [page.task.number for page in pages if page.outcome != "blank"] == [7]
    assert pages[6].outcome == "unreadable"
    assert "7.pdf, page 7 ended the process that read it" in str(pages[6].reason)
    assert "Scan the sheet again" in str(pages[6].reason)


def test_a_page_that_never_ends_is_given_up() -> None:
    pages = read(fifth_hangs, longest_s=6.0)
    assert [page.task.number for page in pages if page.outcome != "blank"] == [5]
    assert "took longer than 6 s" in str(pages[4].reason)


def test_workers_killed_from_outside_again_and_again_lose_nothing() -> None:
    pages, killed = [], 0
    for page in carried_in_order(STACK, (), 2, slow):
        pages.append(page)
        if page.task.number in (4, 17):
            multiprocessing.active_children()[0].kill()
            killed += 1
    assert killed == 2
    assert [(page.task.number, page.outcome) for page in pages] == [(n, "blank") for n in range(1, 31)]


def test_an_error_nobody_thought_of_stays_with_its_page(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("a library gave up")

    monkeypatch.setattr(worker, "load_page", broken)
    page = carry(STACK[0])
    assert page.outcome == "unreadable"
    said = "1.pdf, page 1 could not be read (RuntimeError: a library gave up); the file is kept. Scan the sheet again."
    assert page.reason == said


def test_workers_end_with_the_process_that_started_them_even_if_that_is_killed() -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", READS_SLOWLY], cwd=Path(__file__).parent, env=environment(), stdout=subprocess.PIPE
    )
    assert process.stdout is not None
    workers = [int(number) for number in process.stdout.readline().split()]
    assert len(workers) == 2
    process.kill()
    process.wait()
    process.stdout.close()
    patience = time.monotonic() + 60
    while any(alive(worker) for worker in workers):
        assert time.monotonic() < patience, "workers wait for pages that nobody will bring"
        time.sleep(0.05)


READS_SLOWLY = """
import multiprocessing
import subprocess
import sys
import time
from pathlib import Path
from commands import environment
from pages_that_kill import slow
from scanform.batch.pool import carried_in_order
from scanform.batch.worker import Task
if __name__ == "__main__":
    for page in carried_in_order([Task(Path("x"), n, "x") for n in range(10_000)], (), 2, slow):
        if page.task.number == 0:
            print(*[child.pid for child in multiprocessing.active_children()], flush=True)
"""


def alive(number: int) -> bool:
    """Whether the process is there; one that has ended and waits to be counted is not."""
    try:
        return Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
