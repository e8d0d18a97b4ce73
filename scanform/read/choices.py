"""Read choices and decisions: groups of tick boxes of which exactly one should be marked."""

from __future__ import annotations

from collections.abc import Sequence

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
from scanform.read.types import Alternative, Reading

__all__ = ["read_choices", "weighed_answers"]

# Second opinion on the network, by area of ink alone. On the "tuning" pages of scanform.training.mark_pages one mark in
# 1,000 has less than 0.69 mm2 about its box in the office grade, 0.81 bitonal, 0.64 phone, 0.39 worn; one empty box in
# 1,000 has more inside than 0.37 mm2 office, 0.44 bitonal, 0.87 phone, 1.0 worn. A dot of 1 mm has 0.8.
_LEAST_MARK_MM2 = 0.5
_MOST_EMPTY_MM2 = 0.9


def read_choices(sheet: LocatedSheet, fields: Sequence[Field], net: MarkNet) -> list[Reading]:
    """One Reading a field, in order. Values are answers; None is "no box marked"."""
    boxes = [answer.box_mm for field in fields for answer in field.answers]
    if not boxes:
        return []
    maps = box_maps(sheet.patches(boxes, MARGIN_MM, PX_PER_MM), sheet)
    states = net.probabilities(maps)
    readings, start = [], 0
    for field in fields:
        end = start + len(field.answers)
        readings.append(_reading(sheet, field, states[start:end], maps[start:end]))
        start = end
    return readings


def _reading(sheet: LocatedSheet, field: Field, states: np.ndarray, maps: np.ndarray) -> Reading:
    no_mark = NO_MARK_OPTIONAL if field.id.endswith(".repair") else NO_MARK
    probabilities, evidence = weighed_answers([answer.answer for answer in field.answers], states, maps, no_mark)
    ranked = sorted(probabilities.items(), key=lambda pair: -pair[1])
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=tuple(Alternative(value, probability) for value, probability in ranked),
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=float(box_ink_mm2(maps).sum()),
        evidence=tuple(evidence),
        ink_picture=ink_pictures(maps),
    )


def weighed_answers(
    answers: Sequence[str], states: np.ndarray, maps: np.ndarray, no_mark: float = NO_MARK
) -> tuple[dict[str | None, float], list[str]]:
    """What a group of boxes answers: probability of each of ``answers`` and of None, and what speaks for a doubt.

    ``states``: float (boxes, 3), each box by itself, as :meth:`MarkNet.probabilities` gives it; ``maps``: float32
    (boxes, 32, 32), as :func:`box_maps` makes them; ``no_mark``: how often such a group is left empty. The
    probabilities sum to at most 1: the rest is "no single answer".
    """
    configurations, posterior = group_posterior(states, no_mark)
    marked, struck = configurations == 1, configurations == 2
    single = (marked.sum(axis=1) == 1) & ~struck.any(axis=1)
    probabilities: dict[str | None, float] = {}
    for n, answer in enumerate(answers):
        probabilities[answer] = float(posterior[single & marked[:, n]].sum())
    probabilities[None] = float(posterior[~marked.any(axis=1) & ~struck.any(axis=1)].sum())
    best = configurations[int(posterior.argmax())]
    chosen = np.flatnonzero(best == 1)
    if len(chosen) == 1 and (best == 2).any():
        # A change of mind: what stands is the other answer, but a person should see it.
        changed = (marked.sum(axis=1) == 1) & marked[:, chosen[0]] & struck.any(axis=1)
        probabilities[answers[int(chosen[0])]] += float(posterior[changed].sum())
    return probabilities, [*_evidence(answers, best), *_ink_against(answers, best, maps)]


_NAMES = {"ok": "OK", "defect": "Defect", "na": "N/A", "not-needed": "repair not needed"}


def _name(answer: str) -> str:
    return _NAMES.get(answer, answer)


def _evidence(answers: Sequence[str], states: np.ndarray) -> list[str]:
    marked = [_name(answer) for answer, state in zip(answers, states, strict=True) if state == 1]
    struck = [_name(answer) for answer, state in zip(answers, states, strict=True) if state == 2]
    found = []
    if len(marked) > 1:
        found.append(f"{' and '.join(marked)} are both marked")
    if struck and marked:
        found.append(f"{' and '.join(struck)} is struck out and {marked[0]} marked instead")
    elif struck:
        found.append(f"{' and '.join(struck)} is struck out and nothing else marked")
    return found


def _ink_against(answers: Sequence[str], states: np.ndarray, maps: np.ndarray) -> list[str]:
    """Where the plain amount of ink speaks against the network's view of a box."""
    found = []
    for answer, state, inside, about in zip(answers, states, box_ink_mm2(maps), ink_about_mm2(maps), strict=True):
        if state == 0 and inside > _MOST_EMPTY_MM2:
            found.append(f"there is ink in the box {_name(answer)} that may be a mark")
        if state == 1 and about < _LEAST_MARK_MM2:
            found.append(f"the mark at {_name(answer)} is faint")
    return found
