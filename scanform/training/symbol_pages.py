"""Makes the written signs that the symbol network is trained, calibrated and tested on.

    python -m scanform.training.symbol_pages --data DIR [--workers 2] [--parts training ...]

writes ``symbols-training.npz``, ``symbols-calibration.npz`` and ``symbols-test.npz`` into DIR. Each box has gone the
whole way: a week's sheet printed, a hand, a scanner, :func:`scanform.locate.locate`,
:func:`scanform.read.symbols.symbol_maps`. Seeded: the same numbers give the same boxes.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import Box, FieldKind, Layout, Paper, SheetCode, find_template, lay_out, serial_number
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.press import Sheet, sheets_pdf
from scanform.read.symbols import MARGIN_MM, PX_PER_MM, symbol_maps
from scanform.simulate import NON_MARKS, Writer, draw_mark, random_pen, random_writer, render_pdf, scan
from scanform.simulate.pens import fainter
from scanform.simulate.signs import ODD_SIGNS, RETRACTIONS, SIGNS, draw_sign, odd_sign, retract
from scanform.training.mark_shapes import PLAIN_DIRT, PLAIN_STRIKES, draw_plain
from scanform.training.symbol_data import GRADES, LEVELS, RIM_PX, SYMBOLS, Signs
from scanform.training.symbol_shapes import plain_sign

__all__ = ["PARTS", "make_signs"]

_TEMPLATE = "quarry-weekly"


class Part(NamedTuple):
    """One set of pages: its first seed, number of pages by grade, share of signs not drawn by the simulator's hand."""

    seed: int
    pages: tuple[int, int, int, int, int]  # office, worn, bitonal, phone, fax, as Grade lists them
    plain: float


PARTS = {
    "training": Part(310_000, (300, 260, 300, 150, 150), 0.35),
    "calibration": Part(6_100_000, (30, 20, 30, 15, 15), 0.2),
    "test": Part(8_100_000, (50, 50, 50, 50, 50), 0.2),
}
# What is put in a box. As many troubles as signs: they are what has to be told apart.
_SHARES = {"blank": 0.11, "dirt": 0.09, "tick": 0.16, "cross": 0.14, "dash": 0.12, "letters": 0.12, "other": 0.13,
           "struck": 0.13}  # fmt: skip
_SHARE_FAINT = 0.06
# Nobody can tell that these were taken back: a dash under a line is a dash, a cross under a larger one a cross.
_NO_TRACE = {("dash", "line through"), ("dash", "plain line through"), ("cross", "plain crossed out")}


@lru_cache(maxsize=1)
def _known() -> KnownLayouts:
    return KnownLayouts([find_template(_TEMPLATE)])


@lru_cache(maxsize=2)
def _printed(paper: Paper) -> tuple[Layout, np.ndarray]:
    """The layout and its print, uint8 at 300 dpi."""
    layout = lay_out(find_template(_TEMPLATE), paper)
    template = layout.template
    code = SheetCode(template.name, template.version, paper.value[0].upper(), None, None, serial_number("SYMB57", 1, 1))
    return layout, render_pdf(sheets_pdf(layout, [Sheet(code)]), 300)[0]


def _draw(page: np.ndarray, box: Box, what: str, writer: Writer, part: Part, rng: np.random.Generator) -> str:
    """Put ``what`` in the box; gives the kind that was drawn."""
    plain = rng.random() < part.plain
    if rng.random() < 0.4:
        writer = replace(writer, pen=random_pen(rng))
    if rng.random() < _SHARE_FAINT:
        writer = replace(writer, pen=fainter(writer.pen, float(rng.uniform(0.15, 0.35))))
    if what == "dirt":
        kind = str(rng.choice(list(PLAIN_DIRT) if plain or rng.random() < 0.4 else NON_MARKS))
        if kind in NON_MARKS:
            draw_mark(page, box, kind, writer.pen, rng)
        else:
            draw_plain(page, box, kind, rng)
        return kind
    if what in SIGNS:
        if plain:
            return plain_sign(page, box, what, rng)
        draw_sign(page, box, what, writer, rng)
        return what
    if what == "other":
        kind = str(rng.choice(ODD_SIGNS))
        if plain and kind in ("slash", "plus", "equals", "word", "digit"):
            return plain_sign(page, box, kind, rng)
        odd_sign(page, box, kind, writer, rng)
        return kind
    if what == "struck":
        sign = str(rng.choice(SIGNS))
        (plain_sign(page, box, sign, rng) if plain else draw_sign(page, box, sign, writer, rng))
        how = str(rng.choice([name for name in RETRACTIONS if (sign, name) not in _NO_TRACE]))
        if plain and how != "other over":
            how = str(rng.choice([name for name in PLAIN_STRIKES if (sign, name) not in _NO_TRACE]))
            draw_plain(page, box, how, rng)
        else:
            retract(page, box, how, str(rng.choice([other for other in SIGNS if _differ(sign, other)])), writer, rng)
        return f"{sign}, {how}"
    return "nothing"


