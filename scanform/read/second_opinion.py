"""Further opinions on digits of which the network that reads cell by cell is not sure.

A larger network (``closer.onnx``) looks once more at each such digit, and at each cell that the first takes for no
single clean character. If the number is still not sure, the line recogniser reads the ink of its unsure cells and of
what stands beside them, side by side, as one number.

The line recogniser was trained on other hands, on whole lines, and errs on other digits than the network that reads
cell by cell. Its per-step probabilities (CTC: Graves et al. 2006) become probabilities of each cell's digit by the
forward-backward algorithm over every string that has one digit in each cell, each within the steps that look at its
cell. Opinions are pooled with weights that were fitted (``scanform/models/pool.json``; :mod:`scanform.training.pool`).
"""

from __future__ import annotations

import json
from functools import lru_cache
from importlib import resources
from typing import Literal, NamedTuple

import numpy as np

from scanform.read.characters import CharacterNet
from scanform.read.lines import LineReader

__all__ = [
    "PoolWeights",
    "Unsure",
    "closer_opinions",
    "digit_opinion",
    "digits_alone",
    "look_closer",
    "pool_weights",
    "pooled",
    "second_thought",
]

DIGITS = "0123456789"
_TRIM_PX = (4, 8)  # of a patch's rows and columns on each side: paper between the cells that the line can do without
_REACH_STEPS = 1.5  # a character's peak lies this near to its cell
_LEAST = 1e-7
# A digit that the first network gives less than this is looked at more closely, for 1.3 ms: 11 in 100 of the
# calibration split's real digits in cells, 70 of their 72 errors among them. A limit of 0.999 helps no more.
_SURE_DIGIT = 0.99
_NO_CHARACTER = 0.5  # probability of "no single clean character" from which on a cell is looked at again for that


class PoolWeights(NamedTuple):
    """Of the pool: p is proportional to own ** ``own`` * (other + ``floor``) ** ``other``."""

    own: float
    other: float
    floor: float


class Unsure(NamedTuple):
    """Digits that were looked at again: ``cells`` int (n,), and both opinions, ``own`` and ``closer`` float (n, 10)."""

    cells: np.ndarray
    own: np.ndarray
    closer: np.ndarray


@lru_cache(maxsize=2)
def pool_weights(other: Literal["closer", "line"]) -> PoolWeights:
    """The weights that came with the installed models, for the pool with the larger network or with the line."""
    data = json.loads((resources.files("scanform.models") / "pool.json").read_text())[other]
    return PoolWeights(float(data["own"]), float(data["other"]), float(data["floor"]))


def look_closer(net: CharacterNet, maps: np.ndarray, ink_mm2: np.ndarray, rows: np.ndarray) -> None:
    """Pools the larger network's opinion into rows (n, 37) of digits, in place, where the first is not sure.

    ``maps`` float32 (n, 28, 28), ``ink_mm2`` float32 (n,) as :func:`scanform.read.glyphs.glyphs_of` gives them.
    """
    cells, own, closer = closer_opinions(net, maps, ink_mm2, rows)
    rows[cells, :10] = pooled(own, closer, pool_weights("closer")) * (1 - rows[cells, -1:])


def closer_opinions(net: CharacterNet, maps: np.ndarray, ink_mm2: np.ndarray, rows: np.ndarray) -> Unsure:
    """Which digits the first network is not sure of, and both networks' opinions; arguments as for look_closer."""
    first = digits_alone(rows)
    cells = np.flatnonzero((ink_mm2 > 0) & (first.max(axis=1) < _SURE_DIGIT))
    again = net.probabilities(maps[cells], ink_mm2[cells], "closer").rows
    return Unsure(cells, first[cells], digits_alone(again))


def second_thought(
    net: CharacterNet, maps: np.ndarray, ink_mm2: np.ndarray, rows: np.ndarray, other: np.ndarray
) -> None:
    """Lets the larger network say, too, whether a cell holds no single clean character: mends ``other`` (n,), in place.

    It is asked where the first says so of a cell whose likeliest character is a digit; the mean of both log odds
    counts. Of the calibration split's 5,706 real digits, as they are and in cells, 3.5 in 10,000 are taken for no clean
    one instead of 8.8; of characters written over another 77 in 100, not 78, and of crossed-out ones 93, not 94.
    """
    cells = np.flatnonzero((ink_mm2 > 0) & (other > _NO_CHARACTER) & (rows.argmax(axis=1) < len(DIGITS)))
    if len(cells):
        both = np.stack([other[cells], net.probabilities(maps[cells], ink_mm2[cells], "closer").other])
        none, clean = np.sqrt(both).prod(axis=0), np.sqrt(1 - both).prod(axis=0)
        other[cells] = none / np.maximum(none + clean, _LEAST)


