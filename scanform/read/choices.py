"""Read choices and decisions: groups of tick boxes of which exactly one should be marked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from scanform.form import Field
from scanform.locate import LocatedSheet
from scanform.read.boxes import (
    MARGIN_MM,
    NO_MARK,
    NO_MARK_OPTIONAL,
    PX_PER_MM,
    MarkNet,
    box_ink_mm2,
    box_maps,
    group_posterior,
    ink_about_mm2,
    ink_pictures,
)
from scanform.read.columns import LineDown, lines_down
from scanform.read.ink_check import mark_extent_mm, runs_in
from scanform.read.taken_back import plainly_taken_back
from scanform.read.types import Alternative, Reading

__all__ = ["Group", "Hand", "Weighed", "hand_of", "read_choices", "weighed_groups"]

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
# One mark beside the sheet's others, which are by the same hand.
_FEWEST_MARKS = 7
_ALIKE_EXTENT, _ALIKE_AREA, _CLEAR_IF_USUAL = (0.5, 1.8), (0.4, 1.3), 0.5
_SMALL_MM, _SMALL_SHARE = 1.5, 0.5
_HEAVY_TIMES, _HEAVY_STRUCK = 2.5, 0.005


class Hand(NamedTuple):
    """How the marks of one sheet usually are: median extent in mm and median area in mm2."""

    extent_mm: float
    about_mm2: float


class Group(NamedTuple):
    """The answers of one group of boxes, in their order, and how often such a group is left empty."""

    answers: tuple[str, ...]
    no_mark: float


class Weighed(NamedTuple):
    """What a group of boxes answers.

    ``probabilities``: of each answer and of None; they sum to at most 1: the rest is "no single answer". ``evidence``:
    what speaks for a doubt; ``notes``: what a person may want to know though it is no doubt. ``taken_back``: the answer
    that is plainly struck out, if another one plainly stands.
    """

    probabilities: dict[str | None, float]
    evidence: tuple[str, ...]
    notes: tuple[str, ...]
    taken_back: str | None = None


def read_choices(sheet: LocatedSheet, fields: Sequence[Field], net: MarkNet) -> list[Reading]:
    """One Reading a field, in order. Values are answers; None is "no box marked"."""
    boxes = [answer.box_mm for field in fields for answer in field.answers]
    if not boxes:
        return []
    maps = box_maps(sheet.patches(boxes, MARGIN_MM, PX_PER_MM), sheet)
    groups = [
        Group(tuple(a.answer for a in f.answers), NO_MARK_OPTIONAL if f.id.endswith(".repair") else NO_MARK)
        for f in fields
    ]
    states = net.probabilities(maps)
    weighed = weighed_groups(groups, states, maps, lines_down(boxes, maps), hand_of(groups, states, maps))
    readings, start = [], 0
    for field, found in zip(fields, weighed, strict=True):
        end = start + len(field.answers)
        readings.append(_reading(sheet, field, found, maps[start:end]))
        start = end
    return readings


def _reading(sheet: LocatedSheet, field: Field, found: Weighed, maps: np.ndarray) -> Reading:
    ranked = sorted(found.probabilities.items(), key=lambda pair: -pair[1])
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=tuple(Alternative(value, probability) for value, probability in ranked),
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=float(box_ink_mm2(maps).sum()),
        evidence=found.evidence,
        notes=found.notes,
        taken_back=found.taken_back,
        ink_picture=ink_pictures(maps),
    )


def weighed_groups(
    groups: Sequence[Group],
    states: np.ndarray,
    maps: np.ndarray,
    lines: Sequence[LineDown | None],
    hand: Hand | None,
) -> list[Weighed]:
    """What each group of one sheet's boxes answers, and what speaks for a doubt.

    ``states``: float (boxes, 3), each box by itself, as :meth:`MarkNet.probabilities` gives it; ``maps``: float32
    (boxes, 32, 32), as :func:`box_maps` makes them; ``lines``: as :func:`lines_down` finds them; all in the groups'
    order. ``hand``: as :func:`hand_of` finds it.
    """
    inside, about = box_ink_mm2(maps), ink_about_mm2(maps)
    found = []
    weighed = _posteriors(groups, states)
    for group, part, (configurations, posterior) in zip(groups, _parts(groups), weighed, strict=True):
        way = configurations[posterior.argmax()]
        box_inks = [
            _BoxInk(states[n], maps[n], float(inside[n]), float(about[n]), lines[n])
            for n in range(part.start, part.stop)
        ]
        against, notes = _second_look(group.answers, way, box_inks, hand)
        probabilities = _probabilities(group.answers, configurations, posterior, way)
        if not against and _plain_change(way, box_inks, hand):
            taken_back = group.answers[int((way == 2).argmax())]
            notes = [*notes, f"the answer {_name(taken_back)} was struck out"]
            found.append(Weighed(probabilities, (), tuple(notes), taken_back))
        else:
            found.append(Weighed(probabilities, (*_evidence(group.answers, way), *against), tuple(notes)))
    return found


def hand_of(groups: Sequence[Group], states: np.ndarray, maps: np.ndarray) -> Hand | None:
    """How the marks of one sheet usually are, from those that stand alone in their group; None if they are few.

    ``states``, ``maps``: as for :func:`weighed_groups`.
    """
    ways = [configurations[posterior.argmax()] for configurations, posterior in _posteriors(groups, states)]
    single = [part.start + int(way.argmax()) for part, way in zip(_parts(groups), ways, strict=True) if _is_single(way)]
    if len(single) < _FEWEST_MARKS:
        return None
    extents = [mark_extent_mm(box_map) for box_map in maps[single]]
    # An extent of 0 is a sheet whose ink nothing but the network sees.
    return Hand(max(float(np.median(extents)), 0.1), max(float(np.median(ink_about_mm2(maps[single]))), 0.1))


def _parts(groups: Sequence[Group]) -> list[slice]:
    ends = np.cumsum([len(group.answers) for group in groups]).tolist()
    return [slice(end - len(group.answers), end) for group, end in zip(groups, ends, strict=True)]


def _posteriors(groups: Sequence[Group], states: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """For each group its configurations and their probabilities; groups of one kind are weighed together."""
    kinds: dict[tuple[int, float], list[int]] = {}
    for n, group in enumerate(groups):
        kinds.setdefault((len(group.answers), group.no_mark), []).append(n)
    parts = _parts(groups)
    found: dict[int, tuple[np.ndarray, np.ndarray]] = {}
    for (_, no_mark), members in kinds.items():
        configurations, posteriors = group_posterior(np.stack([states[parts[n]] for n in members]), no_mark)
        found.update((n, (configurations, row)) for n, row in zip(members, posteriors, strict=True))
    return [found[n] for n in range(len(groups))]


def _is_single(way: np.ndarray) -> bool:
    return bool((way == 1).sum() == 1 and not (way == 2).any())


def _probabilities(
    answers: Sequence[str], configurations: np.ndarray, posterior: np.ndarray, way: np.ndarray
) -> dict[str | None, float]:
    marked, struck = configurations == 1, configurations == 2
    one, clean = marked.sum(axis=1) == 1, ~struck.any(axis=1)
    by_answer = (posterior * (one & clean)) @ marked
    if (way == 1).sum() == 1 and (way == 2).any():
        # A change of mind: what stands is the other answer, but a person should see it.
        stands = int((way == 1).argmax())
        by_answer[stands] = (posterior * one) @ marked[:, stands]
    probabilities: dict[str | None, float] = dict(zip(answers, by_answer.tolist(), strict=True))
    probabilities[None] = float(posterior[~marked.any(axis=1) & clean].sum())
    return probabilities


_NAMES = {"ok": "OK", "defect": "Defect", "na": "N/A", "not-needed": "repair not needed"}


def _name(answer: str) -> str:
    return _NAMES.get(answer, answer)


def _evidence(answers: Sequence[str], way: np.ndarray) -> list[str]:
    marked = [_name(answer) for answer, state in zip(answers, way, strict=True) if state == 1]
    struck = [_name(answer) for answer, state in zip(answers, way, strict=True) if state == 2]
    found = []
    if len(marked) > 1:
        found.append(f"{' and '.join(marked)} are both marked")
    if struck and marked:
        found.append(f"{' and '.join(struck)} is struck out and {marked[0]} marked instead")
    elif struck:
        found.append(f"{' and '.join(struck)} is struck out and nothing else marked")
    return found


class _BoxInk(NamedTuple):
    """One box: the network's states, its map, ink inside and about it in mm2, the line through it."""

    states: np.ndarray
    map: np.ndarray
    inside_mm2: float
    about_mm2: float
    line: LineDown | None


