"""Sheets with drawn marks, through printer, pen, scanner and the real reader, to settled fields."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from scanform.form import Box, Field, FieldKind, Layout, Paper, SheetCode, find_template, lay_out, serial_number
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.press import Sheet, sheets_pdf
from scanform.read import Instruments, read_sheet
from scanform.settle import Known, SettledField, State, settle_sheet
from scanform.simulate import DPI, Pen, draw_mark, random_pen, render_pdf, scan
from scanform.simulate.pens import PEN_KINDS

# What is done to one item's boxes; gives the answer that is meant, None if there is none.
Marker = Callable[[np.ndarray, Field, Pen, np.random.Generator], str | None]
INK = tuple(kind for kind in PEN_KINDS if kind != "pencil")


@lru_cache(maxsize=1)
def instruments() -> Instruments:
    return Instruments()


@lru_cache(maxsize=2)
def printed(paper: Paper = Paper.A4) -> tuple[Layout, np.ndarray, KnownLayouts]:
    layout = lay_out(find_template("site-machine"), paper)
    code = SheetCode("site-machine", 1, paper.value[0].upper(), None, None, serial_number("TEST83", 1, 1))
    return layout, render_pdf(sheets_pdf(layout, [Sheet(code)]), DPI)[0], KnownLayouts([layout.template])


def items(layout: Layout) -> list[Field]:
    return [f for f in layout.fields if f.kind is FieldKind.CHOICE]


def box(field: Field, answer: str) -> Box:
    return next(a.box_mm for a in field.answers if a.answer == answer)


def other(answer: str) -> str:
    """An answer of the same item to go wrong with. OK and N/A only: a defect would need its words."""
    return "na" if answer == "ok" else "ok"


def any_answer(rng: np.random.Generator) -> str:
    return "ok" if rng.random() < 0.8 else "na"


def pen_of(rng: np.random.Generator, kinds: tuple[str, ...] = INK) -> Pen:
    while (found := random_pen(rng)).kind not in kinds:
        pass
    return found


def settled(page: np.ndarray, grade: str, rng: np.random.Generator, paper: Paper = Paper.A4) -> list[SettledField]:
    """The items of a marked page (uint8, 300 dpi) after scanning, locating, reading and settling."""
    layout, _, known = printed(paper)
    sheet = locate(Page("", 1, "", scan(page, grade, rng).pixels), known)
    assert isinstance(sheet, LocatedSheet)
    readings = read_sheet(sheet, instruments())
    fields = {field.id: field for field in settle_sheet(layout, readings, Known())}
    return [fields[field.id] for field in items(layout)]


def marked(
    marker: Marker, grade: str, seed: int, kinds: tuple[str, ...] = INK, every: int = 1
) -> list[tuple[SettledField, str | None]]:
    """A sheet as one hand with one pen fills it in: every ``every``-th item by ``marker``, the others ticked OK.

    Only the items that ``marker`` marked come back, with the answers meant.
    """
    rng = np.random.default_rng([884_000, seed])
    layout, blank, _ = printed()
    page, pen = blank.copy(), pen_of(rng, kinds)
    meant: dict[str, str | None] = {}
    for n, field in enumerate(items(layout)):
        if n % every:
            draw_mark(page, box(field, "ok"), "tick", pen, rng)
        else:
            meant[field.id] = marker(page, field, pen, rng)
    return [(f, meant[f.id]) for f in settled(page, grade, rng) if f.id in meant]


def taken(found: list[tuple[SettledField, str | None]]) -> float:
    """Share accepted with the answer that was meant."""
    return float(np.mean([f.state is State.ACCEPTED and f.value == meant for f, meant in found]))


def silently_wrong(found: list[tuple[SettledField, str | None]]) -> list[str]:
    return [f"{f.id}: {meant} as {f.value}" for f, meant in found if f.state is State.ACCEPTED and f.value != meant]


GRADES = ("office", "bitonal", "worn", "phone", "fax")


def in_grades(
    marker: Marker, seed: int, grades: tuple[str, ...] = GRADES, kinds: tuple[str, ...] = INK, every: int = 1
) -> list[tuple[SettledField, str | None]]:
    """A sheet in each of ``grades`` as :func:`marked` fills it in; nothing is accepted on it that was not meant."""
    found = [pair for n, grade in enumerate(grades) for pair in marked(marker, grade, 10 * seed + n, kinds, every)]
    assert not silently_wrong(found)
    return found


def doubted(found: list[tuple[SettledField, str | None]], *words: str) -> float:
    """Share doubted with one of ``words`` in a reason."""
    return float(
        np.mean(
            [f.state is State.DOUBTFUL and any(w in reason for w in words for reason in f.reasons) for f, _ in found]
        )
    )
