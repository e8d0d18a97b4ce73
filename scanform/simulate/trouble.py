"""What goes wrong on paper: spoilt sheets, answers taken back, both ticked, nobody signed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scanform.form.geometry import Box
from scanform.form.layout import Field, Layout
from scanform.simulate.hand import write_character, write_text
from scanform.simulate.pens import DPI, draw
from scanform.simulate.sheet import SheetTruth, answer_mark
from scanform.simulate.strokes import bent
from scanform.simulate.ticks import NON_MARKS, STRIKES, draw_mark, strike_out
from scanform.simulate.writer import Writer

__all__ = ["change_answer", "dirty_box", "overwrite_cell", "run_down_column", "spoil", "tick_both", "unsigned"]


def unsigned(truth: SheetTruth) -> SheetTruth:
    """The same sheet, nobody's signature on it; to be filled in."""
    return replace(truth, values={**truth.values, "signature": False}, troubles=(*truth.troubles, "unsigned"))


def spoil(
    page: np.ndarray, layout: Layout, truth: SheetTruth, writer: Writer, rng: np.random.Generator, dpi: float = DPI
) -> SheetTruth:
    """A big cross over a filled page and VOID written across it, in place."""
    w, h = layout.width_mm, layout.height_mm
    first = np.array([[0.12 * w, 0.10 * h], [0.88 * w, 0.90 * h]]) + rng.normal(0, 6, (2, 2))
    second = np.array([[0.88 * w, 0.10 * h], [0.12 * w, 0.90 * h]]) + rng.normal(0, 6, (2, 2))
    lines = [np.linspace(a, b, 12) / 100 for a, b in (first, second)]
    draw(page, [points * 100 for points in bent(lines, 0.012, rng)], writer.pen, rng, dpi)
    zone = Box(0.22 * w, (0.3 + 0.3 * rng.random()) * h, 0.55 * w, 34.0)
    write_text(page, zone, "VOID", writer, rng, dpi)
    return replace(truth, troubles=(*truth.troubles, "spoilt"))


def change_answer(
    page: np.ndarray,
    layout: Layout,
    truth: SheetTruth,
    field_id: str,
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
) -> SheetTruth:
    """Another answer had been marked first and was struck out, in place; the value stays the one that stands."""
    box = _other_box(layout.field(field_id), truth, rng)
    draw_mark(page, box, answer_mark(writer, rng), writer.pen, rng, dpi)
    strike_out(page, box, str(rng.choice(STRIKES)), writer.pen, rng, dpi)
    return replace(truth, troubles=(*truth.troubles, f"struck out: {field_id}"))


def tick_both(
    page: np.ndarray,
    layout: Layout,
    truth: SheetTruth,
    field_id: str,
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
) -> SheetTruth:
    """A second answer is marked beside the first, in place; no value is right any more."""
    box = _other_box(layout.field(field_id), truth, rng)
    draw_mark(page, box, answer_mark(writer, rng), writer.pen, rng, dpi)
    return replace(
        truth,
        values={**truth.values, field_id: None},
        troubles=(*truth.troubles, f"both ticked: {field_id}"),
        unclear=truth.unclear | {field_id},
    )


def dirty_box(
    page: np.ndarray,
    layout: Layout,
    truth: SheetTruth,
    field_id: str,
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
) -> SheetTruth:
    """A speck or a touch of the pen in a box that is no answer, in place; the value stays."""
    box = _other_box(layout.field(field_id), truth, rng)
    draw_mark(page, box, str(rng.choice(NON_MARKS)), writer.pen, rng, dpi)
    return replace(truth, troubles=(*truth.troubles, f"dirt: {field_id}"))


def overwrite_cell(
    page: np.ndarray,
    layout: Layout,
    truth: SheetTruth,
    field_id: str,
    cell: int,
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
) -> SheetTruth:
    """A wrong digit lies under what stands in one cell of a comb, in place: the writer went over it."""
    box = layout.field(field_id).cells_mm[cell]
    write_character(page, box, str(rng.integers(0, 10)), writer, rng, dpi)
    return replace(truth, troubles=(*truth.troubles, f"overwritten: {field_id}"))


def run_down_column(
    page: np.ndarray,
    layout: Layout,
    truth: SheetTruth,
    field_ids: list[str],
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
) -> SheetTruth:
    """One long line drawn down the OK boxes of ``field_ids`` (unmarked so far), in place, instead of a mark in each."""
    boxes = [next(a.box_mm for a in layout.field(i).answers if a.answer == "ok") for i in field_ids]
    top, bottom = min(b.y_mm for b in boxes), max(b.bottom_mm for b in boxes)
    x = boxes[0].centre_mm[0]
    y = np.linspace(top + rng.uniform(0, 1.5), bottom - rng.uniform(0, 1.5), 12)
    path = np.column_stack([x + np.cumsum(rng.normal(0, 0.25, 12)) * 0.6, y])
    path[:, 0] = np.clip(path[:, 0], x - 1.8, x + 1.8)
    draw(page, [path], writer.pen, rng, dpi)
    values = {**truth.values, **dict.fromkeys(field_ids, "ok")}
    return replace(truth, values=values, troubles=(*truth.troubles, "one line down the column"))


def _other_box(f: Field, truth: SheetTruth, rng: np.random.Generator) -> Box:
    others = [a.box_mm for a in f.answers if a.answer != truth.values.get(f.id)]
    return others[int(rng.integers(0, len(others)))]