def digits_alone(rows: np.ndarray) -> np.ndarray:
    """Probabilities of the digits if there is one: rows (n, 37) with no probability on letters to (n, 10)."""
    return rows[:, :10] / np.maximum(1 - rows[:, -1:], 1e-9)


def digit_opinion(ink: np.ndarray, reader: LineReader) -> np.ndarray:
    """Probability of each digit in each of n cells: float64 (n, 10), rows sum to 1.

    ``ink``: float32 (n, H, W), 0 paper to 1 ink at 8 px/mm, of neighbouring cells that are all written in.
    """
    rows, columns = _TRIM_PX
    cells = [255 - one[rows:-rows, columns:-columns] * 255 for one in ink]
    line = np.clip(np.hstack(cells), 0, 255).astype(np.uint8)
    steps = reader.read(line).steps
    wanted = [0] + [1 + reader.alphabet.index(digit) for digit in DIGITS]
    return cell_posteriors(steps[:, wanted], len(ink))


def cell_posteriors(steps: np.ndarray, cells: int) -> np.ndarray:
    """CTC's probability of each digit in each cell, over all strings of one digit a cell: float64 (cells, 10).

    ``steps``: float (t, 11), blank first, then the digits; the cells lie evenly along the steps.
    """
    t = len(steps)
    y = np.maximum(steps.astype(np.float64), _LEAST)
    width = t / cells
    middle = np.arange(t) + 0.5
    starts = np.arange(cells) * width
    near = (middle >= starts[:, None] - _REACH_STEPS) & (middle <= starts[:, None] + width + _REACH_STEPS)
    emit = np.where(near[:, :, None], y[None, :, 1:], 0.0)  # (cells, t, 10)
    blank = y[:, 0]
    entered, log_before = _forward(emit, blank)
    back, log_after = _backward(emit, blank)
    log_scale = log_before + log_after
    weight = np.exp(log_scale - log_scale.max())[:, None]
    flow = (entered * back * weight).sum(axis=1) + 1e-300
    return flow / flow.sum(axis=1, keepdims=True)


def _forward(emit: np.ndarray, blank: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Weight of paths up to a step that enter a cell's digit there, float64 (cells, t, 10), and its log scale (t,)."""
    cells, t, _ = emit.shape
    entered, log_scale, scaled = np.zeros_like(emit), np.zeros(t), 0.0
    last, gap = np.zeros((cells + 1, 10)), np.zeros(cells + 1)  # last[0]: before the first cell stands none
    gap[0] = 1.0
    for k in range(t):
        free = gap + last.sum(axis=1)
        enter = emit[:, k] * (free[:-1, None] - last[:-1])  # the same digit twice needs a blank between
        last[1:] *= emit[:, k]
        last[1:] += enter
        gap = blank[k] * free
        scale = last.sum() + gap.sum() + 1e-300
        last /= scale
        gap /= scale
        scaled += np.log(scale)
        entered[:, k], log_scale[k] = enter / scale, scaled
    return entered, log_scale


def _backward(emit: np.ndarray, blank: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Weight of all paths on from a step in a cell's digit: float64 (cells, t, 10), and its log scale (t,)."""
    cells, t, _ = emit.shape
    back, log_scale, scaled = np.zeros_like(emit), np.zeros(t), 0.0
    later, gap = np.zeros((cells, 10)), np.zeros(cells + 1)
    later[-1], gap[-1] = 1.0, 1.0
    come = np.zeros((cells + 1, 10))  # come[-1]: behind the last cell stands none
    for k in range(t - 1, -1, -1):
        back[:, k], log_scale[k] = later, scaled
        np.multiply(emit[:, k], later, out=come[:-1])
        gap = blank[k] * gap + come.sum(axis=1)
        later = come[:-1] + (gap[1:, None] - come[1:])
        scale = later.sum() + gap.sum() + 1e-300
        later /= scale
        gap /= scale
        scaled += np.log(scale)
    return back, log_scale


def pooled(own: np.ndarray, other: np.ndarray, weights: PoolWeights) -> np.ndarray:
    """Both opinions as one, float64 (n, 10): logarithmic pool, rows sum to 1.

    ``own``: float (n, 10), probabilities of the digits so far; ``other``: the larger network's, or the line's as
    :func:`digit_opinion` gives them.
    """
    logs = weights.own * np.log(np.maximum(own, 1e-9)) + weights.other * np.log(other + weights.floor)
    p = np.exp(logs - logs.max(axis=1, keepdims=True))
    return p / p.sum(axis=1, keepdims=True)
