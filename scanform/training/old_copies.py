"""One form's filled copies read as a user reads them, by a batch into a binder, and what the record says beside their
truth.

The binder has a register of units, as a site has, and every form that is given as a template: a page may be taken for
any of them.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import RegularGridInterpolator

from scanform.batch import gather, read_stack
from scanform.binder import PageRecord, open_binder
from scanform.form import AdoptedField, AdoptedTemplate, Box, FieldKind, Template, built_in_templates, lay_out
from scanform.settle import Outcome, SettledField, State, same_value
from scanform.simulate import random_unit
from scanform.simulate.warp import PointMap

__all__ = ["GROUPS", "Answered", "CopiesRead", "form_to_px", "off_mm", "read_copies"]

# What is counted together: answers to items, dates and hours in free writing, the same in cells, and unit numbers.
GROUPS = ("answers", "written dates", "written hours", "dates in cells", "hours in cells", "units")
_ANSWERED = (FieldKind.CHOICE, FieldKind.MARK, FieldKind.CIRCLE)
_DATES = ("date", "week")
_FIRST_DAY = {"date": ("week", "month")}  # what a week's or a month's sheet is filed under
_NEAR_MM = 1.5  # a proposed place and a true one are the same
_REGISTER = 25  # machines
_ACROSS_MM = 200.0  # along a form's top edge, for the scale
_TODAY = date(2026, 7, 1)  # after the newest copy


@dataclass
class Answered:
    """Fields of one group. ``written``: the paper says what they are; ``taken``: of these accepted. ``accepted``: of
    all in which there is something to be wrong about, a value on paper, or one that was read.
    """

    written: int = 0
    taken: int = 0
    accepted: int = 0
    wrong: int = 0

    def __iadd__(self, other: Answered) -> Answered:
        self.written += other.written
        self.taken += other.taken
        self.accepted += other.accepted
        self.wrong += other.wrong
        return self


@dataclass
class CopiesRead:
    """Counts over filled copies. ``off_mm``: how far each field was looked for from where it is, pages put together.
    ``open_answers``: items that the paper leaves open, and ``doubted``: those of them left to a person.
    """

    pages: int = 0
    located: int = 0
    wrong_form: int = 0
    off_mm: list[float] = field(default_factory=list)
    groups: dict[str, Answered] = field(default_factory=lambda: {name: Answered() for name in GROUPS})
    open_answers: int = 0
    doubted: int = 0
    notes: list[str] = field(default_factory=list)

    def __iadd__(self, other: CopiesRead) -> CopiesRead:
        self.pages += other.pages
        self.located += other.located
        self.wrong_form += other.wrong_form
        self.off_mm += other.off_mm
        for name, counted in other.groups.items():
            self.groups[name] += counted
        self.open_answers += other.open_answers
        self.doubted += other.doubted
        self.notes += other.notes
        return self


def read_copies(
    folder: Path,
    most: int,
    by_run: Mapping[str, AdoptedTemplate],
    templates: Sequence[AdoptedTemplate],
    workers: int | None = None,
) -> CopiesRead:
    """Read the first ``most`` copies of each print run under ``folder`` (of :mod:`scanform.training.old_forms`) in one
    batch. ``by_run``: the run's own template; ``templates``: all that the binder has.
    """
    said = [truth for truth in _truths(folder) if truth["run"] in by_run]
    chosen = [truth for run in by_run for truth in [t for t in said if t["run"] == run][:most]]
    layouts = {run: json.loads((folder / run / "layout.json").read_text(encoding="utf-8")) for run in by_run}
    ids = {run: true_ids(template, layouts[run]) for run, template in by_run.items()}
    found = CopiesRead()
    for truth, record in _records(folder / "copies", chosen, templates, workers):
        _count(found, record, truth, by_run[truth["run"]], ids[truth["run"]])
    return found


def _truths(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(file.read_text(encoding="utf-8")) for file in sorted(folder.glob("copies/*.json"))]


def _records(
    copies: Path, truths: Sequence[Mapping[str, Any]], templates: Sequence[AdoptedTemplate], workers: int | None
) -> Iterable[tuple[Mapping[str, Any], PageRecord]]:
    cv2.setNumThreads(1)
    every: list[Template] = [*built_in_templates(), *templates]
    with tempfile.TemporaryDirectory() as made:
        register = Path(made) / "units.csv"
        register.write_text("unit\n" + "\n".join(_register(truths)) + "\n", encoding="utf-8")
        with open_binder(Path(made) / "binder", create=True) as binder:
            binder.load_units(register)
            stack = gather([copies / truth["file"] for truth in truths])
            result = read_stack(stack, binder, every, workers=workers, today=_TODAY)
            by_file = {Path(page.record.source_path).name: page.record for page in result.pages}
    return [(truth, by_file[truth["file"]]) for truth in truths]


def _register(truths: Sequence[Mapping[str, Any]]) -> list[str]:
    """The units of the copies, and others up to twenty-five."""
    units = {str(truth["values"]["unit"]["value"]) for truth in truths if "unit" in truth["values"]}
    rng = np.random.default_rng(min((truth["seed"] for truth in truths), default=0))
    while len(units) < _REGISTER:
        units.add(random_unit(int(rng.integers(4, 7)), rng))
    return sorted(units)


def _count(
    found: CopiesRead,
    record: PageRecord,
    truth: Mapping[str, Any],
    template: AdoptedTemplate,
    ids: Mapping[str, str],
) -> None:
    found.pages += 1
    where = f"{truth['form']}/{truth['file']}"
    if record.template is None or record.outcome not in (Outcome.READ, Outcome.DUPLICATE):
        found.notes.append(f"{where}: {record.outcome.value}: {record.reason}")
        return
    if (record.template, record.version) != (template.name, template.version):
        found.wrong_form += 1
        found.notes.append(f"{where}: taken for {record.template} version {record.version}")
        return
    found.located += 1
    found.off_mm += _off_mm(record.fields, template, truth)
    fields = {said.id: said for said in record.fields}
    for made in template.fields:
        group, true_id = _group(made), ids.get(made.id)
        if group and true_id is not None:
            _count_field(found, group, fields[made.id], truth, true_id, where)


def _count_field(
    found: CopiesRead, group: str, said: SettledField, truth: Mapping[str, Any], true_id: str, where: str
) -> None:
    true = truth["values"].get(true_id, {}).get("value")
    unclear = true_id in truth["unclear"]
    accepted = said.state is State.ACCEPTED
    # An answer that was struck out is wrong; one that was then given instead is not in the truth.
    right = said.value is not None and said.value != true if unclear else _same(group, said.value, true)
    counted = found.groups[group]
    if true is not None and not unclear:
        counted.written += 1
        counted.taken += accepted
    elif group == "answers" and (unclear or not _may_be_empty(true_id)):
        found.open_answers += 1
        found.doubted += not accepted
    if accepted and (true is not None or said.value is not None or unclear):
        counted.accepted += 1
        counted.wrong += not right
        if not right:
            on_paper = f"{true}, struck out" if unclear else str(true)
            found.notes.append(
                f"{where} {true_id}: paper says {on_paper}, accepted {said.value} at {said.confidence:.4f}"
            )


def _may_be_empty(true_id: str) -> bool:
    """An item of one day of a grid: nobody worked that day."""
    return true_id.count(".") > 1


def _group(made: AdoptedField) -> str | None:
    if made.kind in _ANSWERED:
        return "answers"
    stem = made.id.partition(".")[0]
    if stem in _DATES:
        return "dates in cells" if made.kind is FieldKind.COMB else "written dates"
    if stem == "hours":
        return "hours in cells" if made.kind is FieldKind.COMB else "written hours"
    return "units" if stem == "unit" else None


def _same(group: str, said: object, true: object) -> bool:
    if "hours" in group and said is not None and true is not None:
        try:
            return Decimal(str(said)) == Decimal(str(true))
        except InvalidOperation:
            return False
    if "dates" in group and isinstance(said, str) and isinstance(true, str):
        return said in (true, f"{true}-01")  # a month is filed under its first day
    return same_value("unit" if group == "units" else group, said, true)  # type: ignore[arg-type]


def _off_mm(fields: Sequence[SettledField], template: AdoptedTemplate, truth: Mapping[str, Any]) -> list[float]:
    """How far every field was looked for from where it truly is; those on a corner that is torn off are left out."""
    boxes = {spec.id: spec.box_mm for spec in lay_out(template, template.paper).fields}
    middles = np.array([boxes[said.id].centre_mm for said in fields])
    looked = np.array([np.mean(said.polygon_px, axis=0) for said in fields])
    return off_mm(looked, middles, form_to_px(truth), truth["lost_px"])


def form_to_px(truth: Mapping[str, Any]) -> PointMap:
    """Places on a copy's blank form in mm to px, (n, 2) to (n, 2), by the grid of its truth."""
    grid = truth["grid"]
    px = np.array(grid["px"], np.float64)
    axes = np.arange(px.shape[0]) * grid["step_mm"], np.arange(px.shape[1]) * grid["step_mm"]
    true = RegularGridInterpolator(axes, px, bounds_error=False, fill_value=None)
    return lambda mm: np.asarray(true(mm[:, ::-1]))


