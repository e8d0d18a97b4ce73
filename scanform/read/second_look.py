"""A second look at a group of boxes: what plain ink, and the sheet's other marks, have against the network's view."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from scanform.read.columns import LineDown
from scanform.read.ink_check import runs_in
from scanform.read.taken_back import plainly_taken_back

__all__ = ["BoxInk", "Hand", "answer_name", "is_single", "plain_change", "second_look"]

# Second opinion on the network, by area of ink alone. On the "tuning" pages of scanform.training.mark_pages one mark in
# 1,000 has less than 0.69 mm2 about its box in the office grade, 0.81 bitonal, 0.64 phone, 0.39 worn; one empty box in
# 1,000 has more inside than 0.37 mm2 office, 0.44 bitonal, 0.87 phone, 1.0 worn. A dot of 1 mm has 0.8.
_LEAST_MARK_MM2 = 0.5
_MOST_EMPTY_MM2 = 0.9
# A soft pencil that leaves less is still a mark if one stroke of it can be followed this far, pale as it is.
_PALE_STROKE_MM = 2.5
_LEAST_END_MM2 = 0.3  # the end of a mark that is worth a note in the box next to it
_EMPTY_RUN_INTO = 0.9  # least probability of a box to be empty, but for the end of the mark next to it
_SURE = 0.99
# Groups mostly have one mark, and that weighs heavily: dirt that is as likely dirt as a mark becomes the answer where
# nobody gave one. So a lone mark, and the boxes beside it, must be clear by themselves, each state equally likely.
_CLEAR_MARK, _CLEAR_EMPTY = 0.8, 0.65
# One mark beside the sheet's others, which are by the same hand. With spans of 0.5 to 1.8 and 0.4 to 1.3 instead, 4
# fewer of 10,906 answers on 420 office pages (seeds from 6,600,000) are accepted; on 650 pages of second thoughts (from
# 6,500,000) one fewer of 3,250 boxes with nothing but dirt, and none of 3,900 struck out with nothing in their place.
_ALIKE_EXTENT, _ALIKE_AREA, _CLEAR_IF_USUAL = (0.45, 1.8), (0.35, 1.5), 0.5
_SMALL_MM, _SMALL_SHARE = 1.5, 0.5
_HEAVY_TIMES, _HEAVY_STRUCK = 2.5, 0.005

_NAMES = {"ok": "OK", "defect": "Defect", "na": "N/A", "not-needed": "repair not needed"}


class Hand(NamedTuple):
    """How the marks of one sheet usually are: median extent in mm and median area in mm2."""

    extent_mm: float
    about_mm2: float


class BoxInk(NamedTuple):
    """One box.

    ``states``: the network's probabilities of it by itself, as :data:`scanform.read.boxes.BOX_STATES`; ``map``:
    float32 (32, 32), as :func:`scanform.read.boxes.box_maps` makes it; ``inside_mm2``, ``about_mm2``: ink within its
    border, and that with the ink round it; ``extent_mm``: of the mark, if it is taken for one, else 0; ``line``:
    the line down the column that reaches it.
    """

    states: Sequence[float]
    map: np.ndarray
    inside_mm2: float
    about_mm2: float
    extent_mm: float
    line: LineDown | None


def answer_name(answer: str) -> str:
    """An answer as a person reads it."""
    return _NAMES.get(answer, answer)


def is_single(way: Sequence[int]) -> bool:
    """Whether one box is marked and none struck out; ``way``: the boxes' states, index in ``BOX_STATES``."""
    return way.count(1) == 1 and 2 not in way


def second_look(
    answers: Sequence[str], way: Sequence[int], boxes: Sequence[BoxInk], hand: Hand | None
) -> tuple[list[str], list[str]]:
    """What speaks against the network's view of a group, and what is worth a note.

    ``way``: the boxes' likeliest states, index in ``BOX_STATES``; ``hand``: None if the sheet has few marks.
    """
    against: list[str] = []
    notes: list[str] = []
    for n, (state, box) in enumerate(zip(way, boxes, strict=True)):
        name = answer_name(answers[n])
        if state == 0 and box.states[0] < _CLEAR_EMPTY and 1 in way:
            against.append(f"there may be a mark in the box {name} too")
        elif state == 0 and box.inside_mm2 > _LEAST_END_MM2:
            beside = next((k for k in (n - 1, n + 1) if 0 <= k < len(way) and way[k] == 1), None)
            if beside is not None and box.states[0] > _EMPTY_RUN_INTO and runs_in(box.map, from_left=beside < n):
                notes.append(f"the mark at {answer_name(answers[beside])} runs into the box {name}")
            elif box.inside_mm2 > _MOST_EMPTY_MM2:
                against.append(f"there is ink in the box {name} that may be a mark")
        if state == 1:
            against += _against_mark(name, box, hand if is_single(way) else None)
        if box.line is not None:
            _line_down(name, way, state, box, box.line, against, notes)
    return against, notes


def plain_change(way: Sequence[int], boxes: Sequence[BoxInk], hand: Hand | None) -> bool:
    """Whether one answer is plainly struck out and another plainly given, by a hand whose marks are known."""
    if hand is None or 1 not in way or 2 not in way or any(box.line for box in boxes):
        return False
    stands = boxes[way.index(1)]
    return plainly_taken_back(
        np.array(way),
        np.array([box.states for box in boxes]),
        np.array([box.inside_mm2 for box in boxes]),
        stands.extent_mm / hand.extent_mm,
        stands.about_mm2 / hand.about_mm2,
    )


def _against_mark(name: str, box: BoxInk, hand: Hand | None) -> list[str]:
    usual = hand is not None and _alike(box.extent_mm / hand.extent_mm, box.about_mm2 / hand.about_mm2)
    if box.states[1] < (_CLEAR_IF_USUAL if usual else _CLEAR_MARK):
        perhaps = "one taken back" if box.states[2] > box.states[0] else "dirt"
        return [f"the mark at {name} is not clear and may be {perhaps}"]
    if box.about_mm2 < _LEAST_MARK_MM2 and box.extent_mm < _PALE_STROKE_MM:
        return [f"the mark at {name} is faint"]
    if hand is None:
        return []
    if box.extent_mm < min(_SMALL_MM, _SMALL_SHARE * hand.extent_mm):
        return [f"the mark at {name} is much smaller than the sheet's others and may be dirt"]
    if box.about_mm2 > _HEAVY_TIMES * hand.about_mm2 and box.states[2] > _HEAVY_STRUCK:
        return [f"the mark at {name} is much heavier than the sheet's others and may be one taken back"]
    return []


def _alike(extent: float, about: float) -> bool:
    """Whether a mark is like the sheet's others, from its shares of their extent and area."""
    return _ALIKE_EXTENT[0] < extent < _ALIKE_EXTENT[1] and _ALIKE_AREA[0] < about < _ALIKE_AREA[1]


def _line_down(
    name: str, way: Sequence[int], state: int, box: BoxInk, line: LineDown, against: list[str], notes: list[str]
) -> None:
    """What a line down the column makes of a box. Streaks of a dirty feeder look like one and answer nothing."""
    if not line.alone:
        return
    drawn = f"a line is drawn down {line.boxes} boxes and"
    if state == 1 and line.passes:
        notes.append(f"one line is drawn down {line.boxes} boxes and passes {name}")
    elif state == 1 and box.states[1] < _SURE:
        against.append(f"{drawn} does not visibly pass {name}")
    elif state == 0 and (not any(way) or box.states[0] < _CLEAR_EMPTY):
        against.append(f"{drawn} {'passes' if line.passes else 'does not visibly pass'} {name}")
