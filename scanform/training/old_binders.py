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
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np

from scanform.adopt import print_of, propose
from scanform.errors import ScanformError
from scanform.form import AdoptedTemplate
from scanform.settle import upper_bound
from scanform.training.old_copies import GROUPS, Answered, CopiesRead, read_copies
from scanform.training.old_forms import CATALOGUE
from scanform.training.old_forms.__main__ import write_form
from scanform.training.old_proposals import Agreement, agreement
from scanform.training.old_which_form import SEEDS, taken_for

__all__ = ["binder_tables", "tables_of_few"]

_ALSO_FITTED_ON = frozenset({"boxes-left", "month-grid"})
_GRADES = ("office", "worn", "bitonal")
_FEW_FORMS, _FEW_COPIES = ("small-print", "coarse-table"), 6  # drawn without Chromium and LibreOffice
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
        _table(("form", "blank", "places found", "and understood", "false", "named right"), proposed),
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
        told, problems = _told_apart(more, runs, workers)
        parts.append(told)
        notes += problems
    return "\n\n".join(parts), notes


def tables_of_few(workers: int | None = None) -> str:
    """The tables on a few pages made for them: two forms, every grade."""
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder)
        index = [{"name": f.name, "split": f.split} for f in CATALOGUE if f.name in _FEW_FORMS]
        (corpus / "forms.json").write_text(json.dumps(index), encoding="utf-8")
        for name in _FEW_FORMS:
            write_form(name, corpus, _FEW_COPIES, _GRADES)
        text, notes = binder_tables(corpus, _FEW_FORMS, _FEW_COPIES, workers=workers)
    return "\n".join([text, "", *(f"- {note}" for note in notes)])


def _proposals(corpus: Path, names: Iterable[str]) -> tuple[Runs, list[str]]:
    """Templates by form and run, from their PDFs, and lines of the first table."""
    templates: Runs = {}
    lines = []
    for name in names:
        for number, run in enumerate(sorted(p.name for p in (corpus / name).iterdir() if p.name != "copies"), start=1):
            folder = corpus / name / run
            truth = json.loads((folder / "layout.json").read_text(encoding="utf-8"))
            for blank in ("blank.pdf", "blank-scan.jpg"):
                try:
                    proposal = propose(print_of(folder / blank), name, number)
                except ScanformError as problem:
                    lines.append(f"| {name} {run} | {blank} | {problem} | | | |")
                    continue
                if blank == "blank.pdf":
                    templates[name, run] = proposal.template
                lines.append(_proposal_line(f"{name} {run}", blank, agreement(proposal.template, truth)))
    return templates, lines


def _proposal_line(what: str, blank: str, a: Agreement) -> str:
    line = f"| {what} | {blank} | {a.found}/{a.places} | {a.meant}/{a.places} | {a.false} | {a.named}/{a.headers} |"
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


def _told_apart(pages: int, runs: Runs, workers: int | None) -> tuple[str, list[str]]:
    found = list(taken_for(pages, runs, workers))
    lost = [one for one in found if not one.found]
    wrong = [f"{one.where}: taken for {one.wrong}" for one in found if one.wrong]
    strange = [f"{one.where}, its own form not there: taken for {one.without_own}" for one in found if one.without_own]
    missing = [f"{one.where}: not located" for one in lost if not one.wrong]
    text = (
        f"{len(found):,} more pages of the {len(runs)} print runs, located only (seeds from {SEEDS:,}): not located "
        f"{_at_most(len(lost), len(found))}; taken for another form or print run {_at_most(len(wrong), len(found))}; "
        f"where their own form is not among the templates, taken for another {_at_most(len(strange), len(found))}."
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
