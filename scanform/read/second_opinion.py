"""A second opinion on combs of digits: the line recogniser reads the cells' ink side by side, as one number.

It was trained on other hands, on whole lines, and errs on other digits than the network that reads cell by cell. Its
per-step probabilities (CTC: Graves et al. 2006) become probabilities of each cell's digit by the forward-backward
algorithm over every string that has one digit in each cell, each within the steps that look at its cell. Both opinions
are pooled with weights that were fitted (``scanform/models/pool.json``; :mod:`scanform.training.pool`).
"""

from __future__ import annotations

import json
from functools import lru_cache
from importlib import resources
from typing import NamedTuple

import numpy as np

from scanform.read.lines import LineReader

__all__ = ["PoolWeights", "digit_opinion", "pool_weights", "pooled"]

DIGITS = "0123456789"
_TRIM_PX = (4, 8)  # of a patch's rows and columns on each side: paper between the cells that the line can do without
_REACH_STEPS = 1.5  # a character's peak lies this near to its cell
_LEAST = 1e-7


class PoolWeights(NamedTuple):
    """Of the pool: p is proportional to own ** ``own`` * (line + ``floor``) ** ``line``."""

    own: float
    line: float
    floor: float


@lru_cache(maxsize=1)
def pool_weights() -> PoolWeights:
    """The weights that came with the installed models."""
    data = json.loads((resources.files("scanform.models") / "pool.json").read_text())
    return PoolWeights(float(data["own"]), float(data["line"]), float(data["floor"]))


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
    last, gap = np.zeros((cells, 10)), np.zeros(cells + 1)
    gap[0] = 1.0
    for k in range(t):
        before = np.vstack([np.zeros((1, 10)), last[:-1]])
        other = before.sum(axis=1, keepdims=True) - before  # the same digit twice needs a blank between
        enter = emit[:, k] * (gap[:-1, None] + other)
        stay = emit[:, k] * last
        gap = blank[k] * (gap + np.concatenate(([0.0], last.sum(axis=1))))
        last = enter + stay
        scale = last.sum() + gap.sum() + 1e-300
        last, gap = last / scale, gap / scale
        scaled += np.log(scale)
        entered[:, k], log_scale[k] = enter / scale, scaled
    return entered, log_scale


def _backward(emit: np.ndarray, blank: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Weight of all paths on from a step in a cell's digit: float64 (cells, t, 10), and its log scale (t,)."""
    cells, t, _ = emit.shape
    back, log_scale, scaled = np.zeros_like(emit), np.zeros(t), 0.0
    later, gap = np.zeros((cells, 10)), np.zeros(cells + 1)
    later[-1], gap[-1] = 1.0, 1.0
    for k in range(t - 1, -1, -1):
        back[:, k], log_scale[k] = later, scaled
        come = emit[:, k] * later
        after = np.vstack([come[1:], np.zeros((1, 10))])
        other = after.sum(axis=1, keepdims=True) - after
        new_gap = blank[k] * gap + np.concatenate((come.sum(axis=1), [0.0]))
        later = come + blank[k] * gap[1:, None] + other
        gap = new_gap
        scale = later.sum() + gap.sum() + 1e-300
        later, gap = later / scale, gap / scale
        scaled += np.log(scale)
    return back, log_scale


def pooled(own: np.ndarray, line: np.ndarray, weights: PoolWeights) -> np.ndarray:
    """Both opinions as one, float64 (n, 10): logarithmic pool, rows sum to 1.

    ``own``: float (n, 10), the network's probabilities of the digits; ``line`` as :func:`digit_opinion` gives them.
    """
    logs = weights.own * np.log(np.maximum(own, 1e-9)) + weights.line * np.log(line + weights.floor)
    p = np.exp(logs - logs.max(axis=1, keepdims=True))
    return p / p.sum(axis=1, keepdims=True)
