"""Feed damaged files through intake, locating and reading in worker processes, and see that every one ends well.

    python -m scanform.training.fuzz --files 10000
    python -m scanform.training.fuzz --only 4711 --out file.pdf

The files are small whole ones made by other programs, each damaged by its own seeded draw. It ends well if the file
comes to pages or to one sentence; a worker that dies or hangs costs its file and is counted; an error that nobody
thought of, or a sentence that is none, is a fault of ours. The second form writes one of the files for a closer look.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np
from rich.progress import track

from scanform.batch.bounds import PAGE_S
from scanform.batch.counting import counted
from scanform.batch.crew import Job, Loss, done_in_order
from scanform.batch.worker import CarriedPage, Task, carry, prepare
from scanform.form import built_in_templates
from scanform.training.fuzz_damage import damaged, random_changes
from scanform.training.fuzz_files import whole_files

__all__ = ["FUZZ_SEEDS", "Opened", "fault_in", "fuzz_file", "fuzzed", "opened", "report"]

FUZZ_SEEDS = 9_700_000
_MOST_PAGES = 3  # of one file
_LISTED = 20


class Opened(NamedTuple):
    """What one file came to: ``outcomes`` of its pages (or ``refused``), ``fault`` of ours if any.

    ``seconds`` of processor time; ``peak_mb`` and ``resident_mb`` of the worker (``worker``: its id) so far.
    """

    outcomes: tuple[str, ...]
    fault: str
    seconds: float
    peak_mb: float
    resident_mb: float
    worker: int


def fuzz_file(number: int, whole: dict[str, bytes]) -> tuple[str, bytes]:
    """The numbered file: the name of the whole one that it was, and its bytes."""
    names = sorted(whole)
    name = names[number % len(names)]
    return name, damaged(whole[name], random_changes(np.random.default_rng([FUZZ_SEEDS, number])))


def fuzzed(files: int, workers: int) -> Iterator[Opened | Loss]:
    """Each file's end, in order."""
    whole = whole_files()
    with tempfile.TemporaryDirectory() as folder:
        work = partial(_open_numbered, whole=whole, folder=Path(folder))
        job: Job[int, Opened] = Job(work, PAGE_S, prepare, (built_in_templates(),))
        ends = done_in_order(job, range(files), int, workers)
        with closing(ends):
            yield from ends


def _open_numbered(number: int, whole: dict[str, bytes], folder: Path) -> Opened:
    name, data = fuzz_file(number, whole)
    path = folder / f"{number:06d}{Path(name).suffix}"
    path.write_bytes(data)
    try:
        return opened(path)
    finally:
        path.unlink()


def opened(path: Path) -> Opened:
    """Count a file's pages and carry the first few, as a worker does."""
    started = time.process_time()
    found = counted((path, str(path)))
    outcomes, faults = [], []
    if found.why:
        outcomes.append("refused")
        faults.append(fault_in(found.why))
    for number in range(1, min(found.pages, _MOST_PAGES) + 1):
        page = carry(Task(path, number, str(path)))
        outcomes.append(page.outcome)
        faults.append(_fault_of(page))
    status = _memory()
    fault = next((fault for fault in faults if fault), "")
    return Opened(tuple(outcomes), fault, time.process_time() - started, *status, os.getpid())


def _fault_of(page: CarriedPage) -> str:
    return fault_in(page.reason or "") if page.outcome == "unreadable" else ""


def fault_in(sentence: str) -> str:
    """What is wrong with the sentence that a refused file got; empty if nothing is."""
    if "could not be read (" in sentence:
        return f"an error nobody thought of: {sentence}"
    one = sentence.endswith(".") and "\n" not in sentence and sentence.isprintable()
    return "" if one else f"no sentence: {sentence!r}"


def _memory() -> tuple[float, float]:
    """This process's peak and present resident memory in MB (Linux; 0 elsewhere)."""
    try:
        lines = Path("/proc/self/status").read_text().splitlines()
    except OSError:
        return 0.0, 0.0
    kb = {line.split(":")[0]: line.split()[1] for line in lines if line.startswith(("VmHWM", "VmRSS"))}
    return int(kb["VmHWM"]) / 1024, int(kb["VmRSS"]) / 1024


def report(ends: Sequence[Opened | Loss], whole: dict[str, bytes], minutes: float) -> str:
    """The figures as Markdown."""
    names = sorted(whole)
    good = [end for end in ends if isinstance(end, Opened)]
    outcomes = Counter(outcome for end in good for outcome in end.outcomes)
    lost = [(n, end) for n, end in enumerate(ends) if isinstance(end, Loss)]
    faults = [(n, end.fault) for n, end in enumerate(ends) if isinstance(end, Opened) and end.fault]
    slowest = max(range(len(ends)), key=lambda n: end.seconds if isinstance(end := ends[n], Opened) else -1.0)
    end = ends[slowest]
    assert isinstance(end, Opened)
    lines = [
        f"{len(ends):,} damaged files from {len(whole)} whole ones (seed {FUZZ_SEEDS:,}), {minutes:.1f} minutes: "
        f"the batch survived all; {len(lost)} ended or blocked their worker, {len(faults)} met a fault of ours.",
        "Outcomes: " + ", ".join(f"{outcome} {count:,}" for outcome, count in outcomes.most_common()) + ".",
        f"Slowest: file {slowest} ({names[slowest % len(names)]}), {end.seconds:.2f} s of processor time. "
        f"Peak memory of a worker: {max(e.peak_mb for e in good):.0f} MB; {_growth(good)}",
    ]
    lines += [f"- {loss.value}: file {n} ({names[n % len(names)]})" for n, loss in lost[:_LISTED]]
    lines += [f"- file {n} ({names[n % len(names)]}): {fault}" for n, fault in faults[:_LISTED]]
    return "\n".join(lines)


def _growth(good: Sequence[Opened]) -> str:
    """How much more a worker holds in the second half of its files than in the first, by the medians."""
    said = []
    for worker in dict.fromkeys(end.worker for end in good):
        held = [end.resident_mb for end in good if end.worker == worker]
        half = len(held) // 2
        if half > 50:
            said.append(f"{np.median(held[half:]) - np.median(held[:half]):+.1f} MB over {len(held):,} files")
    return "between the halves of a worker's files it grew by " + ", ".join(said) + "."


def main() -> None:
    """Run and print, or write one file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--only", type=int, help="write this one file instead")
    parser.add_argument("--out", type=Path, default=Path("fuzz.bin"), help="where to, with --only")
    arguments = parser.parse_args()
    if arguments.only is not None:
        arguments.out.write_bytes(fuzz_file(arguments.only, whole_files())[1])
        return
    started = time.perf_counter()
    ends = list(track(fuzzed(arguments.files, arguments.workers), total=arguments.files, description="Fuzzing"))
    print(report(ends, whole_files(), (time.perf_counter() - started) / 60))


if __name__ == "__main__":
    main()
