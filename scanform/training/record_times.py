"""How long looking things up takes over a large record: the search itself, the desk's answers, a real browser's paint.

    python -m scanform.training.large_record --out FOLDER --sheets 100000
    python -m scanform.training.record_times --binder FOLDER

The desk runs as a process of its own, as people start it. Nothing in the record is changed. Needs the ``dev`` extra and
Debian's Chromium.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import httpx
import numpy as np
from playwright.sync_api import Page, ViewportSize, sync_playwright

from scanform.binder import Binder, SheetQuery, SheetState, open_binder
from scanform.settle.types import Outcome

__all__ = ["measure"]

SEED = 720_000
_CHROMIUM = "/usr/bin/chromium"
_FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
_SCREEN: ViewportSize = {"width": 1280, "height": 720}
_FIRST_PAINT = """() => new Promise((painted) => {
  new PerformanceObserver((list) => {
    for (const entry of list.getEntriesByName("first-contentful-paint")) painted(entry.startTime);
  }).observe({ type: "paint", buffered: true });
})"""

Times = dict[str, list[float]]


def measure(folder: Path, rounds: int) -> Times:
    """Milliseconds by what was done, ``rounds`` of each, on the record in ``folder``."""
    rng = np.random.default_rng(SEED)
    with open_binder(folder) as binder:
        times = _searches(binder, rounds, rng)
        pages = binder.find_sheets(SheetQuery()).total
        last_batch = binder.last_batch() or 1
    numbers = rng.integers(1, pages + 1, rounds).tolist()
    with _running_desk(folder) as link, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=_CHROMIUM, args=_FLAGS)
        window = browser.new_context(viewport=_SCREEN).new_page()
        window.goto(link)
        address = link.partition("/open/")[0]
        cookies = {c["name"]: c["value"] for c in window.context.cookies()}
        times |= _answers(address, cookies, numbers, last_batch)
        times |= _first_paints(window, address, numbers)
        browser.close()
    return times


def report(times: Times) -> str:
    """The times as a table in Markdown."""
    rows = ["| | n | median | 95th percentile | longest |", "| --- | --- | --- | --- | --- |"]
    for name, took in times.items():
        median, p95 = np.percentile(took, [50, 95])
        rows.append(f"| {name} | {len(took)} | {median:.0f} ms | {p95:.0f} ms | {max(took):.0f} ms |")
    return "\n".join(rows)


def _searches(binder: Binder, rounds: int, rng: np.random.Generator) -> Times:
    filed = binder.filings()
    newest = binder.find_sheets(SheetQuery(outcome=Outcome.READ), 0, 1).sheets[0].date or dt.date.today()

    def unit() -> str:
        return str(rng.choice(filed.units))

    def day() -> dt.date:
        return newest - dt.timedelta(days=int(rng.integers(0, 2000)))

    kinds: dict[str, Callable[[], SheetQuery]] = {
        "everything": SheetQuery,
        "a unit": lambda: SheetQuery(unit=unit(), outcome=Outcome.READ),
        "a unit in a quarter": lambda: SheetQuery(unit=unit(), first=(on := day()), last=on + dt.timedelta(days=91)),
        "a day": lambda: SheetQuery(first=(on := day()), last=on),
        "a template": lambda: SheetQuery(template=str(rng.choice(filed.templates))),
        "a pad": lambda: SheetQuery(serial="".join(rng.choice(list("0123456789ABCDEF"), 2))),
        "not readable": lambda: SheetQuery(outcome=Outcome.UNREADABLE),
        "with doubts": lambda: SheetQuery(state=SheetState.DOUBTFUL),
        "confirmed": lambda: SheetQuery(state=SheetState.CONFIRMED),
        "accepted": lambda: SheetQuery(state=SheetState.ACCEPTED),
        "a unit, accepted": lambda: SheetQuery(unit=unit(), state=SheetState.ACCEPTED),
    }
    times: Times = {}
    for name, query in kinds.items():
        # The first page of the answer, or any page of it: people also leaf.
        queries = [query() for _ in range(rounds)]
        most = binder.find_sheets(queries[0]).total
        starts = [0 if n % 2 else int(rng.integers(0, max(most, 1))) for n in range(rounds)]
        times[f"search: {name}"] = [
            _took(partial(binder.find_sheets, q, s)) for q, s in zip(queries, starts, strict=True)
        ]
    times["history of a field"] = [
        _took(partial(binder.field_history, n, "hours")) for n in rng.integers(1, 10_000, rounds).tolist()
    ]
    return times


def _answers(address: str, cookies: dict[str, str], numbers: list[int], last_batch: int) -> Times:
    with httpx.Client(base_url=address, cookies=cookies, headers={"Accept": "text/html"}, timeout=60) as client:

        def each(paths: list[str]) -> list[float]:
            def fetch(path: str) -> None:
                client.get(path).raise_for_status()

            return [_took(partial(fetch, path)) for path in paths]

        return {
            "answer: sheets, first page": each(["/sheets"] * len(numbers)),
            "answer: one sheet": each([f"/sheets/{n}" for n in numbers]),
            "answer: its picture": each([f"/pages/{n}/picture?high=1400" for n in numbers]),
            "answer: batches": each(["/batches"] * len(numbers)),
            "answer: one batch": each([f"/batches/{1 + n % last_batch}" for n in numbers]),
        }


def _first_paints(window: Page, address: str, numbers: list[int]) -> Times:
    def painted(path: str) -> float:
        window.goto(address + path)
        return float(window.evaluate(_FIRST_PAINT))

    return {
        "first paint: sheets": [painted("/sheets") for _ in numbers],
        "first paint: one sheet": [painted(f"/sheets/{n}") for n in numbers],
    }


@contextmanager
def _running_desk(folder: Path) -> Iterator[str]:
    """The link of a desk over the record, run as people run it."""
    command = [sys.executable, "-m", "scanform", "desk", "--binder", str(folder), "--port", "0", "--no-browser"]
    environment = os.environ | {"COLUMNS": "400"}
    with subprocess.Popen(
        [*command, "--initials", "AB"], stdout=subprocess.PIPE, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        try:
            for line in process.stdout:
                found = re.search(r"http://\S+/open/\S+", line)
                if found is not None:
                    yield found[0]
                    break
        finally:
            process.terminate()


def _took(what: Callable[[], object]) -> float:
    begun = time.perf_counter()
    what()
    return (time.perf_counter() - begun) * 1000


def main() -> None:
    """Measure from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binder", type=Path, required=True, help="a record made by scanform.training.large_record")
    parser.add_argument("--rounds", type=int, default=40)
    options = parser.parse_args()
    print(report(measure(options.binder, options.rounds)))


if __name__ == "__main__":
    main()
