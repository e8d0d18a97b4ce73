"""Makes the tick boxes that the box network is trained, calibrated and tested on.

    python -m scanform.training.mark_pages --data DIR [--workers 2] [--share 1.0]

writes one ``.npz`` file for each of PARTS into DIR. Each box has gone the whole way: a printed sheet, a pen, a scanner,
:func:`scanform.locate.locate`, :func:`scanform.read.boxes.box_maps`. Seeded: the same numbers give the same boxes.
``natural``, ``trouble`` and ``odd`` are for testing: pages as a crew fills them in, pages on which every second group
is in trouble, and pages of marks that are hard to tell (see ODD_MARKS of :mod:`scanform.simulate.ticks`).
``tuning`` is what the reading room's priors and thresholds were weighed on.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import Box, Layout, Paper, SheetCode, Template, built_in_templates, lay_out, serial_number
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.locate.sample import sample_boxes
from scanform.press import Sheet, sheets_pdf
from scanform.read.boxes import MARGIN_MM, PX_PER_MM, box_maps
from scanform.simulate import Grade, ScanResult, render_pdf, scan
from scanform.training.mark_hand import KINDS, Hand, states_of

__all__ = ["GRADES", "LEVELS", "PARTS", "Boxes", "load_boxes", "make_boxes"]

GRADES = tuple(Grade)
LEVELS = 200.0  # maps are kept as bytes, this many steps from paper to print
_MOST_JITTER_MM = 0.25
_LEAST_FOREIGN_MM2 = 0.1


class Part(NamedTuple):
    """One set of pages: its seed, number of pages by grade, share of plain shapes, kinds of groups."""

    seed: int
    pages: tuple[int, int, int, int, int]  # office, worn, bitonal, phone, fax, as Grade lists them
    plain: float
    groups: str


PARTS = {
    "calibration": Part(5200, (50, 30, 60, 30, 30), 0.3, "trouble"),
    "tuning": Part(5300, (210, 70, 210, 70, 70), 0.15, "everyday"),
    "natural": Part(5500, (170, 50, 170, 50, 50), 0.15, "everyday"),
    "trouble": Part(5600, (40, 20, 40, 20, 20), 0.3, "trouble"),
    "training": Part(5100, (400, 240, 480, 190, 190), 0.45, "trouble"),
    "odd-training": Part(5700, (120, 80, 140, 60, 60), 0.2, "odd"),
    "odd": Part(5800, (40, 30, 40, 25, 25), 0.1, "odd"),
}


class Boxes(NamedTuple):
    """Tick boxes as the reader sees them.

    ``maps``: uint8 (n, 32, 32), :func:`box_maps` times LEVELS; ``moved``: the same sampled up to 0.25 mm beside (in
    the parts for training, else empty); ``states``: int8 (n,), index in BOX_STATES; ``kinds``: int16 (n,), index in
    KINDS; ``groups``: int32 (n,), boxes of one field have one number; ``grades``: int8 (n,), index
    in GRADES; ``visible_mm2``: float32 (n,), area in which the box differs from the sheet's empty ones.
    """

    maps: np.ndarray
    moved: np.ndarray
    states: np.ndarray
    kinds: np.ndarray
    groups: np.ndarray
    grades: np.ndarray
    visible_mm2: np.ndarray


def load_boxes(path: Path) -> Boxes:
    """What :func:`main` wrote."""
    with np.load(path) as stored:
        return Boxes(*(stored[name] for name in Boxes._fields))


@lru_cache(maxsize=1)
def _known() -> KnownLayouts:
    return KnownLayouts(built_in_templates())


def _day_templates() -> list[Template]:
    """The sheets with boxes to mark: a week's sheet has boxes to write a sign in."""
    return [template for template in built_in_templates() if template.covers == "day"]


@lru_cache(maxsize=16)
def _printed(template: int, paper: Paper) -> tuple[Layout, np.ndarray]:
    """A layout and its print, uint8 at 300 dpi."""
    layout = lay_out(_day_templates()[template], paper)
    code = SheetCode(
        layout.template.name, layout.template.version, paper.value[0].upper(), None, None, serial_number("MARK57", 1, 1)
    )
    return layout, render_pdf(sheets_pdf(layout, [Sheet(code)]), 300)[0]


def _foreign_mm2(page: np.ndarray, blank: np.ndarray, box: Box) -> float:
    """Area inside the box that the pens have darkened."""
    scale = 300 / 25.4
    rows = slice(round(box.y_mm * scale), round(box.bottom_mm * scale))
    columns = slice(round(box.x_mm * scale), round(box.right_mm * scale))
    return float((blank[rows, columns].astype(int) - page[rows, columns] > 40).sum() / scale**2)


