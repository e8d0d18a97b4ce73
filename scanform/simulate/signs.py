"""Signs written in one box: tick, cross, dash, the letters N/A; what is none of them; and signs taken back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scanform.form.geometry import Box
from scanform.simulate.pens import DPI, Pen, draw
from scanform.simulate.strokes import Strokes, bent, curve, extent
from scanform.simulate.ticks import STRIKES, draw_mark, strike_out
from scanform.simulate.writer import Writer, character

__all__ = ["ODD_SIGNS", "RETRACTIONS", "SIGNS", "SignHabits", "draw_sign", "odd_sign", "retract", "sign_habits"]

SIGNS = ("tick", "cross", "dash", "letters")
# What stands in a box now and then and is none of the signs: a person has to say what was meant.
# "down" and "across" are what one box shows of a line that is drawn through a whole column or row.
ODD_SIGNS = (
    "slash",
    "fill",
    "scribble",
    "dot",
    "ring",
    "plus",
    "equals",
    "ditto",
    "query",
    "word",
    "digit",
    "down",
    "across",
)
# How a sign is taken back: struck out, a line through it, another sign written over it, struck out and another beside.
RETRACTIONS = (*STRIKES, "line through", "other over", "other beside")
_LETTERS = ("N/A", "NA", "n/a", "N.A.", "N-A")
_LETTER_SHARES = (0.5, 0.25, 0.12, 0.05, 0.08)
_OTHER_WORDS = ("OK", "ok", "X2", "L", "R", "LH", "RH", "S", "B", "LOW", "?!", "DO")
_MOST_SLOPE = 0.30  # of a dash: about 17 degrees; from 35 degrees on a single stroke is a slash


@dataclass(frozen=True)
class SignHabits:
    """How one hand makes its signs: share of dashes among its N/A, the letters it writes, shares of kinds of tick."""

    dash_share: float
    letters: str
    leaving_share: float
    left_handed: bool


def sign_habits(writer: Writer) -> SignHabits:
    """The writer's habits, the same on every sheet."""
    habit = np.random.default_rng([writer.seed, 77])
    return SignHabits(
        dash_share=float(habit.choice([1.0, 0.0, 0.5], p=[0.5, 0.35, 0.15])),
        letters=str(habit.choice(_LETTERS, p=_LETTER_SHARES)),
        leaving_share=float(habit.choice([0.0, 0.1, 0.8], p=[0.5, 0.3, 0.2])),
        left_handed=bool(habit.random() < 0.08),
    )


def draw_sign(
    page: np.ndarray,
    box: Box,
    sign: str,
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
    pen: Pen | None = None,
) -> None:
    """Write one of :data:`SIGNS` in ``box`` on ``page`` (uint8, in place), with the writer's own pen if none is given.

    KeyError for an unknown sign.
    """
    pen = pen or writer.pen
    habits = sign_habits(writer)
    if sign == "tick":
        if habits.left_handed:
            _placed(page, box, [_mirrored_tick(rng)], pen, rng, dpi)
        else:
            draw_mark(page, box, "leaving tick" if rng.random() < habits.leaving_share else "tick", pen, rng, dpi)
    elif sign == "cross":
        draw_mark(page, box, "cross", pen, rng, dpi)
    elif sign == "dash":
        _placed(page, box, [_dash(rng)], pen, rng, dpi)
    elif sign == "letters":
        text = habits.letters if rng.random() < 0.9 else str(rng.choice(_LETTERS))
        _letters(page, box, text, writer, pen, rng, dpi)
    else:
        raise KeyError(sign)


