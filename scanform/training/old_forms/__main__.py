"""Makes the corpus of old forms; see the package for what is written where."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from scanform.simulate import Grade, scan
from scanform.training.old_forms.catalogue import CATALOGUE, MEASURING, Listed, listed
from scanform.training.old_forms.copies import make_copy, master, write_copy
from scanform.training.old_forms.drawn import DrawnForm, layout_json
from scanform.training.old_forms.unseen import SETS

_FITTING_SEED, _MEASURING_SEED = 5_800_000, 9_800_000
_OTHER_CREW = 100  # seeds from one crew's binders to the next crew's: more than there are forms


def seed_of(form: Listed, crew: int = 0) -> int:
    """The binder's seed: forms for fitting from 5,800,000, those for measuring from 9,800,000; a ``crew`` of another
    number are other hands on other machines.
    """
    first = _MEASURING_SEED if form.split == MEASURING else _FITTING_SEED
    return first + CATALOGUE.index(form) + _OTHER_CREW * crew


def write_of_set(letter: str, number: int, out: Path, copies: int, grades: Sequence[str]) -> str:
    """One blank form of a set with its truth and its scan, and as many filled copies."""
    form = SETS[letter][number]
    seed = _FITTING_SEED + 1_000 * (ord(letter) - ord("a")) + number
    made = write_blank(form, form.runs[0], out, seed)
    _write_copies(form, [made], out, copies, grades, seed)
    return form.name


def write_blank(form: Listed, run: str, out: Path, seed: int) -> tuple[DrawnForm, np.ndarray]:
    """One print run: the PDF, the truth, a scan. Gives the form and its picture as the copier has it."""
    made = form.draw(run)
    folder = out / form.name / run
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "blank.pdf").write_bytes(made.pdf)
    (folder / "layout.json").write_text(json.dumps(layout_json(made), indent=1) + "\n", encoding="utf-8")
    blank = master(made, form.generations, seed)
    clean = scan(blank, Grade.OFFICE, np.random.default_rng([seed, 3]))
    (folder / f"blank-scan{clean.suffix}").write_bytes(clean.encoded)
    return made, blank


def write_form(name: str, out: Path, copies: int, grades: Sequence[str], crew: int = 0) -> str:
    """One form with all its runs and copies."""
    form = listed(name)
    seed = seed_of(form, crew)
    _write_copies(form, [write_blank(form, run, out, seed) for run in form.runs], out, copies, grades, seed)
    return name


def _write_copies(
    form: Listed,
    runs: Sequence[tuple[DrawnForm, np.ndarray]],
    out: Path,
    copies: int,
    grades: Sequence[str],
    seed: int,
) -> None:
    folder = out / form.name / "copies"
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(copies):
        drawn, blank = runs[number * len(runs) // copies]  # the older run first, as it lay in the binder
        write_copy(make_copy(form, drawn, blank, grades[number % len(grades)], seed, number), folder)


def main() -> None:
    """Command line: ``--help`` says how."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder to make")
    parser.add_argument("--forms", nargs="*", default=[form.name for form in CATALOGUE], help="names; all if not given")
    parser.add_argument("--copies", type=int, default=60, help="filled copies of each form")
    parser.add_argument("--grades", nargs="*", default=["office", "worn", "bitonal"], help="scan grades, used in turn")
    parser.add_argument("--crew", type=int, default=0, help="0 to 9: binders that other hands have written")
    parser.add_argument("--sets", nargs="*", choices=sorted(SETS), help="instead: the blanks of these sets")
    parser.add_argument("--set-copies", type=int, default=0, help="filled copies of each form of the sets")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(wanted.workers) as pool:
        if wanted.sets:
            tasks = [
                pool.submit(write_of_set, letter, number, wanted.out, wanted.set_copies, wanted.grades)
                for letter in wanted.sets
                for number in range(len(SETS[letter]))
            ]
        else:
            tasks = [
                pool.submit(write_form, name, wanted.out, wanted.copies, wanted.grades, wanted.crew)
                for name in wanted.forms
            ]
        for task in tasks:
            print(task.result(), flush=True)
    if wanted.sets:
        return
    index = [
        {"name": f.name, "tool": f.tool, "split": f.split, "covers": f.covers, "runs": f.runs, "copies": wanted.copies}
        for f in CATALOGUE
        if f.name in wanted.forms
    ]
    (wanted.out / "forms.json").write_text(json.dumps(index, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
