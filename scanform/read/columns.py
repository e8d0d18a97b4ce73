"""One line drawn down a whole column of tick boxes: where it runs, and which boxes it visibly passes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from scanform.form import Box
from scanform.read.boxes import MAP_PX_PER_MM, MAP_SIDE, MARGIN_MM

__all__ = ["LineDown", "lines_down"]

# All measures in mm of paper or shares; fitted on nothing: they follow from the boxes (5 mm, pitch 8 to 8.6 mm, 13 mm
# where a stage's title stands between) and from the widest pens (1.2 mm, markers 2 mm).
_FEWEST_BOXES = 3  # a long mark may join two boxes
_INK_LEVEL = 0.3
_EDGE_MM = 1.0  # how far into the patch a line that leaves it must be seen
_WIDEST_MM = 2.5
_LEAST_FREE_MM = 0.5  # a line has two sides: ink that reaches the patch's corner is no line
_SPECK_SHARE = 0.4  # of a line's ink: smaller pieces beside it are dirt
_SIDESTEP_MM, _SLOPE = 0.6, 0.25  # how far apart ends may be that belong together, plus so much a mm between them
_LONGEST_GAP_MM = 6.0  # between two patches; a stage's title leaves 5
_INSET_MM = 0.55  # inside of the border line and its blur
_OFF_LINE_MM = 1.0
_OTHER_INK_MM2 = 0.6  # specks; a mark has more
# Of the height inside a box: what a line that goes on must show, gaps of a pen that skips left out, and one that ends.
_PASSING, _ENDING = 0.75, 0.5


@dataclass(frozen=True)
class LineDown:
    """A line down a column at one of its boxes.

    ``boxes``: how many it joins. ``passes``: whether it visibly passes this one. ``alone``: no other ink is in the box.
    """

    boxes: int
    passes: bool
    alone: bool


@dataclass(frozen=True)
class _Ends:
    """Where ink leaves a patch, in px of its map; None if nothing like one line does."""

    top: float | None
    bottom: float | None


def lines_down(boxes: Sequence[Box], maps: np.ndarray) -> list[LineDown | None]:
    """For each box the line down its column that reaches it, if any.

    ``maps``: float32 (n, 32, 32), as :func:`scanform.read.boxes.box_maps` makes them, one for each of ``boxes``. A line
    counts if it can be followed from box to box through at least three. It passes a box if its ink is seen inside the
    border most of the way down, or half of it where the line begins or ends.
    """
    found: list[LineDown | None] = [None] * len(boxes)
    ink: np.ndarray = maps > _INK_LEVEL
    edge = round(_EDGE_MM * MAP_PX_PER_MM)
    top, bottom = ink[:, :edge].sum(axis=1), ink[:, -edge:].sum(axis=1)
    if not ((top > 0).any(axis=1) & (bottom > 0).any(axis=1)).any():
        return found  # most sheets: nothing goes through any box
    ends = [_Ends(_middle(top[n]), _middle(bottom[n])) for n in range(len(boxes))]
    for column in _columns(boxes):
        for chain in _chains(column, boxes, ends):
            for place, n in enumerate(chain):
                first, last = place == 0, place == len(chain) - 1
                found[n] = LineDown(len(chain), *_inside(ink[n], ends[n], first, last))
    return found


def _columns(boxes: Sequence[Box]) -> list[list[int]]:
    """Numbers of the boxes that stand under each other, from the top, for each column."""
    columns: dict[int, list[int]] = {}
    for n, box in enumerate(boxes):
        columns.setdefault(round(box.x_mm), []).append(n)
    return [sorted(column, key=lambda n: boxes[n].y_mm) for column in columns.values()]


def _middle(amounts: np.ndarray) -> float | None:
    """Middle of the one run of ink in int (32,), amounts by column; None if there is none, or nothing like one line."""
    where = np.flatnonzero(amounts)
    if not len(where):
        return None
    runs = np.split(where, np.flatnonzero(np.diff(where) > 1) + 1)
    weights = [int(amounts[run].sum()) for run in runs]
    large = [run for run, weight in zip(runs, weights, strict=True) if weight > _SPECK_SHARE * max(weights)]
    run, free = large[0], _LEAST_FREE_MM * MAP_PX_PER_MM
    if len(large) > 1 or len(run) > _WIDEST_MM * MAP_PX_PER_MM or run[0] < free or run[-1] >= MAP_SIDE - free:
        return None
    return float(run.mean())


def _chains(column: list[int], boxes: Sequence[Box], ends: list[_Ends]) -> list[list[int]]:
    chains, chain = [], column[:1]
    for above, below in pairwise(column):
        if _joined(boxes[above], boxes[below], ends[above], ends[below]):
            chain.append(below)
        else:
            chains.append(chain)
            chain = [below]
    return [c for c in [*chains, chain] if len(c) >= _FEWEST_BOXES]


def _joined(above: Box, below: Box, upper: _Ends, lower: _Ends) -> bool:
    """Whether what leaves the upper box goes on into the lower one."""
    gap_mm = below.y_mm - above.bottom_mm - 2 * MARGIN_MM
    if upper.bottom is None or lower.top is None or gap_mm > _LONGEST_GAP_MM:
        return False
    between_mm = max(gap_mm, 0.0) + _EDGE_MM
    return abs(upper.bottom - lower.top) / MAP_PX_PER_MM <= _SIDESTEP_MM + _SLOPE * between_mm


def _inside(ink: np.ndarray, ends: _Ends, first: bool, last: bool) -> tuple[bool, bool]:
    """Whether the line that leaves the patch at ``ends`` is seen inside the box, and whether it is alone there."""
    start = ends.bottom if first or ends.top is None else ends.top
    stop = ends.top if last or ends.bottom is None else ends.bottom
    if start is None or stop is None:
        return False, False
    inner = round((MARGIN_MM + _INSET_MM) * MAP_PX_PER_MM)
    rows = np.arange(inner, MAP_SIDE - inner)
    expected = start + (stop - start) * rows / (MAP_SIDE - 1)
    columns = np.arange(MAP_SIDE)
    near = np.abs(columns[None, :] - expected[:, None]) <= _OFF_LINE_MM * MAP_PX_PER_MM
    near[:, :inner] = near[:, -inner:] = False
    seen = (ink[inner:-inner] & near).any(axis=1).mean()
    rest = ink[inner:-inner, inner:-inner] & ~near[:, inner:-inner]
    alone = rest.sum() / MAP_PX_PER_MM**2 <= _OTHER_INK_MM2
    return bool(seen >= (_ENDING if first or last else _PASSING)), bool(alone)
