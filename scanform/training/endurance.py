"""Does memory stay flat? Thousands of office pages through a whole batch, with the memory of every process sampled.

    python -m scanform.training.endurance --pages 5000

A few dozen simulated pages are each scanned once; every page of the stack is one of them with another serial and code
pasted over its own, so that it is another sheet to the reader and to the record, and nothing of it is known before.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

from scanform.batch import gather, read_stack
from scanform.binder import RecordedPage, open_binder
from scanform.form import Layout, SheetCode, built_in_templates, serial_number
from scanform.press.symbols import code_matrix
from scanform.simulate import Grade, SimulatedPage
from scanform.training.trial import Plan, blank_sheets, simulated

__all__ = ["Sample", "endurance", "growth", "memory_sentence", "resident_of_family"]

ENDURANCE_SEEDS = 9_850_000
_PAGES_MADE = 16
_EVERY_S = 1.0
_TOLD_EVERY = 250  # pages
_JPEG_QUALITY = 75
# A worker has met every kind of page and has its buffers after this share of the batch.
_WARM = 0.2


class Sample(NamedTuple):
    """Resident memory in MB of one process when ``pages`` had been recorded; ``parent`` is the one that records."""

    pages: int
    process: int
    parent: bool
    resident_mb: float


def endurance(pages: int, workers: int | None = None) -> str:
    """Read so many pages into a new binder; the figures as a sentence."""
    with tempfile.TemporaryDirectory() as name:
        stack_folder = Path(name) / "stack"
        stack_folder.mkdir()
        made = _write_stack(stack_folder, pages)
        stack = gather([stack_folder])
        samples: list[Sample] = []
        done = threading.Event()
        recorded, strayed = [0], [0]
        watch = threading.Thread(target=_watch, args=(samples, recorded, done), daemon=True)
        with open_binder(Path(name) / "binder", create=True) as binder:
            watch.start()
            started = time.perf_counter()

            def count(page: RecordedPage, _: object) -> None:
                recorded[0] += 1
                record = page.record
                strayed[0] += (record.template, record.serial) != made[Path(record.source).name]
                if recorded[0] % _TOLD_EVERY == 0:
                    print(f"{recorded[0]} pages: {memory_sentence(list(samples))}", file=sys.stderr, flush=True)

            result = read_stack(stack, binder, built_in_templates(), workers=workers, on_page=count)
            seconds = time.perf_counter() - started
        done.set()
        watch.join()
    outcomes = ", ".join(f"{count:,} {outcome.value}" for outcome, count in result.balance.items() if count)
    return (
        f"{pages:,} office pages in {seconds:.0f} s, {pages / seconds:.1f} a second ({outcomes}), {strayed[0]} of them "
        f"taken for another sheet than theirs: {memory_sentence(samples)}"
    )


def _write_stack(folder: Path, pages: int) -> dict[str, tuple[str, str]]:
    """Office pages without defect words, each with a serial of its own; template and serial by file name."""
    made = {}
    bases: list[tuple[SimulatedPage, Layout]] = []
    sheets, seed = blank_sheets("day"), ENDURANCE_SEEDS
    while len(bases) < min(_PAGES_MADE, pages):
        page = simulated(Plan(Grade.OFFICE, seed, None))
        if not any(page.truth.values.get(f"defect.{n}") for n in range(1, 6)):
            bases.append((page, sheets[seed % len(sheets)][0]))
        seed += 1
    for number in range(pages):
        serial = serial_number(f"ENDR{number // 1000:02d}", number % 1000 + 1, 1000)
        page, layout = bases[number % len(bases)]
        name = f"{number:05d}.jpg"
        cv2.imwrite(str(folder / name), _with_serial(page, layout, serial), [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])
        made[name] = layout.template.name, serial
    return made


def _with_serial(page: SimulatedPage, layout: Layout, serial: str) -> np.ndarray:
    """The page's pixels with the code of another sheet pasted over its own: uint8 (height, width)."""
    form = layout.template
    code = SheetCode(form.name, form.version, layout.paper.value[0].upper(), None, None, serial)
    modules = np.where(code_matrix(code.text()), np.uint8(30), np.uint8(245))
    tile = cv2.resize(np.pad(modules, 1, constant_values=245), None, fx=16, fy=16, interpolation=cv2.INTER_NEAREST)
    box = layout.code_box_mm
    quiet = box.w_mm / len(modules)  # one module of white hides the old code's edge
    x0, y0, x1, y1 = box.x_mm - quiet, box.y_mm - quiet, box.x_mm + box.w_mm + quiet, box.y_mm + box.h_mm + quiet
    corners = page.mm_to_px(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
    side = len(tile)
    from_tile = np.array([(0, 0), (side, 0), (side, side), (0, side)], np.float32)
    left, top = np.floor(corners.min(axis=0)).astype(int)
    right, bottom = np.ceil(corners.max(axis=0)).astype(int)
    turn = cv2.getPerspectiveTransform(from_tile, (corners - (left, top)).astype(np.float32))
    size = int(right - left), int(bottom - top)
    over = cv2.warpPerspective(np.full_like(tile, 255), turn, size) > 127
    pixels = page.pixels.copy()
    under = pixels[top:bottom, left:right]
    under[over] = cv2.warpPerspective(tile, turn, size, flags=cv2.INTER_AREA)[over]
    return pixels


def _watch(samples: list[Sample], recorded: Sequence[int], done: threading.Event) -> None:
    while not done.wait(_EVERY_S):
        samples += [
            Sample(recorded[0], process, process == os.getpid(), resident_mb)
            for process, resident_mb in resident_of_family().items()
        ]


def resident_of_family() -> dict[int, float]:
    """Resident memory in MB of this process and of those that it or they have started (Linux; empty elsewhere)."""
    parents, resident = {}, {}
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            lines = dict(line.split(":\t", 1) for line in status.read_text().splitlines() if ":\t" in line)
        except OSError:  # it has just ended
            continue
        if "VmRSS" in lines:
            process = int(lines["Pid"])
            parents[process], resident[process] = int(lines["PPid"]), int(lines["VmRSS"].split()[0]) / 1024
    family = {os.getpid()}
    while more := {process for process, parent in parents.items() if parent in family} - family:
        family |= more
    return {process: resident[process] for process in family if process in resident}


def memory_sentence(samples: Sequence[Sample]) -> str:
    """Peaks and slopes of the parent and of the largest worker."""
    said = []
    for parent, who in ((True, "the recording process"), (False, "the largest worker")):
        by_process: dict[int, list[Sample]] = defaultdict(list)
        for sample in samples:
            if sample.parent is parent:
                by_process[sample.process].append(sample)
        if by_process:
            largest = max(by_process.values(), key=lambda of: max(sample.resident_mb for sample in of))
            peak = max(sample.resident_mb for sample in largest)
            said.append(f"{who} {peak:.0f} MB at most, {growth(largest):+.1f} MB per 1,000 pages once warm")
    return "; ".join(said) + "."


def growth(samples: Sequence[Sample]) -> float:
    """MB that one process grows by per 1,000 pages of the batch, by a straight line through its later samples."""
    last = max(sample.pages for sample in samples)
    warm = [sample for sample in samples if sample.pages >= _WARM * last]
    pages = np.array([sample.pages for sample in warm], float)
    if len(warm) < 3 or not np.ptp(pages):
        return 0.0
    return float(np.polyfit(pages, [sample.resident_mb for sample in warm], 1)[0] * 1000)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=5_000)
    parser.add_argument("--workers", type=int)
    arguments = parser.parse_args()
    cv2.setNumThreads(1)
    print(endurance(arguments.pages, arguments.workers))


if __name__ == "__main__":
    main()