def _second_look(
    answers: Sequence[str], way: np.ndarray, boxes: Sequence[_BoxInk], hand: Hand | None
) -> tuple[list[str], list[str]]:
    """What speaks against the network's view of a group, and what is worth a note."""
    against: list[str] = []
    notes: list[str] = []
    for n, (answer, state, box) in enumerate(zip(answers, way, boxes, strict=True)):
        name = _name(answer)
        if state == 0 and box.states[0] < _CLEAR_EMPTY and (way == 1).any():
            against.append(f"there may be a mark in the box {name} too")
        elif state == 0 and box.inside_mm2 > _LEAST_END_MM2:
            beside = next((k for k in (n - 1, n + 1) if 0 <= k < len(way) and way[k] == 1), None)
            if beside is not None and box.states[0] > _EMPTY_RUN_INTO and runs_in(box.map, from_left=beside < n):
                notes.append(f"the mark at {_name(answers[beside])} runs into the box {name}")
            elif box.inside_mm2 > _MOST_EMPTY_MM2:
                against.append(f"there is ink in the box {name} that may be a mark")
        if state == 1:
            against += _against_mark(name, box, hand if _is_single(way) else None)
        _line_down(name, way, n, box, against, notes)
    return against, notes


def _plain_change(way: np.ndarray, boxes: Sequence[_BoxInk], hand: Hand | None) -> bool:
    """Whether one answer is plainly struck out and another plainly given, by a hand whose marks are known."""
    if hand is None or not (way == 2).any() or not (way == 1).any() or any(box.line for box in boxes):
        return False
    stands = boxes[int((way == 1).argmax())]
    return plainly_taken_back(
        way,
        np.array([box.states for box in boxes]),
        np.array([box.inside_mm2 for box in boxes]),
        mark_extent_mm(stands.map) / hand.extent_mm,
        stands.about_mm2 / hand.about_mm2,
    )


