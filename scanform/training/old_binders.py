"""The table on old binders: templates proposed from blanks, pages found by print, answers, dates and hours read. See
the package :mod:`scanform.training.old_forms` for the forms.

    python -m scanform.training.old_binders --corpus DIR [--forms NAME...] [--copies N] [--more N] [--out FILE.md]

DIR is what ``python -m scanform.training.old_forms --out DIR`` has made. Figures for the forms that parts of this were
fitted on stand apart from those for the others. Also fitted on, beyond the corpus's own split: boxes-left and
month-grid, on which the search for boxes and labels was worked out.
"""

from __future__ import annotations

import argparse
import json
import shutil
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from scanform.adopt import print_of, propose
from scanform.errors import ScanformError
from scanform.form import AdoptedField, AdoptedTemplate, Box, FieldKind
from scanform.settle import upper_bound
from scanform.training.old_copies import GROUPS, Answered, CopiesRead, read_copies
from scanform.training.old_forms.__main__ import write_form, write_of_set
from scanform.training.old_forms.catalogue import MEASURING
from scanform.training.old_forms.unseen import SETS
from scanform.training.old_proposals import Agreement, agreement, same_place, true_places
from scanform.training.old_which_form import SEEDS, TakenFor, copies_taken_for, pages_taken_for

__all__ = ["binder_tables", "made_tables"]

_ALSO_FITTED_ON = frozenset({"boxes-left", "month-grid"})
_GRADES = ("office", "worn", "bitonal")
_LAST_SETS, _COPIES = ("n", "o"), 51  # no reading was fitted on them; proposals were mended on their blanks
_FEW_FORMS, _FEW_COPIES = ("small-print", "coarse-table"), 6  # drawn without Chromium and LibreOffice
_PROGRAMS = {"chromium": "chromium", "libreoffice": "soffice"}  # by the catalogue's names of tools
_HEAD = {"unit": FieldKind.TEXT, "hours": FieldKind.NUMBER} | dict.fromkeys(("date", "week", "month"), FieldKind.DATE)
_FREE, _SAME_ROOM = (FieldKind.TEXT, FieldKind.DATE, FieldKind.NUMBER), 0.5
Runs = dict[tuple[str, str], AdoptedTemplate]  # a form's name and its print run


