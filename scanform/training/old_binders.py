"""The table on old binders: templates proposed from blanks, pages found by print, answers read. See the package
:mod:`scanform.training.old_forms` for the forms.

    python -m scanform.training.old_binders --corpus DIR [--forms NAME...] [--copies N] [--out FILE.md]

DIR is what ``python -m scanform.training.old_forms --out DIR`` has made. Figures for the forms that parts of this were
fitted on stand apart from those for the others. Also fitted on, beyond the corpus's own split: boxes-left and
month-grid, on which the search for boxes and labels was worked out.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from scipy.interpolate import RegularGridInterpolator

from scanform.adopt import print_of, propose
from scanform.errors import ScanformError
from scanform.form import AdoptedTemplate, Box, FieldKind, built_in_templates
from scanform.intake import Page, load_page
from scanform.locate import KnownLayouts, LocatedSheet, sheets_on
from scanform.read import Instruments, read_sheet
from scanform.settle import Known, SettledField, State, settle_sheet
from scanform.training.old_proposals import Agreement, agreement

__all__ = ["PagesFound", "main"]

_ALSO_FITTED_ON = frozenset({"boxes-left", "month-grid"})
_NEAR_MM = 1.5  # a proposed place and a true one are the same
_ANSWERED = (FieldKind.CHOICE, FieldKind.MARK, FieldKind.CIRCLE)


@dataclass
class PagesFound:
    """Counts over filled copies. ``off_mm``: of every field's place, pages put together."""

    pages: int = 0
    located: int = 0
    wrong_form: int = 0
    off_mm: list[float] = field(default_factory=list)
    answers: int = 0
    accepted: int = 0
    silently_wrong: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: PagesFound) -> None:
        """Puts another form's counts to these."""
        self.pages += other.pages
        self.located += other.located
        self.wrong_form += other.wrong_form
        self.off_mm += other.off_mm
        self.answers += other.answers
        self.accepted += other.accepted
        self.silently_wrong += other.silently_wrong
        self.wrong += other.wrong


def _proposals(corpus: Path, names: Iterable[str]) -> tuple[dict[tuple[str, str], AdoptedTemplate], list[str]]:
    """Templates by form and run, from their PDFs, and lines of the first table."""
    templates: dict[tuple[str, str], AdoptedTemplate] = {}
    lines = []
    for name in names:
        for number, run in enumerate(sorted(p.name for p in (corpus / name).iterdir() if p.name != "copies"), start=1):
            folder = corpus / name / run
            truth = json.loads((folder / "layout.json").read_text(encoding="utf-8"))
            for blank in ("blank.pdf", "blank-scan.jpg"):
                try:
                    proposal = propose(print_of(folder / blank), name, number)
                except ScanformError as problem:
                    lines.append(f"{name} {run} {blank}: {problem}")
                    continue
                if blank == "blank.pdf":
                    templates[name, run] = proposal.template
                lines.append(_proposal_line(f"{name} {run}", blank, agreement(proposal.template, truth)))
    return templates, lines


def _proposal_line(what: str, blank: str, a: Agreement) -> str:
    for wrong in a.wrong[:3]:
        print("   ", wrong, flush=True)
    line = f"| {what} | {blank} | {a.found}/{a.places} | {a.meant}/{a.places} | {a.false} | {a.named}/{a.headers} |"
    print(line, flush=True)
    return line


def _copies(
    folder: Path, most: int, template: AdoptedTemplate, run: str, known: KnownLayouts, instruments: Instruments
) -> PagesFound:
    """What became of one form's filled copies of one print run."""
    found = PagesFound()
    truth_ids = None
    for file in sorted(folder.glob("copies/*.json"))[:most]:
        said = json.loads(file.read_text(encoding="utf-8"))
        if said["run"] != run:
            continue
        if truth_ids is None:
            layout = json.loads((folder / run / "layout.json").read_text(encoding="utf-8"))
            truth_ids = _truth_ids(template, layout)
        _one_copy(found, load_page(file.parent / said["file"], 1), said, template, truth_ids, known, instruments)
    return found


def _one_copy(
    found: PagesFound,
    page: Page,
    said: Mapping[str, Any],
    template: AdoptedTemplate,
    truth_ids: Mapping[str, str],
    known: KnownLayouts,
    instruments: Instruments,
) -> None:
    found.pages += 1
    where = f"{said['form']}/{said['file']}"
    sheet = sheets_on(page, known)[0]
    if not isinstance(sheet, LocatedSheet):
        found.wrong.append(f"{where}: {sheet.outcome}: {sheet.reason}")
        return
    if sheet.layout.template != template:
        found.wrong_form += 1
        found.wrong.append(f"{where}: taken for {sheet.layout.template.name} {sheet.layout.template.version}")
        return
    found.located += 1
    found.off_mm += _off_mm(sheet, said["grid"])
    settled = settle_sheet(sheet.layout, read_sheet(sheet, instruments), Known())
    _compare(found, {f.id: f for f in settled}, said, template, truth_ids, where)


