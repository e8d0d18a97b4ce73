"""A seven whose bar lies upon the cell's upper border looks like a one that ends there; what tells the two apart.

The printed border is taken out of a cell, and a bar that lies wholly upon it goes with it. Two traces are left: the
border is thicker or darker where the bar lies, to the left of where the stroke meets it, and a seven's leg leans as
few ones do.
"""

from __future__ import annotations

import numpy as np

__all__ = ["bar_traces", "seven_share"]

_INK_LEVEL = 0.42  # ink map level that counts as stroke, as in scanform.read.glyphs
# In px at 8 px/mm: the border's rows, and where along it a bar lies, from the stroke's upper end to the left; beyond
# lies the border alone.
_BAND = (9, 2)  # rows outside and inside the border's inner edge
_END_ROWS = 4
_BAR = (13, 4)
_ALONE = (18, 5)  # to the left, to the right
_CORNER = 3
_FEWEST_PLACES = 4, 6  # of the bar, of the border alone
_LIGHTER = 0.5  # px by which the upper border may be thicker than the lower one with nothing written upon it
# Logistic in the border's excess thickness (px of full ink) and in the stroke's lean (px to the right a px upwards),
# both held within what was seen; fitted to 16,000 cells drawn as scanform.training.hidden_bars draws them, before that
# module had its present form. On 1,100 simulated pages (seeds from 6,600,000) the 5 sevens among 131 such cells come
# out at 0.07, 0.86, 0.93, 0.95 and 0.99, half of the ones below 0.01.
_EXCESS, _LEAN, _OFFSET = 3.71, 5.16, -5.3
_MOST_EXCESS = (-0.75, 1.5)
_MOST_LEAN = (-0.3, 0.8)
_UNSEEN_EXCESS = 0.5  # where too little of the border is seen


def seven_share(traces: np.ndarray) -> np.ndarray:
    """Of cells that hold a one, the probability that it is a seven with a hidden bar: float64 (n,).

    ``traces``: float (n, 2) as :func:`bar_traces` gives them; NaN, and then no probability, where the ink does not end
    at the upper border.
    """
    share = 1 / (1 + np.exp(-(traces.astype(np.float64) @ (_EXCESS, _LEAN) + _OFFSET)))
    return np.where(np.isnan(share), 0.0, share)


def bar_traces(printed: np.ndarray, own: np.ndarray, inside: tuple[int, int, int, int]) -> tuple[float, float]:
    """The border's excess thickness in px beside the stroke's upper end, and the stroke's lean.

    ``printed``, ``own``: one cell's ink map, float32 (H, W) at 8 px/mm, before its borders were taken out and after,
    the neighbours' ink gone; ``own`` has some. ``inside``: first column, first row, last column, last row within the
    border.
    """
    x0, y0, x1, y1 = inside
    solid = own > _INK_LEVEL
    rows = np.flatnonzero(solid.any(axis=1))
    first, last = int(rows[0]), int(rows[-1])
    top = float(np.flatnonzero(solid[first : first + _END_ROWS].any(axis=0)).mean())
    foot = float(np.flatnonzero(solid[max(last - _END_ROWS + 1, 0) : last + 1].any(axis=0)).mean())
    lean = (top - foot) / max(last - first, 1)
    meets = top + lean * max(first - y0, 0)
    outside, within = _BAND
    upper = printed[max(y0 - outside, 0) : y0 + within].sum(axis=0)
    lower = printed[y1 - within + 1 : y1 + outside + 1].sum(axis=0)
    x = np.arange(printed.shape[1])
    clear = (x >= x0 + _CORNER) & (x <= x1 - _CORNER)
    bar = clear & (x >= meets - _BAR[0]) & (x <= meets - _BAR[1])
    alone = clear & ((x < meets - _ALONE[0]) | (x > meets + _ALONE[1]))
    if bar.sum() < _FEWEST_PLACES[0] or alone.sum() < _FEWEST_PLACES[1]:
        return _UNSEEN_EXCESS, float(np.clip(lean, *_MOST_LEAN))
    usual = min(float(np.median(upper[alone])), float(np.median(lower[clear])) + _LIGHTER)
    excess = float(upper[bar].mean()) - usual
    return float(np.clip(excess, *_MOST_EXCESS)), float(np.clip(lean, *_MOST_LEAN))