def odd_sign(page: np.ndarray, box: Box, kind: str, writer: Writer, rng: np.random.Generator, dpi: float = DPI) -> None:
    """Write one of :data:`ODD_SIGNS` in ``box`` on ``page`` (uint8, in place). KeyError for an unknown kind."""
    pen = writer.pen
    if kind in ("fill", "scribble", "dot", "ring"):
        draw_mark(page, box, kind, pen, rng, dpi)
    elif kind == "slash":
        _placed(page, box, [_slash(rng)], pen, rng, dpi)
    elif kind == "plus":
        lines = [np.array([(0.5, 0.08), (0.5, 0.92)]), np.array([(0.08, 0.5), (0.92, 0.5)])]
        _placed(page, box, [line + rng.normal(0, 0.05, (2, 2)) for line in lines], pen, rng, dpi)
    elif kind == "equals":
        apart = rng.uniform(0.25, 0.45)
        lines = [np.array([(0.12, y), (0.88, y)]) for y in (0.5 - apart / 2, 0.5 + apart / 2)]
        _placed(page, box, [line + rng.normal(0, 0.03, (2, 2)) for line in lines], pen, rng, dpi)
    elif kind == "ditto":
        lines = [np.array([(x, 0.3), (x - rng.uniform(0, 0.1), rng.uniform(0.5, 0.75))]) for x in (0.4, 0.62)]
        _placed(page, box, [line + rng.normal(0, 0.03, (2, 2)) for line in lines], pen, rng, dpi)
    elif kind == "down":
        ends = 0.5 + np.array([-1, 1]) * rng.uniform(0.64, 0.76, 2)
        x = rng.uniform(0.15, 0.85)
        _inked(page, box, [np.column_stack([x + rng.normal(0, 0.05, 2), ends])], pen, rng, dpi)
    elif kind == "across":
        ends = 0.5 + np.array([-1, 1]) * rng.uniform(0.72, 0.95, 2)
        y = rng.uniform(0.15, 0.85)
        _inked(page, box, [np.column_stack([ends, y + rng.normal(0, 0.05, 2)])], pen, rng, dpi)
    elif kind == "query":
        hook = curve(np.array([(0.22, 0.28), (0.45, 0.06), (0.75, 0.25), (0.55, 0.52), (0.5, 0.7)]))
        dot = np.array([(0.5, 0.92), (0.52, 0.94)])
        _placed(page, box, bent([hook, dot], 0.05, rng), pen, rng, dpi)
    elif kind == "word":
        _letters(page, box, str(rng.choice(_OTHER_WORDS)), writer, pen, rng, dpi)
    elif kind == "digit":
        _letters(page, box, str(rng.choice(list("0123456789"))), writer, pen, rng, dpi)
    else:
        raise KeyError(kind)


def retract(
    page: np.ndarray,
    box: Box,
    how: str,
    instead: str,
    writer: Writer,
    rng: np.random.Generator,
    dpi: float = DPI,
) -> None:
    """Take back the sign that stands in ``box``, on ``page`` (uint8, in place); ``instead``: the sign that is meant.

    Only "other over" and "other beside" (see :data:`RETRACTIONS`) show what is meant. KeyError for an unknown way.
    """
    if how in STRIKES:
        strike_out(page, box, how, writer.pen, rng, dpi)
    elif how == "line through":
        lean = rng.uniform(-0.5, 0.5)
        line = np.array([(-0.12, 0.5 + lean), (1.12, 0.5 - lean)]) + rng.normal(0, 0.06, (2, 2))
        _inked(page, box, [line], writer.pen, rng, dpi)
    elif how == "other over":
        draw_sign(page, box, instead, writer, rng, dpi)
    elif how == "other beside":
        strike_out(page, box, "lined through", writer.pen, rng, dpi)
        beside = Box(box.right_mm - 0.2, box.y_mm + 0.6, box.w_mm * 0.6, box.h_mm * 0.8)
        draw_sign(page, beside, instead, writer, rng, dpi)
    else:
        raise KeyError(how)


def _mirrored_tick(rng: np.random.Generator) -> np.ndarray:
    points = np.array([(0.85, 0.52), (0.60, 0.86), (0.10, 0.10)])
    return points + rng.normal(0, 0.05, (3, 2))