def _lost(box: Box, result: ScanResult) -> bool:
    """Whether some of the box or its margin is torn off."""
    around = box.grown(MARGIN_MM)
    xs, ys = np.meshgrid(np.linspace(around.x_mm, around.right_mm, 4), np.linspace(around.y_mm, around.bottom_mm, 4))
    points = np.column_stack([xs.ravel(), ys.ravel()])
    return any(
        cv2.pointPolygonTest(lost.astype(np.float32), (float(x), float(y)), False) >= 0
        for lost in result.lost_mm
        for x, y in points
    )


def _moved(sheet: LocatedSheet, boxes: list[Box], rng: np.random.Generator) -> np.ndarray:
    """Maps of the boxes sampled beside their place: half of them by a little, half by anything up to 0.25 mm."""
    n = len(boxes)
    far = np.where(rng.random((n, 1)) < 0.5, rng.normal(0, 0.07, (n, 2)), rng.uniform(-1, 1, (n, 2)) * _MOST_JITTER_MM)
    shifts = np.array([sheet.shifts_mm.get(box, (0.0, 0.0)) for box in boxes])
    shifts = shifts + np.clip(far, -_MOST_JITTER_MM, _MOST_JITTER_MM)
    return box_maps(sample_boxes(sheet.raster, sheet.map, boxes, shifts, MARGIN_MM, PX_PER_MM), sheet)


def _bytes(maps: np.ndarray) -> np.ndarray:
    return np.rint(maps * LEVELS).astype(np.uint8)


def _page(job: tuple[str, int, int]) -> Boxes | None:
    """The boxes of one page; None if the sheet was not found on it."""
    name, grade, number = job
    cv2.setNumThreads(1)
    rng = np.random.default_rng([PARTS[name].seed, grade, number])
    paper = Paper.A4 if rng.random() < 0.5 else Paper.LETTER
    layout, blank = _printed(int(rng.integers(len(_day_templates()))), paper)
    page = blank.copy()
    part, faces = PARTS[name], "training" if name in ("training", "odd-training", "calibration") else "test"
    hand = Hand(page, part.plain, part.groups, faces, rng)
    hand.fields(layout)
    result = scan(page, GRADES[grade], rng, quarter_turns=int(rng.choice([0, 0, 0, 2])))
    sheet = locate(Page("", 1, "", result.pixels, result.dpi[0] if result.dpi else None), _known())
    if not isinstance(sheet, LocatedSheet) or sheet.layout.template.name != layout.template.name:
        return None
    boxes, groups = [], []
    for n, f in enumerate(field for field in layout.fields if field.answers):
        if not any(_lost(a.box_mm, result) for a in f.answers):
            boxes += [a.box_mm for a in f.answers]
            groups += [n] * len(f.answers)
    maps = box_maps(sheet.patches(boxes, MARGIN_MM, PX_PER_MM), sheet)
    kinds = np.array([hand.kinds[box] for box in boxes], np.int16)
    empty = np.median(maps[kinds == 0], axis=0)
    visible = (np.abs(maps - empty) > 0.15).sum(axis=(1, 2)) / (PX_PER_MM / 2) ** 2
    for n, box in enumerate(boxes):
        if kinds[n] == 0 and _foreign_mm2(page, blank, box) > _LEAST_FOREIGN_MM2:
            kinds[n] = KINDS.index("another box's mark")
    return Boxes(
        _bytes(maps),
        _bytes(_moved(sheet, boxes, rng)) if name.endswith("training") else np.zeros((0, 32, 32), np.uint8),
        states_of(kinds),
        kinds,
        np.array(groups, np.int32) + 100 * (number + 10_000 * grade),
        np.full(len(boxes), grade, np.int8),
        visible.astype(np.float32),
    )


def make_boxes(name: str, workers: int, share: float = 1.0) -> tuple[Boxes, int]:
    """All boxes of a part of :data:`PARTS`, and how many of its pages could not be located."""
    jobs = [(name, g, n) for g, count in enumerate(PARTS[name].pages) for n in range(round(count * share))]
    with ProcessPoolExecutor(workers, initializer=os.nice, initargs=(5,)) as pool:
        pages = list(pool.map(_page, jobs, chunksize=8))
    found = [page for page in pages if page is not None]
    return Boxes(*(np.concatenate(column) for column in zip(*found, strict=True))), len(pages) - len(found)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--share", type=float, default=1.0, help="scale the numbers of pages, for a trial")
    parser.add_argument("--parts", nargs="*", default=list(PARTS))
    given = parser.parse_args()
    given.data.mkdir(parents=True, exist_ok=True)
    for name in given.parts:
        boxes, missed = make_boxes(name, given.workers, given.share)
        np.savez_compressed(given.data / f"{name}.npz", **boxes._asdict())
        print(
            name, len(boxes.states), np.bincount(boxes.states, minlength=3), f"{missed} pages not located", flush=True
        )


if __name__ == "__main__":
    main()