def binder_tables(
    corpus: Path, names: Sequence[str], copies: int, more: int = 0, workers: int | None = None
) -> tuple[str, list[str]]:
    """The tables as Markdown, and in words everything that went wrong.

    ``copies``: of each form, read in one batch as one binder. ``more``: pages made on the way and located only.
    """
    every = {entry["name"]: entry["split"] for entry in json.loads((corpus / "forms.json").read_text("utf-8"))}
    fitted = {name for name, split in every.items() if split == "fitting"} | _ALSO_FITTED_ON
    runs, proposed = _proposals(corpus, every)
    rows, notes = [], []
    totals = {True: CopiesRead(), False: CopiesRead()}
    for name in names:
        own = {run: template for (form, run), template in runs.items() if form == name}
        found = read_copies(corpus / name, -(-copies // max(len(own), 1)), own, list(runs.values()), workers)
        rows.append(_row(f"{name}{' (fitted on)' if name in fitted else ''}", found))
        print(rows[-1], *found.notes, sep="\n", flush=True)
        totals[name in fitted] += found
        notes += found.notes
    rows += [_row(f"all {'' if was else 'not '}fitted on", total) for was, total in totals.items() if total.pages]
    parts = [
        _table(("form", "places found", "and understood", "false", "named right"), proposed),
        _table(
            (
                "form",
                "located",
                "wrong form",
                "95th percentile",
                "accepted: " + ", ".join(GROUPS),
                "silently wrong",
                "open, doubted",
            ),
            rows,
        ),
        *[_bounds(f"forms {'' if was else 'not '}fitted on", total) for was, total in totals.items() if total.pages],
    ]
    if more:
        told, problems = told_apart(corpus, runs, more, workers)
        parts.append(told)
        notes += problems
    return "\n\n".join(parts), notes


def made_tables(full: bool, workers: int | None = None) -> str:
    """The tables on pages made for them: the forms that were drawn last, 51 copies each, or a few copies of two."""
    left_out: list[str] = []
    with tempfile.TemporaryDirectory() as folder, ProcessPoolExecutor(workers) as pool:
        corpus = Path(folder)
        if full:
            drawn = [(letter, n) for letter in _LAST_SETS for n, f in enumerate(SETS[letter]) if _drawable(f.tool)]
            made = [pool.submit(write_of_set, letter, n, corpus, _COPIES, _GRADES) for letter, n in drawn]
            left_out = [f.name for letter in _LAST_SETS for f in SETS[letter] if not _drawable(f.tool)]
        else:
            made = [pool.submit(write_form, name, corpus, _FEW_COPIES, _GRADES) for name in _FEW_FORMS]
        names = [task.result() for task in made]
        index = [{"name": name, "split": MEASURING} for name in names]
        (corpus / "forms.json").write_text(json.dumps(index), encoding="utf-8")
        text, notes = binder_tables(corpus, names, _COPIES if full else _FEW_COPIES, 0, workers)
    if left_out:
        notes.append(f"left out, their tools are not here: {', '.join(left_out)}")
    return "\n".join([text, "", *(f"- {note}" for note in notes)])


def _drawable(tool: str) -> bool:
    return tool not in _PROGRAMS or shutil.which(_PROGRAMS[tool]) is not None


def _proposals(corpus: Path, names: Iterable[str]) -> tuple[Runs, list[str]]:
    """Templates by form and run, from their PDFs, and lines of the first table."""
    templates: Runs = {}
    lines = []
    for name in names:
        for number, run in enumerate(sorted(p.name for p in (corpus / name).iterdir() if p.name != "copies"), start=1):
            folder = corpus / name / run
            truth = json.loads((folder / "layout.json").read_text(encoding="utf-8"))
            try:
                template = propose(print_of(folder / "blank.pdf"), name, number).template
            except ScanformError as problem:
                lines.append(f"| {name} {run} | {problem} | | | |")
                continue
            templates[name, run] = _answers_put_right(_head_put_right(template, truth), truth)
            lines.append(_proposal_line(f"{name} {run}", agreement(template, truth)))
    return templates, lines


def _head_put_right(template: AdoptedTemplate, truth: Mapping[str, Any]) -> AdoptedTemplate:
    """The template as a person leaves it in the editor: unit, date and hours called so, whatever their labels."""
    fields = list(template.fields)
    for entry in truth["pages"][0]["fields"]:
        stem = entry["id"].partition(".")[0]
        name = "date" if stem in ("week", "month") else entry["id"]
        if stem not in _HEAD or any(made.id == name for made in fields) or "box_mm" not in entry:
            continue
        shares = [_overlap(made, Box(*entry["box_mm"])) for made in fields]
        best = int(np.argmax(shares))
        if shares[best] > _SAME_ROOM:
            fields[best] = fields[best].model_copy(update={"id": name, "kind": _HEAD[stem], "label": entry["label"]})
    return template.model_copy(update={"fields": tuple(fields)})


def _answers_put_right(template: AdoptedTemplate, truth: Mapping[str, Any]) -> AdoptedTemplate:
    """The template as a person leaves it in the editor: each box found under the answer that it stands for."""
    true = [place for entry in truth["pages"][0]["fields"] for place in true_places(entry) if entry["kind"] == "choice"]
    fields = []
    for made in template.fields:
        meant = [
            next((means for box, means in true if same_place(Box(*answer.box_mm), box)), answer.answer)
            for answer in made.answers
        ]
        if len(set(meant)) == len(meant):
            named = zip(made.answers, meant, strict=True)
            made = made.model_copy(update={"answers": tuple(a.model_copy(update={"answer": m}) for a, m in named)})
        fields.append(made)
    return template.model_copy(update={"fields": tuple(fields)})


def _overlap(made: AdoptedField, room: Box) -> float:
    """Share of a room that a field of free writing takes of it."""
    if made.box_mm is None or made.kind not in _FREE:
        return 0.0
    own = Box(*made.box_mm)
    w = min(own.right_mm, room.right_mm) - max(own.x_mm, room.x_mm)
    h = min(own.bottom_mm, room.bottom_mm) - max(own.y_mm, room.y_mm)
    return max(w, 0.0) * max(h, 0.0) / (room.w_mm * room.h_mm)


def _proposal_line(what: str, a: Agreement) -> str:
    line = f"| {what} | {a.found}/{a.places} | {a.meant}/{a.places} | {a.false} | {a.named}/{a.headers} |"
    print(line, *a.wrong[:3], sep="\n    ", flush=True)
    return line


def _table(head: Sequence[str], rows: Sequence[str]) -> str:
    return "\n".join([f"| {' | '.join(head)} |", "| --- " * len(head) + "|", *rows])


def _row(what: str, found: CopiesRead) -> str:
    off = f"{np.percentile(found.off_mm, 95):.2f} mm" if found.off_mm else "-"
    accepted = ", ".join(_share(found.groups[name]) for name in GROUPS)
    wrong = ", ".join(str(found.groups[name].wrong) if found.groups[name].written else "-" for name in GROUPS)
    doubted = f"{found.doubted}/{found.open_answers}"
    return f"| {what} | {found.located}/{found.pages} | {found.wrong_form} | {off} | {accepted} | {wrong} | {doubted} |"


def _share(counted: Answered) -> str:
    return f"{counted.taken / counted.written:.1%}" if counted.written else "-"


def _bounds(what: str, found: CopiesRead) -> str:
    """The counts behind one line, with what they show at the least."""
    lost = found.pages - found.located
    lines = [
        f"Over {what}, {found.pages:,} pages, exact 95 % bounds: not located {_at_most(lost, found.pages)}; taken for "
        f"another form {_at_most(found.wrong_form, found.pages)}.",
        "",
        "| | written | accepted | silently wrong |",
        "| --- | --- | --- | --- |",
    ]
    for name, counted in _with_sums(found.groups):
        if counted.written:
            taken = f"{counted.taken:,} ({counted.taken / counted.written:.1%})"
            wrong = _at_most(counted.wrong, counted.accepted)
            lines.append(f"| {name} | {counted.written:,} | {taken} | {wrong} |")
    return "\n".join(lines)


def _with_sums(groups: Mapping[str, Answered]) -> Iterable[tuple[str, Answered]]:
    yield from groups.items()
    both = Answered()
    for name, counted in groups.items():
        if "dates" in name or "hours" in name:
            both += counted
    yield "dates and hours together", both


def _at_most(count: int, of: int) -> str:
    if not of:
        return f"{count} of 0"
    return f"{count} of {of:,} (at most 1 in {1 / upper_bound(count, of, 0.95):,.0f})"


def told_apart(corpus: Path, runs: Runs, more: int, workers: int | None = None) -> tuple[str, list[str]]:
    """Whether pages are given to the wrong form: the corpus's copies and ``more`` that are made here; and what was."""
    found: list[TakenFor] = [*copies_taken_for(corpus, runs, workers), *pages_taken_for(more, runs, workers)]
    lost = [one for one in found if not one.found]
    off = [off for one in found for off in one.off_mm] or [float("nan")]
    by_page = [float(np.percentile(one.off_mm, 95)) for one in found if one.off_mm] or [float("nan")]
    wrong = [f"{one.where}: taken for {one.wrong}" for one in found if one.wrong]
    strange = [f"{one.where}, its own form not there: taken for {one.without_own}" for one in found if one.without_own]
    missing = [f"{one.where}: not located" for one in lost if not one.wrong]
    text = (
        f"{len(found):,} pages of the {len(runs)} print runs, located only, {more:,} of them made for this (seeds from "
        f"{SEEDS:,}): not located {_at_most(len(lost), len(found))}; taken for another form or print run "
        f"{_at_most(len(wrong), len(found))}; where their own form is not among the templates, taken for another "
        f"{_at_most(len(strange), len(found))}. Of {len(off):,} fields 95 % were looked for within "
        f"{np.percentile(off, 95):.2f} mm; of the pages' own 95th percentiles the largest is {max(by_page):.2f} mm."
    )
    return text, [*wrong, *strange, *missing]


def main() -> None:
    """Command line: ``--help`` says how."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--corpus", type=Path, required=True)
    parser.add_argument("--forms", nargs="*", help="forms to measure; all if not given")
    parser.add_argument("--copies", type=int, default=60, help="filled copies of each form at most")
    parser.add_argument("--more", type=int, default=0, help="further pages that are located only")
    parser.add_argument("--workers", type=int)
    parser.add_argument("--out", type=Path, help="a file for the tables")
    wanted = parser.parse_args()
    index = json.loads((wanted.corpus / "forms.json").read_text(encoding="utf-8"))
    names = wanted.forms or [entry["name"] for entry in index]
    text, notes = binder_tables(wanted.corpus, names, wanted.copies, wanted.more, wanted.workers)
    text = "\n".join([text, "", *(f"- {note}" for note in notes)])
    print(text)
    if wanted.out is not None:
        wanted.out.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