def _differ(one: str, other: str) -> bool:
    # A dash over letters is a line through them, and letters over a dash hide it; both are among the lines through.
    return one != other and {one, other} != {"dash", "letters"}


def _page(job: tuple[str, int, int]) -> Signs | None:
    """The boxes of one page; None if the sheet was not found on it."""
    name, grade, number = job
    cv2.setNumThreads(1)
    part = PARTS[name]
    rng = np.random.default_rng(part.seed + 10_000 * grade + number)
    layout, blank = _printed(Paper.A4 if rng.random() < 0.5 else Paper.LETTER)
    page = blank.copy()
    writer = random_writer(rng)
    fields = [f for f in layout.fields if f.kind is FieldKind.MARK]
    shares = np.array(list(_SHARES.values()))
    drawn, kinds = [], []
    for f in fields:
        if rng.random() < 0.03:  # another hand signs for a day or so
            writer = random_writer(rng)
        what = str(rng.choice(list(_SHARES), p=shares / shares.sum()))
        kinds.append(_draw(page, f.box_mm, what, writer, part, rng))
        drawn.append("blank" if what == "dirt" else what)
    result = scan(page, GRADES[grade], rng, quarter_turns=int(rng.choice([0, 0, 0, 2])))
    sheet = locate(Page("", 1, "", result.pixels, result.dpi[0] if result.dpi else None), _known())
    if not isinstance(sheet, LocatedSheet):
        return None
    margin = MARGIN_MM + RIM_PX / (PX_PER_MM / 2)
    maps = symbol_maps(sheet.patches([f.box_mm for f in fields], margin, PX_PER_MM), sheet)
    whole = [not _lost(f.box_mm, result.lost_mm) for f in fields]
    return Signs(
        np.rint(maps * LEVELS).astype(np.uint8)[whole],
        np.array([SYMBOLS.index(what) for what in drawn], np.int8)[whole],
        np.array(kinds)[whole],
        np.full(sum(whole), grade, np.int8),
    )


def _lost(box: Box, lost_mm: tuple[np.ndarray, ...]) -> bool:
    """Whether some of the box or its margin is torn off."""
    around = box.grown(MARGIN_MM)
    corners = [(x, y) for x in (around.x_mm, around.right_mm) for y in (around.y_mm, around.bottom_mm)]
    return any(
        cv2.pointPolygonTest(lost.astype(np.float32), (float(x), float(y)), False) >= 0
        for lost in lost_mm
        for x, y in corners
    )


def make_signs(name: str, workers: int, share: float = 1.0) -> tuple[Signs, int]:
    """All boxes of a part of :data:`PARTS`, and how many of its pages could not be located."""
    jobs = [(name, g, n) for g, count in enumerate(PARTS[name].pages) for n in range(round(count * share))]
    with ProcessPoolExecutor(workers, initializer=os.nice, initargs=(5,)) as pool:
        pages = list(pool.map(_page, jobs, chunksize=4))
    found = [page for page in pages if page is not None]
    return Signs(*(np.concatenate(column) for column in zip(*found, strict=True))), len(pages) - len(found)


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
        signs, missed = make_signs(name, given.workers, given.share)
        np.savez_compressed(given.data / f"symbols-{name}.npz", **signs._asdict())
        print(name, np.bincount(signs.symbols, minlength=len(SYMBOLS)), f"{missed} pages not located", flush=True)


if __name__ == "__main__":
    main()
