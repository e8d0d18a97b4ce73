"""An old form written on by hand: ticks in boxes and bare cells, rings round words, signs, numbers, dates, remarks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

import numpy as np

from scanform.form.geometry import Box
from scanform.simulate import (
    DPI,
    SIGNS,
    Writer,
    draw,
    draw_mark,
    draw_sign,
    sign,
    strike_out,
    write_character,
    write_comb,
    write_text,
)
from scanform.simulate.sheet import answer_mark, as_written
from scanform.simulate.strokes import bent
from scanform.training.old_forms.drawn import DrawnForm, FormField
from scanform.training.old_forms.values import Written

__all__ = ["filled", "take_back"]

_LARGEST_MARK_MM = 6.5  # nobody fills a wide cell with one tick
_LINE_MM = 8.0  # of remarks in an area without rules
_SHARE_TICKED_WORD, _SHARE_UNDERLINED = 0.05, 0.04  # of answers given by circling a word


def filled(
    form: DrawnForm,
    page: np.ndarray,
    values: Mapping[str, Written],
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
) -> dict[str, Written]:
    """Write ``values`` on ``page`` (uint8 raster at ``dpi``, in place); gives them as this writer spelt them.

    The places are those of ``form``: a form that was moved or scaled on its paper is given with its fields moved.
    """
    said = dict(values)
    signs = _signs_by_value(form.legend)
    for f in form.fields:
        written = said[f.id]
        if f.kind == "choice":
            _answer(page, f, written.value, writer, rng, dpi)
        elif f.kind == "mark" and written.value is not None:
            _sign(page, f.box_mm, str(rng.choice(signs[str(written.value)])), writer, rng, dpi)
        elif f.kind == "signature" and written.value:
            sign(page, f.box_mm, writer, rng, dpi)
        elif f.kind == "comb" and written.value is not None:
            write_comb(page, f.cells_mm, _comb_text(f, written), writer, rng, dpi)
        elif f.kind == "text" and written.value is not None:
            said[f.id] = _words(page, f, written, writer, rng, dpi)
    return said


def _signs_by_value(legend: Mapping[str, str]) -> dict[str, list[str]]:
    signs: dict[str, list[str]] = {"ok": [], "defect": [], "na": []}
    for name, value in legend.items():
        signs[value].append(name)
    return signs


def _mark_room(box: Box, rng: np.random.Generator) -> Box:
    """Where in a bare cell a mark is put: a square as high as the cell, about its middle."""
    side = min(box.w_mm, box.h_mm, _LARGEST_MARK_MM) * 0.9
    x, y = box.centre_mm
    x += float(np.clip(rng.normal(0, 0.12), -0.3, 0.3)) * max(0.0, box.w_mm - side)
    return Box(x - side / 2, y - side / 2, side, side)


def _answer(
    page: np.ndarray, f: FormField, value: object, writer: Writer, rng: np.random.Generator, dpi: float
) -> None:
    for answer, box in f.answers:
        if answer != value:
            continue
        if f.style == "word":
            _circle(page, box, writer, rng, dpi)
        else:
            room = _mark_room(box, rng) if f.style in ("cell", "bracket") else box
            draw_mark(page, room, answer_mark(writer, rng), writer.pen, rng, dpi)


def _circle(page: np.ndarray, word: Box, writer: Writer, rng: np.random.Generator, dpi: float) -> None:
    """A ring round the word; now and then it is ticked or underlined instead."""
    chance = rng.random()
    if chance < _SHARE_TICKED_WORD:
        draw_mark(page, word, "tick", writer.pen, rng, dpi)
        return
    if chance < _SHARE_TICKED_WORD + _SHARE_UNDERLINED:
        y = word.bottom_mm + rng.uniform(-0.2, 0.8)
        ends = np.array([[word.x_mm - 0.5, y], [word.right_mm + 0.8, y + rng.normal(0, 0.3)]])
        draw(page, [ends], writer.pen, rng, dpi)
        return
    turns = rng.uniform(0, 2 * np.pi) + np.linspace(0, 2 * np.pi + rng.uniform(-0.25, 0.9), 30)
    half = np.array([word.w_mm / 2 + rng.uniform(0.8, 2.2), word.h_mm / 2 + rng.uniform(0.0, 1.0)])
    drift = np.linspace(0, rng.uniform(-0.08, 0.12), 30)[:, None]
    ring = np.column_stack([np.cos(turns), np.sin(turns)]) * (1 + drift)
    (ring,) = bent([ring], 0.04, rng)
    centre = np.array(word.centre_mm) + rng.normal(0, 0.35, 2)
    draw(page, [ring * half + centre], writer.pen, rng, dpi)


def _sign(page: np.ndarray, box: Box, name: str, writer: Writer, rng: np.random.Generator, dpi: float) -> None:
    room = _mark_room(box, rng)
    if name in SIGNS:
        draw_sign(page, room, name, writer, rng, dpi)
    else:
        write_character(page, room, name, writer, rng, dpi)


def _comb_text(f: FormField, written: Written) -> str:
    """The characters by cell; hours to the right, without their point."""
    if f.id == "hours":
        return str(int(Decimal(written.text) * 10)).zfill(2).rjust(len(f.cells_mm))
    return written.text


def _words(
    page: np.ndarray, f: FormField, written: Written, writer: Writer, rng: np.random.Generator, dpi: float
) -> Written:
    """One line, or several in an area; gives what stands there now."""
    free = f.id.partition(".")[0] in ("remarks", "site", "shift", "operator", "told")
    spelt = [as_written(line, writer) if free else line for line in written.text.split("\n")]
    several = f.id == "remarks" and f.box_mm.h_mm > 1.5 * _LINE_MM
    pitch = min(_LINE_MM, f.box_mm.h_mm / len(spelt)) if several else f.box_mm.h_mm
    if not several:
        spelt = [" ".join(spelt)]
    for k, line in enumerate(spelt):
        # On a narrow line people write as large as they do elsewhere.
        zone = Box(f.box_mm.x_mm, f.box_mm.y_mm + k * pitch, f.box_mm.w_mm, pitch)
        write_text(page, zone, line, _for_small_room(writer, zone), rng, dpi)
    text = "\n".join(spelt)
    return Written(text, text) if free else replace(written, text=text)


def _for_small_room(writer: Writer, zone: Box) -> Writer:
    """Two letters in a cell of the month are written as large as it allows, numbers in a high zone no larger."""
    high = 3.2 / zone.h_mm
    return replace(writer, text_height=float(np.clip(writer.text_height, 0.9 * high, 1.5 * high)))


def take_back(
    form: DrawnForm,
    page: np.ndarray,
    values: Mapping[str, Written],
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
) -> str | None:
    """One answer struck out and another given instead, in place; gives the field's id, None if there is none to take.

    No value is right there: a person has to look.
    """
    given = [f for f in form.fields if f.kind == "choice" and values[f.id].value is not None and len(f.answers) > 1]
    if not given:
        return None
    f = given[int(rng.integers(len(given)))]
    for answer, box in f.answers:
        if answer == values[f.id].value:
            room = box if f.style in ("word", "box", "glyph") else _mark_room(box, rng)
            strike_out(page, room, str(rng.choice(["scribbled over", "lined through"])), writer.pen, rng, dpi)
    others = [answer for answer, _ in f.answers if answer != values[f.id].value]
    _answer(page, f, str(rng.choice(others)), writer, rng, dpi)
    return f.id
