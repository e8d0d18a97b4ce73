"""How well damaged, copied and badly fed sheets are located: a table of kinds of trouble, on seeded pages.

    python -m scanform.training.locating --pages 200

Each page is a filled sheet of a random template and paper, given one kind of trouble, then captured as the office and
worn grades do, in a random one of the four rotations. Seeds from 9,700,000: nothing was fitted on these pages.
"""

from __future__ import annotations

import argparse
import pickle
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanform.form import Box, Field, Layout, Paper, built_in_templates, lay_out
from scanform.form.typeface import font_file
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.press import pad_sheets, sheets_pdf
from scanform.simulate import (
    CREW,
    Grade,
    copies,
    fill,
    random_truth,
    random_unit,
    random_week,
    random_writer,
    render_pdf,
    scan,
)
from scanform.simulate.warp import PointMap

__all__ = ["KINDS", "Troubled", "troubled_page"]

SEEDS = 9_700_000
DPI = 200.0  # of the filled sheets before they are captured: filling and moving 300 dpi takes twice as long
_FILLED = 24  # sheets, each used again and again, every time with another trouble: filling in costs more than scanning
_OFF_MM = 1.0  # a field further off than this and not doubted for it may be misread
_DOUBTED_MM = 0.6  # settling doubts a field whose print is further off than this
_ISO_216_STEPS = (2**-0.5, 2**-0.25, 2**0.25, 2**0.5)  # 71, 84, 119 and 141 %: neighbouring A and B sizes


@dataclass(frozen=True, eq=False)
class Troubled:
    """A captured page; ``sheet_mm_to_px``: the true map. ``layout`` is None where nothing is to be found."""

    pixels: np.ndarray
    layout: Layout | None
    serial: str
    to_px: PointMap


@dataclass(frozen=True)
class Located:
    """What came of one page. ``errors_mm``: of field corners; ``off``: fields off and not doubted."""

    kind: str
    seed: int
    outcome: str
    right: bool
    by_code: bool
    errors_mm: np.ndarray
    off: int
    unseen: int
    reason: str


Made = tuple[np.ndarray, PointMap]
Trouble = Callable[[np.ndarray, Layout, np.random.Generator], Made]


def _same(mm: np.ndarray) -> np.ndarray:
    return np.asarray(mm, float).reshape(-1, 2)


def _covered(page: np.ndarray, boxes: Sequence[Box]) -> np.ndarray:
    page = page.copy()
    for box in boxes:
        x, y, right, bottom = (round(v * DPI / 25.4) for v in (box.x_mm, box.y_mm, box.right_mm, box.bottom_mm))
        page[y:bottom, x:right] = 255
    return page


def marks_left(count: int) -> Trouble:
    """All but so many marks covered."""

    def trouble(page: np.ndarray, layout: Layout, rng: np.random.Generator) -> Made:
        keep = set(rng.permutation(8)[:count].tolist())
        return _covered(page, [m.box_mm.grown(0.5) for m in layout.marks if m.identity not in keep]), _same

    return trouble


def _no_code(page: np.ndarray, layout: Layout, _rng: np.random.Generator) -> Made:
    return _covered(page, [layout.code_box_mm.grown(2)]), _same


def _no_code_no_serial(page: np.ndarray, layout: Layout, _rng: np.random.Generator) -> Made:
    return _covered(page, [layout.code_box_mm.grown(2), layout.serial_box_mm]), _same


def _print_alone(page: np.ndarray, layout: Layout, _rng: np.random.Generator) -> Made:
    gone = [layout.code_box_mm.grown(2), layout.serial_box_mm, *(m.box_mm.grown(0.5) for m in layout.marks)]
    return _covered(page, gone), _same


def _no_code_no_marks(page: np.ndarray, layout: Layout, _rng: np.random.Generator) -> Made:
    return _covered(page, [layout.code_box_mm.grown(2), *(m.box_mm.grown(0.5) for m in layout.marks)]), _same


def _other_paper(page: np.ndarray, layout: Layout, _rng: np.random.Generator) -> Made:
    """Printed to fit the other size, as a printer's driver does by itself."""
    other = (Paper.LETTER if layout.paper is Paper.A4 else Paper.A4).size_mm
    ratio = min(other[0] / layout.width_mm, other[1] / layout.height_mm)
    return copies.copied(page, DPI, ratio, other)


def _other_size(page: np.ndarray, layout: Layout, rng: np.random.Generator) -> Made:
    ratio = float(rng.choice(_ISO_216_STEPS))
    onto = (layout.width_mm * max(ratio, 1.0), layout.height_mm * max(ratio, 1.0))
    room = (max(onto) - max(layout.width_mm, layout.height_mm) * ratio) / 2
    return copies.copied(page, DPI, ratio, onto, tuple(rng.uniform(-room / 2, room / 2, 2)))


