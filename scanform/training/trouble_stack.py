"""A stack as nobody would wish for it: mixed pages with every kind of trouble, and what must become of each.

    python -m scanform.training.trouble_stack --pages 300

The builder writes files as offices have them (PDF, TIFF, JPEG, PNG, folders in folders) and keeps its own list of the
right outcomes; :func:`differences` sets the record beside it, sheet by sheet.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import tempfile
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from scanform.batch import gather, read_stack
from scanform.binder import Binder, RecordedPage, open_binder
from scanform.form import built_in_templates
from scanform.training.stack_pages import OWN_FILE, TROUBLES, TWO_PAGES, Captured, pdf_of, plain_page

__all__ = ["Expected", "TroubleStack", "build_stack", "differences", "read_into", "stack_report"]

_SEED = 9_800_000
_ROUND = 100  # pages of a stack for each of which every kind of trouble comes once
_FEEDER_PAGES = 8


@dataclass(frozen=True)
class Expected:
    """What must become of one sheet: the file, its page in it, which sheet of the picture, and the outcome.

    ``warned``: the record must give a reason beside the outcome. ``trouble``: what was done to it.
    """

    file: str
    page: int
    part: int
    outcome: str
    serial: str | None
    trouble: str
    warned: bool = False


@dataclass(frozen=True)
class TroubleStack:
    """The folder, and what must come of it, in input order."""

    folder: Path
    expected: tuple[Expected, ...]

    @property
    def pages_in(self) -> int:
        """Pages in the files, further sheets of one picture left out."""
        return sum(entry.part == 1 for entry in self.expected)


def _made(plan: tuple[int, str]) -> tuple[str, list[Captured]]:
    cv2.setNumThreads(1)
    n, trouble = plan
    make = TROUBLES[trouble] if trouble else plain_page
    return trouble, make(n, np.random.default_rng([_SEED, n]))


def _plans(pages: int) -> list[tuple[int, str]]:
    """Which trouble each sheet of the stack has, "" for none: the troubles in some order, spread evenly."""
    rng = np.random.default_rng(_SEED)
    troubles = [str(name) for _ in range(max(1, pages // _ROUND)) for name in rng.permutation(list(TROUBLES))]
    plain = max(0, pages - len(troubles) - sum(name in TWO_PAGES for name in troubles))
    at = [(k + 0.5) / len(troubles) for k in range(len(troubles))] + [(k + 0.4) / plain for k in range(plain)]
    in_order = [name for _, name in sorted(zip(at, [*troubles, *[""] * plain], strict=True))]
    return list(enumerate(in_order))


def build_stack(folder: Path, pages: int, workers: int | None = None) -> TroubleStack:
    """Write a stack of ``pages`` pages into ``folder``: every kind of trouble once a hundred pages, plain ones between.

    The same number of pages gives the same stack. Each kind comes once at least, so it has never less than 34 pages.
    """
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers or os.cpu_count(), mp_context=context) as pool:
        made = list(pool.map(_made, _plans(pages), chunksize=2))
    folder.mkdir(parents=True, exist_ok=True)
    expected: list[Expected] = []
    feeder: list[tuple[str, Captured]] = []
    for trouble, scans in made:
        if trouble in OWN_FILE:
            expected += _write(folder, len(expected), scans[0].suffix, [(trouble, scans[0])], scans[0].encoded)
            continue
        feeder += [(trouble, one) for one in scans]
        if len(feeder) >= _FEEDER_PAGES:
            expected += _write_feeder(folder, len(expected), feeder)
            feeder = []
    if feeder:
        expected += _write_feeder(folder, len(expected), feeder)
    return TroubleStack(folder, tuple(expected))


def _write_feeder(folder: Path, number: int, pages: list[tuple[str, Captured]]) -> list[Expected]:
    return _write(folder, number, ".pdf", pages, pdf_of([one for _, one in pages]))


def _write(folder: Path, number: int, suffix: str, pages: list[tuple[str, Captured]], data: bytes) -> list[Expected]:
    """One file, every second one in a folder of its own day; its name keeps the input order."""
    name = f"{number:04d}/scan{suffix}" if number % 2 else f"{number:04d} scan{suffix}"
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return [
        Expected(name, page, part, outcome, serial, trouble or "plain", one.warned)
        for page, (trouble, one) in enumerate(pages, start=1)
        for part, (outcome, serial) in enumerate(one.sheets, start=1)
    ]


def differences(stack: TroubleStack, pages: Sequence[RecordedPage]) -> list[str]:
    """Every sheet whose outcome or serial is not the right one, in words; empty if all are right."""
    found = {}
    for page in pages:
        name = Path(page.record.source).relative_to(stack.folder).as_posix()
        found[name, page.record.page_number, page.record.part] = page.record
    said = []
    for entry in stack.expected:
        record = found.pop((entry.file, entry.page, entry.part), None)
        where = f"{entry.file}, page {entry.page}" + (f", sheet {entry.part}" if entry.part > 1 else "")
        if record is None:
            said.append(f"{where} ({entry.trouble}): not on record, should be {entry.outcome}")
        elif record.outcome.value != entry.outcome:
            said.append(
                f"{where} ({entry.trouble}): {record.outcome.value}, should be {entry.outcome} ({record.reason})"
            )
        elif entry.serial is not None and record.serial != entry.serial:
            said.append(f"{where} ({entry.trouble}): serial {record.serial}, should be {entry.serial}")
        elif entry.warned and not record.reason:
            said.append(f"{where} ({entry.trouble}): no warning stands beside it")
    return said + [f"{name}, page {page}, sheet {part}: nobody put it there" for name, page, part in found]


def read_into(stack: TroubleStack, binder: Binder, workers: int | None = None) -> Sequence[RecordedPage]:
    """Read the stack as ``scanform read`` does."""
    return read_stack(gather([stack.folder]), binder, built_in_templates(), workers=workers).pages


def stack_report(pages: int, workers: int | None = None) -> str:
    """Build, read, and say how it balances and which pages did not end as they should."""
    with tempfile.TemporaryDirectory() as folder:
        stack = build_stack(Path(folder) / "stack", pages, workers)
        with open_binder(Path(folder) / "binder", create=True) as binder:
            read = read_into(stack, binder, workers)
            batch = binder.batch(binder.last_batch() or 0)
        wrong = differences(stack, read)
    counted = " + ".join(f"{n} {outcome.value}" for outcome, n in (batch.balance or {}).items())
    should = Counter(entry.outcome for entry in stack.expected)
    kinds = len({entry.trouble for entry in stack.expected}) - 1
    lines = [
        f"A stack of {stack.pages_in} mixed pages with {kinds} kinds of trouble:",
        "",
        f"    Pages in: {batch.pages_in} + {batch.more_sheets} more sheets beside another in one picture = {counted}",
        "",
        f"By the builder's own list: {', '.join(f'{n} {name}' for name, n in sorted(should.items()))}. "
        f"Ended otherwise than they should: {len(wrong)} of {len(stack.expected)}.",
        *[f"- {line}" for line in wrong],
    ]
    return "\n".join(lines)


def main() -> None:
    """Build and read one stack, print the report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=300)
    parser.add_argument("--workers", type=int)
    arguments = parser.parse_args()
    print(stack_report(arguments.pages, arguments.workers))


if __name__ == "__main__":
    main()
