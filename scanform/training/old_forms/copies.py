"""Filled copies of an old form as an office finds them in a binder: copied, written on, scanned. Seeded."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from scanform.form.geometry import Box
from scanform.simulate import DPI, Grade, render_pdf, scan
from scanform.simulate.copies import copied, then
from scanform.simulate.warp import PointMap
from scanform.simulate.wear import photocopied
from scanform.training.old_forms.catalogue import Listed
from scanform.training.old_forms.crew import BinderCrew, binder_crew, occasion
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.filling import filled, take_back
from scanform.training.old_forms.values import Written, page_values

__all__ = ["OldCopy", "copy_json", "make_copy", "master", "write_copy"]

_SHARE_RESIZED, _RATIO = 0.4, (0.97, 1.03)  # copies of copies grow and shrink; the rest within 0.3 %
_SHARE_UPSIDE_DOWN, _SHARE_SIDEWAYS, _SHARE_TAKEN_BACK = 0.06, 0.3, 0.05
_GRID_MM = 10.0


@dataclass(frozen=True, eq=False)
class OldCopy:
    """One scanned page. ``form_to_px``: places on the blank form in mm to px, (n, 2) to (n, 2).

    ``unclear``: fields for which no value is right. ``quarter_turns``: clockwise, as the scanner was fed. ``lost_px``:
    corners torn off, each (n, 2) px.
    """

    form: DrawnForm
    grade: Grade
    seed: int
    number: int
    encoded: bytes = field(repr=False)
    suffix: str
    pixels: np.ndarray = field(repr=False)
    form_to_px: PointMap = field(repr=False)
    values: dict[str, Written] = field(repr=False)
    unclear: tuple[str, ...]
    operator: str
    ratio: float
    quarter_turns: int
    lost_px: tuple[np.ndarray, ...] = field(repr=False, default=())


def master(form: DrawnForm, generations: int, seed: int) -> np.ndarray:
    """The blank as it lay on the copier, uint8 at 300 dpi: the print, copied ``generations`` times over."""
    (page,) = render_pdf(form.pdf, DPI)
    rng = np.random.default_rng([seed, 1])
    for _ in range(generations):
        page = photocopied(page, DPI, rng)
    return page


def _room_for_units(form: DrawnForm) -> int:
    """Characters that a unit's number may have: as many as the form has cells for, five where it has a line."""
    return min([5, *(len(f.cells_mm) for f in form.fields if f.id == "unit" and f.cells_mm)])


def make_copy(
    listed: Listed, form: DrawnForm, blank: np.ndarray, grade: Grade | str, seed: int, number: int
) -> OldCopy:
    """Page ``number`` of the binder that ``seed`` stands for: only these decide the result."""
    grade = Grade(grade)
    crew: BinderCrew = binder_crew(np.random.default_rng([seed, 0]), _room_for_units(form))
    rng = np.random.default_rng([seed, 2, number])
    what = occasion(crew, number, listed.covers, rng)
    ratio = float(rng.uniform(*_RATIO) if rng.random() < _SHARE_RESIZED else rng.normal(1, 0.001))
    size = (form.width_mm, form.height_mm)
    shift = (float(rng.normal(0, 1.0)), float(rng.normal(0, 1.0)))
    page, to_paper = copied(blank, DPI, ratio, size, shift)
    moved = _moved(form, to_paper)
    values = page_values(form, what, listed.covers, rng)
    values = filled(moved, page, values, what.hand.writer, rng)
    unclear: tuple[str, ...] = ()
    if rng.random() < _SHARE_TAKEN_BACK:
        changed = take_back(moved, page, values, what.hand.writer, rng)
        unclear = (changed,) if changed else ()
    turns = _turns(form, rng)
    result = scan(page, grade, rng, turns)
    return OldCopy(
        form,
        grade,
        seed,
        number,
        result.encoded,
        result.suffix,
        result.pixels,
        then(to_paper, result.page_mm_to_px),
        values,
        unclear,
        what.hand.name,
        ratio,
        turns,
        tuple(result.page_mm_to_px(polygon) for polygon in result.lost_mm),
    )


def _turns(form: DrawnForm, rng: np.random.Generator) -> int:
    """Quarter turns: upside down now and then, a wide form often fed short edge first."""
    sideways = form.width_mm > form.height_mm and rng.random() < _SHARE_SIDEWAYS
    return (1 if sideways else 0) + (2 if rng.random() < _SHARE_UPSIDE_DOWN else 0)


def _moved(form: DrawnForm, to_paper: PointMap) -> DrawnForm:
    """The form with its fields where the copier put them."""

    def box(b: Box) -> Box:
        (x0, y0), (x1, y1) = to_paper(np.array([[b.x_mm, b.y_mm], [b.right_mm, b.bottom_mm]]))
        return Box(float(x0), float(y0), float(x1 - x0), float(y1 - y0))

    def moved(f: FormField) -> FormField:
        answers = tuple((answer, box(b)) for answer, b in f.answers)
        return replace(f, box_mm=box(f.box_mm), cells_mm=tuple(box(b) for b in f.cells_mm), answers=answers)

    return replace(form, fields=tuple(moved(f) for f in form.fields))


def copy_json(copy: OldCopy, file: str) -> dict[str, Any]:
    """What the copy says and where its form lies, for JSON."""
    across = np.arange(0, copy.form.width_mm + _GRID_MM, _GRID_MM)
    down = np.arange(0, copy.form.height_mm + _GRID_MM, _GRID_MM)
    mesh = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2)
    px = copy.form_to_px(mesh).reshape(len(down), len(across), 2)
    return {
        "file": file,
        "form": copy.form.name,
        "run": copy.form.run,
        "copy": copy.number,
        "grade": copy.grade.value,
        "seed": copy.seed,
        "operator": copy.operator,
        "ratio": round(copy.ratio, 5),
        "quarter_turns": copy.quarter_turns,
        "unclear": list(copy.unclear),
        "lost_px": [np.round(polygon, 1).tolist() for polygon in copy.lost_px],
        "values": {k: {"value": w.value, "text": w.text} for k, w in copy.values.items()},
        "grid": {"step_mm": _GRID_MM, "px": np.round(px, 2).tolist()},
    }


def write_copy(copy: OldCopy, folder: Path) -> None:
    """The page and its truth beside it, ``NNNN-GRADE`` with both suffixes."""
    stem = f"{copy.number:04d}-{copy.grade.value}"
    (folder / f"{stem}{copy.suffix}").write_bytes(copy.encoded)
    truth = json.dumps(copy_json(copy, stem + copy.suffix))
    (folder / f"{stem}.json").write_text(truth + "\n", encoding="utf-8")
