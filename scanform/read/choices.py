"""Read choices and decisions: groups of tick boxes of which exactly one should be marked."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
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
from scanform.read.ink_check import mark_extents_mm
from scanform.read.second_look import BoxInk, Hand, answer_name, is_single, plain_change, second_look
from scanform.read.types import Reading, likeliest_first

__all__ = ["Group", "Weighed", "read_choices", "weighed_groups"]

_FEWEST_MARKS = 7  # of a sheet whose hand is known


class Group(NamedTuple):
    """The answers of one group of boxes, in their order, and how often such a group is left empty."""

    answers: tuple[str, ...]
    no_mark: float


class Weighed(NamedTuple):
    """What a group of boxes answers.

    ``probabilities``: of each answer and of None; they sum to at most 1: the rest is "no single answer". ``evidence``:
    what speaks for a doubt; ``notes``: what a person may want to know though it is no doubt. ``taken_back``: the answer
    that is plainly struck out, if another one plainly stands. ``ink_mm2``: inside all its boxes.
    """

    probabilities: dict[str | None, float]
    evidence: tuple[str, ...]
    notes: tuple[str, ...]
    taken_back: str | None
    ink_mm2: float


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
    weighed = weighed_groups(groups, net.probabilities(maps), maps, lines_down(boxes, maps))
    pictures = ink_pictures(maps)
    return [
        _reading(sheet, field, found, pictures[part])
        for field, found, part in zip(fields, weighed, _parts(groups), strict=True)
    ]


def _reading(sheet: LocatedSheet, field: Field, found: Weighed, picture: np.ndarray) -> Reading:
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=likeliest_first(found.probabilities),
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=found.ink_mm2,
        evidence=found.evidence,
        notes=found.notes,
        taken_back=found.taken_back,
        ink_picture=picture,
    )


def weighed_groups(
    groups: Sequence[Group], states: np.ndarray, maps: np.ndarray, lines: Sequence[LineDown | None]
) -> list[Weighed]:
    """What each group of one sheet's boxes answers, and what speaks for a doubt.

    ``states``: float (boxes, 3), each box by itself, as :meth:`MarkNet.probabilities` gives it; ``maps``: float32
    (boxes, 32, 32), as :func:`box_maps` makes them; ``lines``: as :func:`lines_down` finds them; all in the groups'
    order.
    """
    parts = _parts(groups)
    ways, probabilities = _weighed(groups, states)
    about = ink_about_mm2(maps)
    extents = np.zeros(len(maps))
    marked = np.flatnonzero(np.concatenate(ways) == 1)
    extents[marked] = mark_extents_mm(maps[marked])
    hand = _hand(ways, parts, extents, about)
    rows = zip(states.tolist(), maps, box_ink_mm2(maps).tolist(), about.tolist(), extents.tolist(), lines, strict=True)
    boxes = [BoxInk(*row) for row in rows]
    return [
        _answered(group.answers, way.tolist(), boxes[part], own, hand)
        for group, way, part, own in zip(groups, ways, parts, probabilities, strict=True)
    ]


def _answered(
    answers: tuple[str, ...], way: list[int], boxes: list[BoxInk], probabilities: list[float], hand: Hand | None
) -> Weighed:
    """``probabilities``: of each answer, and last of none."""
    against, notes = second_look(answers, way, boxes, hand)
    by_answer = dict(zip((*answers, None), probabilities, strict=True))
    ink_mm2 = sum(box.inside_mm2 for box in boxes)
    if not against and plain_change(way, boxes, hand):
        taken_back = answers[way.index(2)]
        notes.append(f"the answer {answer_name(taken_back)} was struck out")
        return Weighed(by_answer, (), tuple(notes), taken_back, ink_mm2)
    return Weighed(by_answer, (*_evidence(answers, way), *against), tuple(notes), None, ink_mm2)


def _hand(ways: Sequence[np.ndarray], parts: Sequence[slice], extents: np.ndarray, about: np.ndarray) -> Hand | None:
    """How the marks of one sheet usually are, from those that stand alone in their group; None if they are few."""
    single = [part.start + int(way.argmax()) for part, way in zip(parts, ways, strict=True) if is_single(way.tolist())]
    if len(single) < _FEWEST_MARKS:
        return None
    # An extent of 0 is a sheet whose ink nothing but the network sees.
    return Hand(max(float(np.median(extents[single])), 0.1), max(float(np.median(about[single])), 0.1))


def _parts(groups: Sequence[Group]) -> list[slice]:
    ends = np.cumsum([len(group.answers) for group in groups]).tolist()
    return [slice(end - len(group.answers), end) for group, end in zip(groups, ends, strict=True)]


def _weighed(groups: Sequence[Group], states: np.ndarray) -> tuple[list[np.ndarray], list[list[float]]]:
    """For each group the likeliest states of its boxes, int (boxes,), and how likely each answer is, and last none.

    Groups of one kind are weighed together.
    """
    kinds: dict[tuple[int, float], list[int]] = {}
    for n, group in enumerate(groups):
        kinds.setdefault((len(group.answers), group.no_mark), []).append(n)
    parts = _parts(groups)
    ways: dict[int, np.ndarray] = {}
    found: dict[int, list[float]] = {}
    for (boxes, no_mark), members in kinds.items():
        configurations, posteriors = group_posterior(np.stack([states[parts[n]] for n in members]), no_mark)
        clean, changed = _what_they_answer(boxes)
        likeliest = configurations[posteriors.argmax(axis=1)]
        answers = posteriors @ clean
        # A change of mind: what stands is the other answer, whatever was struck out.
        other = ((likeliest == 1).sum(axis=1) == 1) & (likeliest == 2).any(axis=1)
        for row in np.flatnonzero(other).tolist():
            stands = int((likeliest[row] == 1).argmax())
            answers[row, stands] = posteriors[row] @ changed[:, stands]
        ways |= dict(zip(members, likeliest, strict=True))
        found |= dict(zip(members, answers.tolist(), strict=True))
    return [ways[n] for n in range(len(groups))], [found[n] for n in range(len(groups))]


@lru_cache(maxsize=8)
def _what_they_answer(boxes: int) -> tuple[np.ndarray, np.ndarray]:
    """What the configurations of :func:`group_posterior` answer, as 0 and 1.

    float (k, boxes + 1): one box marked and none struck out, last no box marked and none struck out; float (k, boxes):
    one box marked, whatever is struck out.
    """
    configurations, _ = group_posterior(np.full((boxes, 3), 1 / 3))
    marked, clean = configurations == 1, ~(configurations == 2).any(axis=1)
    one = marked & (marked.sum(axis=1) == 1)[:, None]
    none = clean & ~marked.any(axis=1)
    return np.column_stack([one & clean[:, None], none]).astype(float), one.astype(float)


def _evidence(answers: Sequence[str], way: Sequence[int]) -> list[str]:
    marked = [answer_name(answer) for answer, state in zip(answers, way, strict=True) if state == 1]
    struck = [answer_name(answer) for answer, state in zip(answers, way, strict=True) if state == 2]
    found = []
    if len(marked) > 1:
        found.append(f"{' and '.join(marked)} are both marked")
    if struck and marked:
        found.append(f"{' and '.join(struck)} is struck out and {marked[0]} marked instead")
    elif struck:
        found.append(f"{' and '.join(struck)} is struck out and nothing else marked")
    return found
