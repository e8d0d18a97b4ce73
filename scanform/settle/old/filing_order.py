"""What the sheets filed before and after one say about its day: how far apart such neighbours lie in this stack.

A binder that was kept in order has sheets of one day, or of the next, side by side; one that was dropped on the floor
has not. Which it is, the stack's own accepted dates tell.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta

import numpy as np

__all__ = ["neighbour_weight", "out_of_place"]

_FARTHEST = 4  # sheets away
_FEWEST_PAIRS = 8  # of sheets as far apart, before anything is made of them
_NEAREST = 150  # sheets before and after, of which the gaps are taken
# A gap of days that was seen says that those a day or two from it may be too; no outside source.
_SPREAD = {0: 0.6, 1: 0.12, 2: 0.05, 3: 0.03}
_IN_ORDER, _UNSUITED, _SEARCHED_DAYS = 0.02, 0.02, 31  # weight of the likeliest day; beside it, of one that is none
_LEAST = 1e-4  # of any day: a sheet may be filed anywhere


def neighbour_weight(row: Sequence[date | None], place: int) -> Callable[[date], float] | None:
    """Weight of a day for the sheet at ``place`` of a stack, about 1 at the most; None if its neighbours tell nothing.

    ``row``: each sheet's accepted date, in the order in which they were filed; None for those in doubt. What stands at
    ``place`` itself is left out.
    """
    known = [None if n == place else day for n, day in enumerate(row)]
    sides = []
    for step in (-1, 1):
        away = next((k for k in range(1, _FARTHEST + 1) if _at(known, place + step * k) is not None), None)
        if away is None:
            continue
        gaps = _gaps(known, away, place)
        day = _at(known, place + step * away)
        if day is not None and len(gaps) >= _FEWEST_PAIRS:
            sides.append((day, -step, gaps))
    if not sides:
        return None

    def weight(day: date) -> float:
        shares = [_share((day - beside).days * onward, gaps) for beside, onward, gaps in sides]
        return float(np.prod(shares))

    return weight


def out_of_place(row: Sequence[date | None], place: int, day: date) -> bool:
    """Whether a day does not suit the sheets filed before and after, in a stack that is in order there."""
    weight = neighbour_weight(row, place)
    if weight is None:
        return False
    steps = [place + step * k for k in range(1, _FARTHEST + 1) for step in (-1, 1)]
    beside = next(known for known in (_at(row, n) for n in steps) if known is not None)
    best = max(weight(beside + timedelta(days=n)) for n in range(-_SEARCHED_DAYS, _SEARCHED_DAYS + 1))
    return best > _IN_ORDER and weight(day) < best * _UNSUITED


def _at(row: Sequence[date | None], place: int) -> date | None:
    return row[place] if 0 <= place < len(row) else None


def _gaps(row: Sequence[date | None], away: int, place: int) -> np.ndarray:
    """Days from each sheet to those about so far behind it, int (n,), in this part of the stack."""
    near = row[max(place - _NEAREST, 0) : place + _NEAREST]
    pairs = [pair for apart in range(max(away - 1, 1), away + 2) for pair in zip(near, near[apart:], strict=False)]
    return np.array([(other - one).days for one, other in pairs if one is not None and other is not None])


def _share(gap: int, gaps: np.ndarray) -> float:
    off = np.abs(gaps - gap)
    return _LEAST + float(sum(share * (off == days).mean() for days, share in _SPREAD.items()))
