"""How fast the desk is for a person: from key press to the next doubt, measured in a real browser on a large record.

    python -m scanform.training.large_record --out FOLDER --sheets 100000
    python -m scanform.training.desk_bench FOLDER

A scripted clerk settles doubts by keys in Chromium; the page itself takes the times. The record is changed by it: what
is settled stays settled. It needs the `dev` extra and Debian's Chromium.
"""

from __future__ import annotations

import argparse
import json
import re
import statistics
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from scanform.binder import open_binder

__all__ = ["CHROMIUM", "FLAGS", "DeskFigures", "desk_process", "measure_desk"]

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
SETTLED = 200
_WHO = "DB"
LOOKS_MS = 500  # between a doubt and its key; nobody compares ink and reading in less
PAINTS = 10  # times that the page of what waits is opened

# From a key to the frame in which the next doubt is on the screen with its ink: a message sent before a frame is
# painted arrives after it.
_CLOCK = """
() => {
  window.taken = [];
  let pressed = null;
  addEventListener("keydown", () => { pressed = performance.now(); }, true);
  const doubt = document.querySelector(".doubt");
  const note = async () => {
    const from = pressed;
    const ink = document.querySelector(".ink img");
    if (ink && !ink.complete) await ink.decode().catch(() => {});
    requestAnimationFrame(() => {
      const after = new MessageChannel();
      after.port1.onmessage = () => taken.push(performance.now() - from);
      after.port2.postMessage(null);
    });
  };
  new MutationObserver(note).observe(doubt, { attributes: true, attributeFilter: ["data-ref"] });
}
"""
_WAIT = """
n => new Promise(done => {
  const look = () => (taken.length >= n ? done() : requestAnimationFrame(look));
  look();
})
"""
_FIRST_PAINT = """
() => new Promise(done => {
  const look = () => {
    const [paint] = performance.getEntriesByName("first-contentful-paint");
    if (paint) done(paint.startTime);
    else requestAnimationFrame(look);
  };
  look();
})
"""


@dataclass(frozen=True)
class DeskFigures:
    """Times in ms. ``keys``: presses for each doubt whose reading was taken as right."""

    sheets: int
    waiting: int
    settled: int
    keys: float
    next_median_ms: float
    next_95_ms: float
    first_paint_median_ms: float
    first_paint_most_ms: float
    in_journal: int


def measure_desk(folder: Path) -> DeskFigures:
    """Settle SETTLED doubts of the binder in ``folder`` as a scripted clerk."""
    with open_binder(folder) as binder:
        before, waiting = len(binder.decisions()), binder.count_waiting()
        sheets = binder.accepted_counts()
    with desk_process(folder, _WHO) as link, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = browser.new_page(viewport={"width": 1280, "height": 720})
        page.goto(link)
        address = link.partition("/open/")[0]
        paints = [_paint(page, f"{address}/settle") for _ in range(PAINTS)]
        keys, times = _settle(page, f"{address}/settle/doubts")
        browser.close()
    with open_binder(folder) as binder:
        decisions = binder.decisions()[before:]
    return DeskFigures(
        sheets=sum(n for (field_id, _), n in sheets.items() if field_id == "signature"),
        waiting=waiting,
        settled=len(times),
        keys=keys / len(times),
        next_median_ms=statistics.median(times),
        next_95_ms=statistics.quantiles(times, n=20)[-1],
        first_paint_median_ms=statistics.median(paints),
        first_paint_most_ms=max(paints),
        in_journal=sum(decision.initials == _WHO for decision in decisions),
    )


def _settle(page: Page, address: str) -> tuple[int, list[float]]:
    page.goto(address)
    page.wait_for_selector(".ink img")
    page.evaluate(_CLOCK)
    for settled in range(1, SETTLED + 1):
        page.wait_for_timeout(LOOKS_MS)
        page.keyboard.press("Enter")
        page.evaluate(_WAIT, settled)
    return SETTLED, page.evaluate("taken")


def _paint(page: Page, address: str) -> float:
    page.goto(address)
    return float(page.evaluate(_FIRST_PAINT))


@contextmanager
def desk_process(folder: Path, initials: str) -> Iterator[str]:
    """A desk in a process of its own; gives its link, which lets in whoever has these initials."""
    command = [sys.executable, "-m", "scanform", "desk", "--binder", str(folder), "--no-browser", "--port", "0"]
    process = subprocess.Popen([*command, "--initials", initials], stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        yield next(found[0] for line in process.stdout if (found := re.search(r"http://\S+/open/\S+", line)))
    finally:
        process.terminate()
        process.wait()


def main() -> None:
    """Measure from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("binder", type=Path, help="a binder that may be changed")
    figures = measure_desk(parser.parse_args().binder)
    print(json.dumps(asdict(figures), indent=2))


if __name__ == "__main__":
    main()