def _against_mark(name: str, box: _BoxInk, hand: Hand | None) -> list[str]:
    extent_mm = mark_extent_mm(box.map)
    usual = hand is not None and _alike(extent_mm / hand.extent_mm, box.about_mm2 / hand.about_mm2)
    if box.states[1] < (_CLEAR_IF_USUAL if usual else _CLEAR_MARK):
        perhaps = "one taken back" if box.states[2] > box.states[0] else "dirt"
        return [f"the mark at {name} is not clear and may be {perhaps}"]
    if box.about_mm2 < _LEAST_MARK_MM2 and extent_mm < _PALE_STROKE_MM:
        return [f"the mark at {name} is faint"]
    if hand is None:
        return []
    if extent_mm < min(_SMALL_MM, _SMALL_SHARE * hand.extent_mm):
        return [f"the mark at {name} is much smaller than the sheet's others and may be dirt"]
    if box.about_mm2 > _HEAVY_TIMES * hand.about_mm2 and box.states[2] > _HEAVY_STRUCK:
        return [f"the mark at {name} is much heavier than the sheet's others and may be one taken back"]
    return []


def _alike(extent: float, about: float) -> bool:
    """Whether a mark is like the sheet's others, from its shares of their extent and area."""
    return _ALIKE_EXTENT[0] < extent < _ALIKE_EXTENT[1] and _ALIKE_AREA[0] < about < _ALIKE_AREA[1]


def _line_down(name: str, way: np.ndarray, n: int, box: _BoxInk, against: list[str], notes: list[str]) -> None:
    """What a line down the column makes of box ``n``. Streaks of a dirty feeder look like one and answer nothing."""
    line = box.line
    if line is None or not line.alone:
        return
    drawn = f"a line is drawn down {line.boxes} boxes and"
    if way[n] == 1 and line.passes:
        notes.append(f"one line is drawn down {line.boxes} boxes and passes {name}")
    elif way[n] == 1 and box.states[1] < _SURE:
        against.append(f"{drawn} does not visibly pass {name}")
    elif way[n] == 0 and (not way.any() or box.states[0] < _CLEAR_EMPTY):
        against.append(f"{drawn} {'passes' if line.passes else 'does not visibly pass'} {name}")
