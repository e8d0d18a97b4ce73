"""How people answer by circling one of several printed words: rings of every kind, lines, ticks, changes of mind."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scanform.form import Box
from scanform.simulate import DPI, Writer, draw, draw_mark, strike_out
from scanform.simulate.strokes import bent

__all__ = ["WAYS", "answer_by_hand", "line_through", "line_under", "ring_round"]

# Share of each way to answer. No outside source; odd ones are put several times higher than a crew's habits make them.
WAYS = {
    "ring": 0.66, "under": 0.06, "tick": 0.05, "others struck": 0.05, "nothing": 0.08, "two": 0.03, "taken back": 0.05,
    "stray": 0.02,
}  # fmt: skip


def answer_by_hand(page: np.ndarray, words: Sequence[Box], writer: Writer, rng: np.random.Generator) -> tuple[str, ...]:
    """Answer at printed ``words`` on ``page`` (uint8 at 300 dpi, in place); what was done to each word: ``none``,
    ``marked`` or ``struck``.
    """
    way = str(rng.choice(list(WAYS), p=np.array(list(WAYS.values())) / sum(WAYS.values())))
    which = int(rng.integers(len(words)))
    others = [n for n in range(len(words)) if n != which]
    done = ["none"] * len(words)
    if way in ("ring", "under", "tick"):
        done[which] = "marked"
    if way == "ring":
        ring_round(page, words[which], writer, rng)
    elif way == "under":
        line_under(page, words[which], writer, rng)
    elif way == "tick":
        draw_mark(page, words[which], "tick", writer.pen, rng)
    elif way == "others struck":
        for n in others:
            line_through(page, words[n], writer, rng)
            done[n] = "struck"
    elif way == "stray":
        box = words[which]
        at = np.array(box.centre_mm) + rng.uniform(-1, 1, 2) * [box.w_mm, 2.0]
        draw(page, [at + np.array([[0.0, 0.0], rng.uniform(-1.2, 1.2, 2)])], writer.pen, rng)
    elif way in ("two", "taken back"):
        other = int(rng.choice(others))
        ring_round(page, words[which], writer, rng)
        ring_round(page, words[other], writer, rng)
        done[which] = done[other] = "marked"
        if way == "taken back":
            strike_out(page, words[other], str(rng.choice(["scribbled over", "lined through"])), writer.pen, rng)
            done[other] = "struck"
    return tuple(done)


def ring_round(page: np.ndarray, word: Box, writer: Writer, rng: np.random.Generator) -> None:
    """A ring, closed or not quite, tight or wide, round or rather square."""
    turns = rng.uniform(0, 2 * np.pi) + np.linspace(0, 2 * np.pi + rng.uniform(-0.45, 0.9), 32)
    half = np.array([word.w_mm / 2 + rng.uniform(0.5, 2.4), word.h_mm / 2 + rng.uniform(0.0, 1.3)])
    square = rng.uniform(0.75, 1.0)
    ring = np.column_stack([_powered(np.cos(turns), square), _powered(np.sin(turns), square)])
    ring *= 1 + np.linspace(0, rng.uniform(-0.08, 0.15), 32)[:, None]
    (ring,) = bent([ring], 0.04, rng)
    draw(page, [ring * half + np.array(word.centre_mm) + rng.normal(0, [0.45, 0.3], 2)], writer.pen, rng)


def _powered(values: np.ndarray, exponent: float) -> np.ndarray:
    return np.sign(values) * np.abs(values) ** exponent


def line_under(page: np.ndarray, word: Box, writer: Writer, rng: np.random.Generator, dpi: float = DPI) -> None:
    """A line under the word, now and then two."""
    for k in range(1 + int(rng.random() < 0.15)):
        y = word.bottom_mm + rng.uniform(-0.1, 0.9) + 0.7 * k
        ends = [
            [word.x_mm + rng.uniform(-0.8, 0.6), y],
            [word.right_mm + rng.uniform(-0.5, 0.9), y + rng.normal(0, 0.3)],
        ]
        draw(page, [np.array(ends)], writer.pen, rng, dpi)


def line_through(page: np.ndarray, word: Box, writer: Writer, rng: np.random.Generator) -> None:
    """A line through the word, level or slanting, or a cross."""
    left, right = word.x_mm - rng.uniform(0, 1), word.right_mm + rng.uniform(-0.2, 1)
    rise = rng.uniform(-0.5, 0.5) * word.h_mm
    middle = word.centre_mm[1] + rng.normal(0, 0.12) * word.h_mm
    draw(page, [np.array([[left, middle + rise], [right, middle - rise]])], writer.pen, rng)
    if rng.random() < 0.2:
        draw(page, [np.array([[left, middle - rise], [right, middle + rise]])], writer.pen, rng)