def _off_mm(sheet: LocatedSheet, grid: Mapping[str, Any]) -> list[float]:
    """How far every field in sight lies from where it truly is."""
    px = np.array(grid["px"], np.float64)
    axes = np.arange(px.shape[0]) * grid["step_mm"], np.arange(px.shape[1]) * grid["step_mm"]
    true = RegularGridInterpolator(axes, px, bounds_error=False, fill_value=None)
    boxes = [spec.box_mm for spec in sheet.layout.fields if np.isfinite(sheet.residual_of(spec))]
    middles = np.array([box.centre_mm for box in boxes])
    shifts = np.array([sheet.shifts_mm.get(box, (0.0, 0.0)) for box in boxes])
    there = (sheet.map.to_px(middles + shifts) + 0.5) / sheet.raster_scale - 0.5
    off = np.linalg.norm(there - true(middles[:, ::-1]), axis=1)
    return [float(v) for v in off / sheet.map.px_per_mm() * sheet.raster_scale]


def _truth_ids(template: AdoptedTemplate, layout: Mapping[str, Any]) -> dict[str, str]:
    """The truth's ids of the proposed fields for answers, by where they lie."""
    true = [
        (entry["id"], [Box(*answer["box_mm"]) for answer in entry.get("answers", [])] or [Box(*entry["box_mm"])])
        for entry in layout["pages"][0]["fields"]
        if entry["kind"] in ("choice", "mark")
    ]
    ids = {}
    for made in template.fields:
        if made.kind not in _ANSWERED:
            continue
        box = Box(*(made.answers[0].box_mm if made.answers else made.box_mm or ()))
        same = next((i for i, boxes in true if any(_near(box, other) for other in boxes)), None)
        if same is not None:
            ids[made.id] = same
    return ids


def _near(a: Box, b: Box) -> bool:
    return all(abs(u - v) < _NEAR_MM for u, v in zip(a.centre_mm, b.centre_mm, strict=True))


def _compare(
    found: PagesFound,
    fields: Mapping[str, SettledField],
    said: Mapping[str, Any],
    template: AdoptedTemplate,
    truth_ids: Mapping[str, str],
    where: str,
) -> None:
    for made in template.fields:
        true_id = truth_ids.get(made.id)
        if true_id is None or true_id in said["unclear"]:
            continue
        true = said["values"].get(true_id, {}).get("value")
        field = fields[made.id]
        found.answers += 1
        if field.state is not State.ACCEPTED:
            continue
        found.accepted += 1
        if field.value != true:
            found.silently_wrong += 1
            found.wrong.append(
                f"{where} {true_id}: paper says {true}, accepted {field.value} at {field.confidence:.4f}"
            )


def _pages_line(what: str, p: PagesFound) -> str:
    off = f"{np.percentile(p.off_mm, 95):.2f} mm" if p.off_mm else "-"
    share = f"{p.accepted / p.answers:.1%} of {p.answers:,}" if p.answers else "-"
    line = f"| {what} | {p.located}/{p.pages} | {p.wrong_form} | {off} | {share} | {p.silently_wrong} |"
    print(line, flush=True)
    return line


def main() -> None:
    """Command line: ``--help`` says how."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--corpus", type=Path, required=True)
    parser.add_argument("--forms", nargs="*", help="forms to measure; all if not given")
    parser.add_argument("--copies", type=int, default=60, help="filled copies of each form at most")
    parser.add_argument("--out", type=Path, help="a file for the tables")
    wanted = parser.parse_args()
    cv2.setNumThreads(1)
    index = json.loads((wanted.corpus / "forms.json").read_text(encoding="utf-8"))
    split = {entry["name"]: entry["split"] for entry in index}
    templates, lines = _proposals(wanted.corpus, wanted.forms or split)
    lines = ["| form | blank | places found | and understood | false | named right |", "| --- " * 6 + "|", *lines, ""]
    known = KnownLayouts([*built_in_templates(), *templates.values()])
    instruments = Instruments()
    lines += [
        "| form | located | wrong form | 95th percentile | answers accepted | silently wrong |",
        "| --- " * 6 + "|",
    ]
    totals = {"fitted on": PagesFound(), "not fitted on": PagesFound()}
    wrong = []
    for (name, run), template in templates.items():
        if wanted.forms and name not in wanted.forms:
            continue
        counted = _copies(wanted.corpus / name, wanted.copies, template, run, known, instruments)
        fitted = split[name] == "fitting" or name in _ALSO_FITTED_ON
        totals["fitted on" if fitted else "not fitted on"].add(counted)
        lines.append(_pages_line(f"{name} {run}", counted))
        wrong += counted.wrong
    lines += [_pages_line(f"all {what}", total) for what, total in totals.items()]
    print("\n".join(wrong), flush=True)
    if wanted.out is not None:
        wanted.out.write_text("\n".join([*lines, "", *(f"- {w}" for w in wrong)]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
