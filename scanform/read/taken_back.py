"""Whether an answer taken back, and the one given instead, are plain enough to go by."""

from __future__ import annotations

import numpy as np

__all__ = ["plainly_taken_back"]

# Probabilities of single boxes, each state equally likely beforehand, and shares of how the sheet's other marks are.
# Weighed on 650 simulated pages of second thoughts in all five grades (seeds from 6,500,000): of 1,950 answers struck
# out as training had them 94 % pass, of 1,300 in shapes that no training had 53 %, all of them right; of 650 that were
# struck out with dirt in another box none passes, nor does one of 2,600 heavy marks (fills, scribbles, markers,
# blocks, ticks gone over again) with dirt beside them, nor one of 1,623 with two answers or ink in three boxes. With
# 0.9 for the empty box one of the struck-out ones with dirt would: a spray of specks that fell into two boxes.
_PLAINLY_STRUCK, _PLAINLY_MARKED, _PLAINLY_EMPTY = 0.99, 0.99, 0.98
_LEAST_EXTENT, _LEAST_AREA, _MOST_AREA = 0.5, 0.35, 2.5
_MOST_OTHER_INK_MM2 = 0.3  # inside a box that is neither


def plainly_taken_back(
    way: np.ndarray, states: np.ndarray, inside_mm2: np.ndarray, extent_share: float, area_share: float
) -> bool:
    """Whether one box of a group is plainly struck out, one other plainly marked, and the rest plainly empty.

    ``way``: int (boxes,), the likeliest state of each, index in :data:`scanform.read.boxes.BOX_STATES`; ``states``:
    float (boxes, 3), each box by itself; ``inside_mm2``: float (boxes,), ink inside the border. ``extent_share``,
    ``area_share``: the standing mark's extent and area over those that the sheet's marks usually have: a speck is no
    second answer, and what is much heavier may be struck out itself.
    """
    marked, struck = way == 1, way == 2
    if marked.sum() != 1 or struck.sum() != 1:
        return False
    rest = ~(marked | struck)
    return bool(
        states[struck, 2].min() >= _PLAINLY_STRUCK
        and states[marked, 1].min() >= _PLAINLY_MARKED
        and (states[rest, 0] >= _PLAINLY_EMPTY).all()
        and (inside_mm2[rest] <= _MOST_OTHER_INK_MM2).all()
        and extent_share >= _LEAST_EXTENT
        and _LEAST_AREA <= area_share <= _MOST_AREA
    )