def _skewed(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    return copies.skewed(page, DPI, float(rng.uniform(5, 15) * rng.choice([-1, 1])), int(rng.choice([20, 250])))


def _uneven(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    return copies.unevenly_fed(page, DPI, 0.03, rng)


def _pale(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    return copies.pale(page, float(rng.uniform(0.35, 0.6))), _same


def _coloured(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    if rng.random() < 0.5:
        return copies.recycled(page, DPI, rng), _same
    tint = copies.PAPER_TINTS[str(rng.choice(list(copies.PAPER_TINTS)))]
    return cv2.cvtColor(copies.tinted(page, tint), cv2.COLOR_RGB2GRAY), _same


def _black_edges(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    return copies.black_edges(page, DPI, rng), _same


def _torn(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    """A corner of up to 70 x 70 mm is gone, often the one with the code."""
    page = page.copy()
    height, width = page.shape
    a, b = rng.uniform(30, 70, 2) * DPI / 25.4
    corner = np.array([[width, 0], [width - a, 0], [width, b]])
    if rng.random() < 0.5:
        corner = np.array([[0, height], [a, height], [0, height - b]])
    cv2.fillPoly(page, [corner.astype(np.int32)], int(rng.choice([20, 250])))
    return page, _same


def _faint(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    return copies.pale(page, float(rng.uniform(0.07, 0.16))), _same


def _show_through(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    return copies.shown_through(page, DPI, float(rng.uniform(0.03, 0.25))), _same


def _blank_back(page: np.ndarray, _layout: Layout, _rng: np.random.Generator) -> Made:
    return np.full_like(page, 255), _same


def _other_print(page: np.ndarray, _layout: Layout, rng: np.random.Generator) -> Made:
    """A delivery note, ruled like a form: boxes and print of somebody else's."""
    image = Image.new("L", (page.shape[1], page.shape[0]), 255)
    draw = ImageDraw.Draw(image)
    font = ImageFont.truetype(str(font_file(False)), int(rng.integers(20, 34)))
    words = [
        "limestone",
        "tonnes",
        "load",
        "date",
        "driver",
        "unit",
        "OK",
        "defect",
        "N/A",
        "check",
        "machine",
        "signed",
    ]
    for row in range(200, page.shape[0] - 200, 90):
        draw.text((250, row), " ".join(rng.choice(words, 8)), font=font, fill=10)
        for column in range(1600, page.shape[1] - 200, int(rng.integers(90, 200))):
            draw.rectangle((column, row, column + 59, row + 59), outline=10, width=3)
    return np.array(image), _same


KINDS: dict[str, Trouble] = {
    "three marks left": marks_left(3),
    "two marks left": marks_left(2),
    "one mark left": marks_left(1),
    "no mark left": marks_left(0),
    "code gone": _no_code,
    "code and serial gone": _no_code_no_serial,
    "code and all marks gone": _no_code_no_marks,
    "code, serial and all marks gone": _print_alone,
    "a corner torn off": _torn,
    "printed onto the other paper size": _other_paper,
    "copied at 71, 84, 119, 141 %": _other_size,
    "skewed by 5 to 15 degrees": _skewed,
    "fed unevenly, up to 3 %": _uneven,
    "35 to 60 % of the contrast": _pale,
    "coloured or recycled paper": _coloured,
    "black copier edges": _black_edges,
    "7 to 16 % of the contrast": _faint,
    "back with show-through": _show_through,
    "blank back": _blank_back,
    "other paper": _other_print,
    "template not known, code and serial gone": _no_code_no_serial,
    "template not known, code, serial and marks gone": _print_alone,
}
NOTHING_THERE = {
    "back with show-through": "blank",
    "blank back": "blank",
    "other paper": "unknown-form",
    "template not known, code and serial gone": "unknown-form",
    "template not known, code, serial and marks gone": "unknown-form",
}


@lru_cache(maxsize=8)
def _blank(name: str, paper: Paper) -> tuple[Layout, np.ndarray, str]:
    layout = lay_out({t.name: t for t in built_in_templates()}[name], paper)
    sheets = pad_sheets(layout.template, paper.value, "F7K2QD", unit="WL-014", days=(date(2026, 11, 23),), copies=1)
    return layout, render_pdf(sheets_pdf(layout, sheets), DPI)[0], sheets[0].code.serial


@lru_cache(maxsize=_FILLED)
def _filled(n: int) -> tuple[np.ndarray, Layout, str]:
    """The n-th filled sheet: a template and a paper in turn, in a hand of its own."""
    rng = np.random.default_rng([SEEDS, n])
    names = [t.name for t in built_in_templates()]
    layout, blank, serial = _blank(names[n % len(names)], list(Paper)[n // len(names) % 2])
    on = date(2026, 1, 5) + timedelta(days=7 * int(rng.integers(0, 40)))
    unit = [random_unit(len(layout.field("unit").cells_mm), rng)]
    random_values = random_week if layout.template.covers == "week" else random_truth
    truth = random_values(layout, rng, unit, CREW, on)
    page, _ = fill(layout, blank, truth, random_writer(rng), rng, printed=("unit", "date"), dpi=DPI)
    return page, layout, serial


def troubled_page(kind: str, seed: int) -> Troubled:
    """One page of a kind of trouble; only its name and ``seed`` decide it."""
    rng = np.random.default_rng([seed, list(KINDS).index(kind)])
    page, layout, serial = _filled(seed % _FILLED)
    made, to_mm = KINDS[kind](page, layout, rng)
    grade = Grade.OFFICE if kind in NOTHING_THERE or rng.random() < 0.5 else Grade.WORN
    result = scan(made, grade, rng, int(rng.integers(0, 4)), DPI)
    nothing = kind in NOTHING_THERE
    return Troubled(result.pixels, None if nothing else layout, serial, copies.then(to_mm, result.page_mm_to_px))


@lru_cache(maxsize=5)
def _known(without: str = "") -> KnownLayouts:
    return KnownLayouts(t for t in built_in_templates() if t.name != without)


def tried(kind: str, seed: int) -> Located:
    """Make a page and locate it."""
    page = troubled_page(kind, seed)
    not_known = _filled(seed % _FILLED)[1].template.name if kind.startswith("template not known") else ""
    found = locate(Page("scan", 1, "0" * 64, page.pixels), _known(not_known))
    nothing = np.empty(0)
    if not isinstance(found, LocatedSheet):
        return Located(kind, seed, found.outcome, True, False, nothing, 0, 0, found.reason)
    if page.layout is None or found.layout != page.layout:
        return Located(kind, seed, "read", False, found.code is not None, nothing, 0, 0, "; ".join(found.warnings))
    right = found.code is None or found.code.serial == page.serial
    errors, off, unseen = [], 0, 0
    for spec in found.layout.fields:
        errors_mm, there = _errors_mm(found, spec, page)
        doubted = found.residual_of(spec) > _DOUBTED_MM
        if not there:
            unseen += not doubted
            continue
        errors.append(errors_mm)
        off += int(errors_mm > _OFF_MM and not doubted)
    reason = "; ".join(found.warnings)
    return Located(kind, seed, "read", right, found.code is not None, np.array(errors), off, unseen, reason)


def _errors_mm(found: LocatedSheet, spec: Field, page: Troubled) -> tuple[float, bool]:
    """How far the worst corner of a field's boxes lies from its true place, and whether the field is on the picture."""
    boxes = [a.box_mm for a in spec.answers] or list(spec.cells_mm) or [spec.box_mm]
    height, width = page.pixels.shape
    worst, there = 0.0, True
    for box in boxes:
        x, y, w, h = box
        true = page.to_px(np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]))
        there = there and bool(((true >= 0) & (true <= [width - 1, height - 1])).all())
        px_per_mm = np.linalg.norm(true[2] - true[0]) / np.hypot(w, h)
        error = np.linalg.norm(np.array(found.polygon_px(box)) - true, axis=1).max() / px_per_mm
        worst = max(worst, float(error))
    return worst, there


def table(results: Sequence[Located]) -> str:
    """The results as a Markdown table, a row a kind."""
    rows = [
        "| trouble | pages | located | blank | other outcomes | known by code or serial | wrong sheet | fields, 95th "
        "percentile | fields off by more than 1 mm and not doubted | cut-off fields not doubted |",
        "| " + "--- | " * 10,
    ]
    for kind in dict.fromkeys(r.kind for r in results):
        of = [r for r in results if r.kind == kind]
        read = [r for r in of if r.outcome == "read"]
        errors = np.concatenate([r.errors_mm for r in of])
        blank = sum(r.outcome == "blank" for r in of)
        position = f"{np.percentile(errors, 95):.3f} mm" if len(errors) else "-"
        rows.append(
            f"| {kind} | {len(of)} | {len(read)} | {blank} | {len(of) - len(read) - blank} | "
            f"{sum(r.by_code for r in read)} | {sum(not r.right for r in read)} | {position} | "
            f"{sum(r.off for r in of)} of {len(errors):,} on {sum(r.off > 0 for r in of)} pages | "
            f"{sum(r.unseen for r in of)} |"
        )
    return "\n".join(rows)


def _tried(task: tuple[str, int]) -> Located:
    cv2.setNumThreads(1)
    return tried(*task)


def main() -> None:
    """Measure and print the table; every page that went wrong is named below it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=200, help="pages a kind")
    parser.add_argument("--skip", type=int, default=0, help="leave out so many of each kind's first pages")
    parser.add_argument("--kinds", nargs="*", default=list(KINDS), help="only these")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="keep the results in this file")
    chosen = parser.parse_args()
    tasks = [(kind, SEEDS + n) for kind in chosen.kinds for n in range(chosen.skip, chosen.skip + chosen.pages)]
    with ProcessPoolExecutor(chosen.workers) as pool:
        results = list(pool.map(_tried, tasks, chunksize=5))
    if chosen.keep:
        chosen.keep.write_bytes(pickle.dumps(results))
    print(table(results))
    for r in results:
        wanted = NOTHING_THERE.get(r.kind, "read")
        if r.outcome != wanted or not r.right or r.off:
            print(f"- {r.kind}, seed {r.seed}: {r.outcome}, right {r.right}, {r.off} off; {r.reason}")


if __name__ == "__main__":
    main()
