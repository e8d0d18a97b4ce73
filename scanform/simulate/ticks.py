"""Marks in and about tick boxes: answers, answers taken back, and ink or dirt that is no answer at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from scanform.form.geometry import Box
from scanform.simulate.pens import DPI, Pen, draw, fainter
from scanform.simulate.strokes import Strokes, bent, curve

__all__ = [
    "ANSWER_MARKS",
    "DIRT",
    "MARKS",
    "NON_MARKS",
    "ODD_MARKS",
    "ODD_STRIKES",
    "STRIKES",
    "draw_mark",
    "strike_out",
]


def _along(points: list[tuple[float, float]], rng: np.random.Generator, loose: float = 0.05) -> np.ndarray:
    """A smooth stroke through points on the unit box, each moved a little."""
    return curve(np.array(points, float) + rng.normal(0, loose, (len(points), 2)))


def _straight(points: list[tuple[float, float]], rng: np.random.Generator, loose: float = 0.06) -> np.ndarray:
    return np.array(points, float) + rng.normal(0, loose, (len(points), 2))


def _tick(rng: np.random.Generator) -> Strokes:
    if rng.random() < 0.6:
        return [_straight([(0.15, 0.52), (0.40, 0.86), (0.90, 0.10)], rng)]
    return [_hooked(rng)]


def _hooked(rng: np.random.Generator) -> np.ndarray:
    down = _along([(0.12, 0.45), (0.28, 0.60), (0.40, 0.88)], rng, 0.03)
    up = _along([(0.40, 0.88), (0.58, 0.42), (0.96, 0.06)], rng, 0.03)
    return np.concatenate([down, up])


def _cross(rng: np.random.Generator) -> Strokes:
    if rng.random() < 0.15:  # written in one go, the pen not lifted on the way back up
        return [_straight([(0.12, 0.14), (0.86, 0.86), (0.84, 0.16), (0.14, 0.86)], rng)]
    return [_straight([(0.12, 0.12), (0.88, 0.88)], rng), _straight([(0.88, 0.12), (0.12, 0.88)], rng)]


def _slash(rng: np.random.Generator) -> Strokes:
    return [_straight([(0.10, 0.92), (0.90, 0.08)], rng, 0.08)]


def _dash(rng: np.random.Generator) -> Strokes:
    return [_straight([(0.12, 0.52), (0.88, 0.48)], rng)]


def _fill(rng: np.random.Generator) -> Strokes:
    rows = int(rng.integers(8, 13))
    ys = np.linspace(0.08, 0.92, rows)
    points = [(0.08 if (k % 2) ^ side else 0.92, y) for k, y in enumerate(ys) for side in (0, 1)]
    return [_straight(points, rng, 0.03)]


def _scribble(rng: np.random.Generator) -> Strokes:
    count = int(rng.integers(7, 14))
    t = np.linspace(0.1, 0.9, count)
    across = np.where(np.arange(count) % 2 == 0, -1.0, 1.0) * rng.uniform(0.28, 0.5)
    diagonal = rng.choice([-1.0, 1.0])
    points = [(x + a * 0.45, 0.5 + a * 0.9 * diagonal) for x, a in zip(t, across, strict=True)]
    return [_along([(x, min(max(y, 0.02), 0.98)) for x, y in points], rng, 0.06)]


def _dot(rng: np.random.Generator) -> Strokes:
    turns = np.linspace(0, rng.uniform(2, 4) * np.pi, 14)
    r = np.linspace(0.03, rng.uniform(0.08, 0.16), 14)
    middle = 0.5 + rng.normal(0, 0.08, 2)
    return [np.column_stack([middle[0] + r * np.cos(turns), middle[1] + r * np.sin(turns)])]


def _ring(rng: np.random.Generator) -> Strokes:
    start = rng.uniform(0, 2 * np.pi)
    turns = start + np.linspace(0, 2 * np.pi + rng.uniform(-0.3, 0.8), 26)
    size = rng.uniform(0.66, 0.95, 2)
    drift = np.linspace(0, rng.uniform(-0.1, 0.15), 26)
    ring = np.column_stack([0.5 + (size[0] + drift) * np.cos(turns), 0.5 + (size[1] + drift) * np.sin(turns)])
    return bent([ring], 0.03, rng)


def _leaving_tick(rng: np.random.Generator) -> Strokes:
    reach = rng.uniform(0.35, 1.1)
    tip = (0.95 + reach * 0.8, 0.05 - reach * 0.55)
    down = _along([(0.12, 0.45), (0.28, 0.62), (0.40, 0.88)], rng, 0.04)
    up = _along([(0.40, 0.88), (0.72, 0.38), tip], rng, 0.04)
    return [np.concatenate([down, up])]


def _shifted_tick(rng: np.random.Generator) -> Strokes:
    angle, far = rng.uniform(0, 2 * np.pi), rng.uniform(0.25, 0.5)
    return [points + far * np.array([np.cos(angle), np.sin(angle)]) for points in _tick(rng)]


def _moved(strokes: Strokes, far: float, angle: float) -> Strokes:
    return [points + far * np.array([np.cos(angle), np.sin(angle)]) for points in strokes]


def _half_missed(shape: Callable[[np.random.Generator], Strokes]) -> Callable[[np.random.Generator], Strokes]:
    """The mark lies about half outside the box, on any side."""
    return lambda rng: _moved(shape(rng), rng.uniform(0.4, 0.55), rng.uniform(0, 2 * np.pi))


def _long_tick(rng: np.random.Generator) -> Strokes:
    """Its end runs a little into the next box of the line, 1.68 box widths on."""
    down = _along([(0.14, 0.45), (0.28, 0.62), (0.40, 0.88)], rng, 0.04)
    tip = (rng.uniform(1.72, 2.0), rng.uniform(-0.15, 0.3))
    return [np.concatenate([down, _along([(0.40, 0.88), (0.9, 0.5), tip], rng, 0.03)])]


def _tall_tick(rng: np.random.Generator) -> Strokes:
    """Its end runs a little into the box above, 0.72 box heights up on the sheets with the most room."""
    down = _along([(0.14, 0.45), (0.28, 0.62), (0.40, 0.88)], rng, 0.04)
    tip = (rng.uniform(0.6, 1.0), rng.uniform(-1.0, -0.75))
    return [np.concatenate([down, _along([(0.40, 0.88), (0.55, 0.2), tip], rng, 0.03)])]


def _toner(rng: np.random.Generator) -> Strokes:
    """A spray of fine specks over the box and round it."""
    return [rng.uniform(-0.3, 1.3, 2) + rng.normal(0, 0.008, (2, 2)) for _ in range(int(rng.integers(6, 25)))]


def _grit(rng: np.random.Generator) -> Strokes:
    """One grain that lay on the glass, 0.4 to 0.9 mm wide: smaller than any dot that is meant as an answer."""
    turns = np.linspace(0, 2 * np.pi, 7)
    r = rng.uniform(0.02, 0.06) * rng.uniform(0.7, 1.3, 7)
    middle = rng.uniform(0.0, 1.0, 2)
    return [np.column_stack([middle[0] + r * np.cos(turns), middle[1] + r * np.sin(turns)])]


def _hair(rng: np.random.Generator) -> Strokes:
    steps = np.cumsum(rng.normal(0, 0.12, (6, 2)) + rng.normal(0, 0.1, 2), axis=0)
    return [curve(rng.uniform(-0.1, 1.1, 2) + steps)]


def _speck(rng: np.random.Generator) -> Strokes:
    return [rng.uniform(0.05, 0.95, 2) + rng.normal(0, 0.02, (2, 2)) for _ in range(int(rng.integers(1, 4)))]


def _touch(rng: np.random.Generator) -> Strokes:
    start = rng.uniform(-0.1, 1.1, 2)
    return [np.array([start, start + rng.normal(0, 0.10, 2)])]


# How often a crew uses each kind. No outside source: ticks lead, then crosses; the rest is there to be read.
ANSWER_MARKS: dict[str, float] = {
    "tick": 0.50,
    "cross": 0.18,
    "slash": 0.06,
    "fill": 0.03,
    "scribble": 0.04,
    "dot": 0.03,
    "ring": 0.02,
    "leaving tick": 0.14,
}
_SHAPES: dict[str, Callable[[np.random.Generator], Strokes]] = {
    "tick": _tick,
    "cross": _cross,
    "slash": _slash,
    "dash": _dash,
    "fill": _fill,
    "scribble": _scribble,
    "dot": _dot,
    "ring": _ring,
    "leaving tick": _leaving_tick,
    "shifted tick": _shifted_tick,
    "faint tick": _tick,
    "faint cross": _cross,
    "speck": _speck,
    "pen touch": _touch,
    "half-missed tick": _half_missed(_tick),
    "half-missed cross": _half_missed(_cross),
    "broken tick": _tick,
    "broken cross": _cross,
    "marker tick": _tick,
    "marker cross": _cross,
    "marker fill": _fill,
    "long tick": _long_tick,
    "tall tick": _tall_tick,
    "toner": _toner,
    "grit": _grit,
    "hair": _hair,
}
# Everything that is meant as an answer, including how it goes wrong now and then.
MARKS: tuple[str, ...] = (*ANSWER_MARKS, "shifted tick", "faint tick", "faint cross")
# Answers still, by a pen that ran dry or a marker that bleeds, beside the box or into the next.
ODD_MARKS: tuple[str, ...] = (
    "half-missed tick",
    "half-missed cross",
    "broken tick",
    "broken cross",
    "marker tick",
    "marker cross",
    "marker fill",
    "long tick",
    "tall tick",
)
# Ink or dirt that answers nothing.
NON_MARKS: tuple[str, ...] = ("speck", "pen touch")
DIRT: tuple[str, ...] = ("toner", "grit", "hair")
# How an answer is taken back.
STRIKES: tuple[str, ...] = ("scribbled over", "lined through")
ODD_STRIKES: tuple[str, ...] = ("crossed out", "blacked out", "ringed and lined through")


_AS_DRAWN = ("fill", "ring", "speck", "pen touch", "marker fill", "long tick", "tall tick", *DIRT)


def draw_mark(
    page: np.ndarray, box: Box, kind: str, pen: Pen, rng: np.random.Generator, dpi: float = DPI
) -> Box | None:
    """Put one mark of ``kind`` in ``box`` on ``page`` (uint8, in place); gives its extent in mm.

    Kinds: see MARKS, ODD_MARKS, NON_MARKS, DIRT.

    KeyError for an unknown kind.
    """
    strokes = _SHAPES[kind](rng)
    if kind.startswith("faint"):
        pen = fainter(pen, float(rng.uniform(0.15, 0.4)))
    if kind == "dot":
        pen = replace(pen, width_mm=max(pen.width_mm, 0.5))
    if kind.startswith("broken"):  # a ball that hardly turns: about three gaps in a tick
        pen = replace(pen, skips=float(rng.uniform(20, 45)))
    if kind.startswith("marker"):
        bleed = float(rng.uniform(0.08, 0.2))
        pen = replace(pen, width_mm=float(rng.uniform(1.2, 2.0)), grey=float(rng.uniform(5, 70)), bleed_mm=bleed)
    if kind in ("toner", "grit"):
        wide = (0.05, 0.15) if kind == "toner" else (0.3, 0.5)
        pen = replace(pen, width_mm=float(rng.uniform(*wide)), grey=float(rng.uniform(10, 120)), skips=0.0)
    if kind == "hair":
        pen = replace(pen, width_mm=float(rng.uniform(0.06, 0.14)), grey=float(rng.uniform(60, 170)), skips=0.0)
    if kind == "speck":
        pen = replace(pen, width_mm=float(rng.uniform(0.12, 0.35)), grey=float(rng.uniform(40, 170)), skips=0.0)
    if kind == "pen touch":
        pen = fainter(pen, float(rng.uniform(0.0, 0.4)))
    if kind not in _AS_DRAWN:
        strokes = _varied(strokes, rng)
    size = np.array([box.w_mm, box.h_mm])
    return draw(page, [points * size + [box.x_mm, box.y_mm] for points in strokes], pen, rng, dpi)


def _varied(strokes: Strokes, rng: np.random.Generator) -> Strokes:
    """Size, place and lean as they differ from mark to mark."""
    size = np.clip(rng.normal(0.95, 0.16, 2), 0.55, 1.35)
    turn = rng.normal(0, 0.12)
    c, s = np.cos(turn), np.sin(turn)
    place = 0.5 + rng.normal(0, 0.07, 2)
    matrix = np.array([[c, -s], [s, c]]) * size
    return bent([(points - 0.5) @ matrix.T + place for points in strokes], 0.02, rng)


def strike_out(
    page: np.ndarray, box: Box, how: str, pen: Pen, rng: np.random.Generator, dpi: float = DPI
) -> Box | None:
    """Take back what stands in ``box``, on ``page`` (uint8, in place); gives the extent in mm.

    ``how``: see STRIKES, ODD_STRIKES.
    """
    if how == "scribbled over":
        count = int(rng.integers(10, 20))
        x = np.linspace(-0.1, 1.1, count) + rng.normal(0, 0.08, count)
        y = np.where(np.arange(count) % 2 == 0, rng.uniform(-0.2, 0.1), rng.uniform(0.9, 1.2))
        path = np.column_stack([x, y + rng.normal(0, 0.1, count)])
        strokes = [curve(path)]
        if rng.random() < 0.6:
            strokes.append(curve(path[::-1, ::-1]))
    elif how == "lined through":
        strokes = []
        for _ in range(int(rng.integers(2, 5))):
            level = float(rng.uniform(0.2, 0.8))
            strokes.append(_straight([(-0.3, level), (1.3, level)], rng, 0.09))
    elif how == "crossed out":
        over = float(rng.uniform(0.25, 0.5))
        strokes = [
            _straight([(-over, -over), (1 + over, 1 + over)], rng, 0.08),
            _straight([(1 + over, -over), (-over, 1 + over)], rng, 0.08),
        ]
    elif how == "blacked out":
        rows = np.linspace(-0.15, 1.15, int(rng.integers(14, 22)))
        points = [(-0.2 if (k % 2) ^ side else 1.2, y) for k, y in enumerate(rows) for side in (0, 1)]
        strokes = [_straight(points, rng, 0.04)]
    elif how == "ringed and lined through":
        strokes = [*_ring(rng), _straight([(-0.5, rng.uniform(0.2, 0.8)), (1.5, rng.uniform(0.2, 0.8))], rng, 0.05)]
    else:
        raise KeyError(how)
    size = np.array([box.w_mm, box.h_mm])
    return draw(page, [points * size + [box.x_mm, box.y_mm] for points in strokes], pen, rng, dpi)
