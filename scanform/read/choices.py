"""Read choices and decisions: groups of tick boxes of which exactly one should be marked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scanform.form import Field
from scanform.locate import LocatedSheet
from scanform.read.boxes import MARGIN_MM, PX_PER_MM, MarkNet, box_ink_mm2, box_maps, group_posterior
from scanform.read.types import Alternative, Reading

__all__ = ["read_choices"]

# Second opinion on the network, by area of ink alone. A 0.25 mm pen's 3 mm stroke is 0.75 mm2; dust is below 0.2.
_LEAST_MARK_MM2 = 0.35
_MOST_EMPTY_MM2 = 0.9


def read_choices(sheet: LocatedSheet, fields: Sequence[Field], net: MarkNet) -> list[Reading]:
    """One Reading a field, in order. Values are answers; None is "no box marked"."""
    boxes = [answer.box_mm for field in fields for answer in field.answers]
    if not boxes:
        return []
    maps = box_maps(sheet.patches(boxes, MARGIN_MM, PX_PER_MM), sheet)
    states, ink = net.probabilities(maps), box_ink_mm2(maps)
    readings, start = [], 0
    for field in fields:
        end = start + len(field.answers)
        readings.append(_reading(sheet, field, states[start:end], ink[start:end]))
        start = end
    return readings


def _reading(sheet: LocatedSheet, field: Field, states: np.ndarray, ink: np.ndarray) -> Reading:
    configurations, posterior = group_posterior(states)
    marked, struck = configurations == 1, configurations == 2
    single = (marked.sum(axis=1) == 1) & ~struck.any(axis=1)
    probabilities: dict[str | None, float] = {}
    for n, answer in enumerate(field.answers):
        probabilities[answer.answer] = float(posterior[single & marked[:, n]].sum())
    probabilities[None] = float(posterior[~marked.any(axis=1) & ~struck.any(axis=1)].sum())
    best = configurations[int(posterior.argmax())]
    evidence = list(_evidence(field, best))
    chosen = np.flatnonzero(best == 1)
    if len(chosen) == 1 and (best == 2).any():
        # A change of mind: what stands is the other answer, but a person should see it.
        changed = float(posterior[(marked.sum(axis=1) == 1) & marked[:, chosen[0]] & struck.any(axis=1)].sum())
        answer_now = field.answers[int(chosen[0])].answer
        probabilities[answer_now] = probabilities.get(answer_now, 0.0) + changed
    evidence += _ink_against(field, best, ink)
    ranked = sorted(probabilities.items(), key=lambda pair: -pair[1])
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=tuple(Alternative(value, probability) for value, probability in ranked),
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=float(ink.sum()),
        evidence=tuple(evidence),
    )


_NAMES = {"ok": "OK", "defect": "Defect", "na": "N/A", "not-needed": "repair not needed"}


def _name(answer: str) -> str:
    return _NAMES.get(answer, answer)


def _evidence(field: Field, states: np.ndarray) -> list[str]:
    marked = [_name(a.answer) for a, state in zip(field.answers, states, strict=True) if state == 1]
    struck = [_name(a.answer) for a, state in zip(field.answers, states, strict=True) if state == 2]
    found = []
    if len(marked) > 1:
        found.append(f"{' and '.join(marked)} are both marked")
    if struck and marked:
        found.append(f"{' and '.join(struck)} is struck out and {marked[0]} marked instead")
    elif struck:
        found.append(f"{' and '.join(struck)} is struck out and nothing else marked")
    return found


def _ink_against(field: Field, states: np.ndarray, ink: np.ndarray) -> list[str]:
    """Where the plain amount of ink speaks against the network's view of a box."""
    found = []
    for answer, state, mm2 in zip(field.answers, states, ink, strict=True):
        if state == 0 and mm2 > _MOST_EMPTY_MM2:
            found.append(f"there is ink in the box {_name(answer.answer)} that may be a mark")
        if state == 1 and mm2 < _LEAST_MARK_MM2:
            found.append(f"the mark at {_name(answer.answer)} is faint or beside its box")
    return found