def off_mm(looked_px: np.ndarray, mm: np.ndarray, to_px: PointMap, lost_px: Sequence[ArrayLike]) -> list[float]:
    """How far places that were looked for at float (n, 2) px are from where places at (n, 2) mm of the form are.

    Those in ``lost_px``, polygons of (k, 2) px each, are left out.
    """
    there = to_px(mm)
    left, right = to_px(np.array([[0.0, 0.0], [_ACROSS_MM, 0.0]]))
    px_per_mm = np.linalg.norm(right - left) / _ACROSS_MM
    lost = [np.array(corner, np.float32).reshape(-1, 1, 2) for corner in lost_px]
    kept = [
        not any(cv2.pointPolygonTest(corner, (float(x), float(y)), False) >= 0 for corner in lost) for x, y in there
    ]
    return [float(v) for v in np.linalg.norm(looked_px - there, axis=1)[kept] / px_per_mm]


def true_ids(template: AdoptedTemplate, layout: Mapping[str, Any]) -> dict[str, str]:
    """The truth's ids of a template's fields: of answers by where they lie, of all else by name."""
    entries = layout["pages"][0]["fields"]
    answers = [
        (entry["id"], [Box(*answer["box_mm"]) for answer in entry.get("answers", [])] or [Box(*entry["box_mm"])])
        for entry in entries
        if entry["kind"] in ("choice", "mark")
    ]
    names = {entry["id"] for entry in entries}
    ids = {}
    for made in template.fields:
        if made.kind not in _ANSWERED:
            same = next((name for name in (made.id, *_FIRST_DAY.get(made.id, ())) if name in names), None)
            if same is not None:
                ids[made.id] = same
            continue
        box = Box(*(made.answers[0].box_mm if made.answers else made.box_mm or ()))
        same = next((i for i, boxes in answers if any(_near(box, other) for other in boxes)), None)
        if same is not None:
            ids[made.id] = same
    return ids


def _near(a: Box, b: Box) -> bool:
    return all(abs(u - v) < _NEAR_MM for u, v in zip(a.centre_mm, b.centre_mm, strict=True))