def _dash(rng: np.random.Generator) -> np.ndarray:
    half, slope = rng.uniform(0.24, 0.48), rng.normal(0, 0.1)
    slope = float(np.clip(slope, -_MOST_SLOPE, _MOST_SLOPE))
    sag = rng.normal(0, 0.04)
    middle = 0.5 + rng.normal(0, 0.06, 2)
    points = np.array([(-half, half * slope), (0, sag), (half, -half * slope)])
    return curve(points + middle)


def _slash(rng: np.random.Generator) -> np.ndarray:
    angle = np.radians(rng.uniform(38, 85)) * (1 if rng.random() < 0.8 else -1)
    half = rng.uniform(0.35, 0.62)
    step = half * np.array([np.cos(angle), -np.sin(angle)])
    middle = 0.5 + rng.normal(0, 0.06, 2)
    return np.array([middle - step, middle + step])


def _letters(
    page: np.ndarray, box: Box, text: str, writer: Writer, pen: Pen, rng: np.random.Generator, dpi: float
) -> None:
    """A short word as one writes it into a box of this size: letters close together, as large as the box allows."""
    strokes: Strokes = []
    x = 0.0
    for sign in text:
        found = character(sign, writer.comb_face, writer, rng) if sign.isalnum() else None
        if found is None:
            points, width = _stop(sign, rng)
        else:
            points, width = found
        strokes += [part + np.array([x, rng.normal(0, 0.04)]) for part in points]
        x += width + rng.uniform(0.02, 0.2)
    if not strokes:
        return
    left, top, right, bottom = extent(strokes)
    wide, high = max(right - left, 0.2), max(bottom - top, 0.2)
    room = rng.uniform(0.72, 1.12) * np.array([box.w_mm, box.h_mm])
    size = min(room[0] / wide, room[1] / high)
    # Squeezed sideways rather than very small.
    across = size * (1 + rng.uniform(0.0, 0.15))
    down = min(size * rng.uniform(1.0, 1.7), room[1] / high)
    centre = np.array(box.centre_mm) + rng.normal(0, 0.06, 2) * [box.w_mm, box.h_mm]
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    draw(page, [(part - middle) * [across, down] + centre for part in strokes], pen, rng, dpi)


def _stop(sign: str, rng: np.random.Generator) -> tuple[Strokes, float]:
    """What stands between letters: strokes in cap heights, base line at 0, and the width."""
    if sign == "/":
        lean = rng.uniform(0.2, 0.5)
        return [np.array([(0.0, 0.08), (lean, -1.05)]) + rng.normal(0, 0.04, (2, 2))], lean
    if sign == "-":
        return [np.array([(0.0, -0.5), (0.3, -0.5)]) + rng.normal(0, 0.04, (2, 2))], 0.3
    if sign == ".":
        return [np.array([(0.05, -0.03), (0.1, 0.0)])], 0.12
    hook = curve(np.array([(0.0, -0.75), (0.25, -1.0), (0.5, -0.75), (0.3, -0.45), (0.25, -0.25)]))
    return [hook, np.array([(0.25, -0.04), (0.27, 0.0)])], 0.5


def _placed(page: np.ndarray, box: Box, strokes: Strokes, pen: Pen, rng: np.random.Generator, dpi: float) -> None:
    """Strokes on the unit box with the size, lean and place that differ from sign to sign."""
    size = np.clip(rng.normal(0.95, 0.14, 2), 0.6, 1.2)
    turn = rng.normal(0, 0.07)
    c, s = np.cos(turn), np.sin(turn)
    place = 0.5 + rng.normal(0, 0.06, 2)
    matrix = np.array([[c, -s], [s, c]]) * size
    _inked(page, box, bent([(points - 0.5) @ matrix.T + place for points in strokes], 0.02, rng), pen, rng, dpi)


def _inked(page: np.ndarray, box: Box, strokes: Strokes, pen: Pen, rng: np.random.Generator, dpi: float) -> None:
    size = np.array([box.w_mm, box.h_mm])
    draw(page, [points * size + [box.x_mm, box.y_mm] for points in strokes], pen, rng, dpi)
