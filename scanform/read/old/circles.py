"""Read an answer that is given by ringing one of several printed words, ticking it, or striking the others.

Each word's own ink is put into figures (:mod:`scanform.read.old.ring_features`), from which a small network says what
was done to it: nothing, marked, or struck out. Exactly one marked word beside untouched ones is an answer, and so is
the only word that is left when all others are struck; everything else is a doubt.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from importlib import resources
from itertools import product
from typing import NamedTuple

import numpy as np

from scanform.form import Box, Field
from scanform.locate import LocatedSheet
from scanform.read.networks import softmax
from scanform.read.old.own_ink import own_ink
from scanform.read.old.ring_features import word_features
from scanform.read.types import Reading, likeliest_first

__all__ = ["WORD_STATES", "RingWeights", "field_features", "read_circles", "word_states"]

WORD_STATES = ("none", "marked", "struck")
ROOM_MM = 3.0  # a ring lies within this of its word
# How often words are left in a way that is no answer, against one that is: in the training of each word by itself such
# ways are several times as many as on crews' paper. No outside source.
_NO_SINGLE_ANSWER = 0.25


class RingWeights(NamedTuple):
    """Of a network with one hidden layer: float64 (features,) mean and scale of the figures, and the two layers."""

    mean: np.ndarray
    scale: np.ndarray
    hidden: np.ndarray
    hidden_bias: np.ndarray
    out: np.ndarray
    out_bias: np.ndarray


@lru_cache(maxsize=1)
def _weights() -> RingWeights:
    data = json.loads((resources.files("scanform.read.old") / "rings.json").read_text())
    return RingWeights(*(np.array(data[name]) for name in RingWeights._fields))


def word_states(features: np.ndarray, weights: RingWeights) -> np.ndarray:
    """Probabilities float64 (n, 3), columns as :data:`WORD_STATES`, for float (n, features) figures of words."""
    hidden = np.tanh(((features - weights.mean) / weights.scale) @ weights.hidden + weights.hidden_bias)
    return softmax(hidden @ weights.out + weights.out_bias)


def read_circles(sheet: LocatedSheet, fields: Sequence[Field]) -> list[Reading]:
    """One Reading a field, in order. Values are answers; None is "nothing done to any word"."""
    return [_read(sheet, field) for field in fields]


def field_features(sheet: LocatedSheet, field: Field) -> tuple[np.ndarray, float]:
    """The figures of each of a field's words, float64 (words, features), and the area of all ink about them in mm2."""
    ink = own_ink(sheet, field.box_mm.grown(ROOM_MM))
    boxes: list[Box] = [answer.box_mm for answer in field.answers]
    rows = [word_features(ink, box, [other for other in boxes if other is not box]) for box in boxes]
    return np.array(rows), ink.mm2


def _read(sheet: LocatedSheet, field: Field) -> Reading:
    features, ink_mm2 = field_features(sheet, field)
    states = word_states(features, _weights())
    answers = [answer.answer for answer in field.answers]
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=likeliest_first(_answers(answers, states)),
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=ink_mm2,
        evidence=tuple(_evidence(answers, states)),
    )


def _answers(answers: Sequence[str], states: np.ndarray) -> dict[str | None, float]:
    """Probability of each answer and of None; what is left is that of no single answer."""
    found: dict[str | None, float] = dict.fromkeys([*answers, None], 0.0)
    total = 0.0
    for way in product(range(len(WORD_STATES)), repeat=len(answers)):
        value, clear = _meaning([WORD_STATES[state] for state in way], answers)
        weight = float(np.prod(states[np.arange(len(answers)), way])) * (1.0 if clear else _NO_SINGLE_ANSWER)
        total += weight
        if clear:
            found[value] += weight
    return {value: weight / total for value, weight in found.items()}


def _meaning(done: Sequence[str], answers: Sequence[str]) -> tuple[str | None, bool]:
    """What the words say, and whether they say it without a doubt."""
    marked = [answer for answer, state in zip(answers, done, strict=True) if state == "marked"]
    left = [answer for answer, state in zip(answers, done, strict=True) if state == "none"]
    if len(left) == len(done):
        return None, True
    if len(marked) == 1 and len(left) == len(done) - 1:
        return marked[0], True
    if not marked and len(left) == 1:
        return left[0], True
    return None, False


def _evidence(answers: Sequence[str], states: np.ndarray) -> list[str]:
    """Why the words give no single answer, in words; nothing if they do."""
    done = [WORD_STATES[state] for state in states.argmax(axis=1)]
    if _meaning(done, answers)[1]:
        return []
    marked = [answer for answer, state in zip(answers, done, strict=True) if state == "marked"]
    struck = [answer for answer, state in zip(answers, done, strict=True) if state == "struck"]
    found = []
    if len(marked) > 1:
        found.append(f"{' and '.join(marked)} are both marked" if len(marked) == 2 else "several words are marked")
    if struck and len(struck) == len(answers):
        found.append("all words are struck out")
    elif struck:
        found.append(f"{' and '.join(struck)} struck out" + (f", {' and '.join(marked)} marked" if marked else ""))
    return found
