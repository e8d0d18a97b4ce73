"""From raw probabilities to calibrated ones, and the thresholds above which a field is accepted.

The numbers live in ``scanform/models/calibration.json``; ``python -m scanform.training.settling`` fits them on
simulated pages that nothing else used, and writes beside them what they were fitted on. A page does not say how it
was scanned, but shows it (:mod:`scanform.locate.quality`): where there was enough to fit it on, a kind of field has a
map and a threshold for each such scan grade, else one for all.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib import resources
from typing import Any, NamedTuple

from scanform.settle.bounds import clopper_pearson, upper_bound
from scanform.settle.families import KIND_FAMILIES

__all__ = [
    "BOUND_CONFIDENCE",
    "CAP",
    "Calibration",
    "ConfidenceMap",
    "Step",
    "acceptance_threshold",
    "calibration",
    "calibration_for",
    "joint_thresholds",
    "log_odds",
    "steps_of",
]

_LEAST = 1e-5  # probabilities nearer to 0 or 1 than this are taken for this: nothing was calibrated beyond
CAP = 1 - _LEAST
BOUND_CONFIDENCE = 0.95
# Never accept below this, however few errors the simulated pages show: real paper will have kinds they lack.
LEAST_THRESHOLD = 0.95
_NOTHING_FITTED = 0.99  # threshold of a kind that nothing was fitted on
_MOST_TARGET = 0.5  # errors a field: no wish for fewer doubts makes a target of more
_NEVER = 1.0  # no confidence reaches this


def log_odds(probability: float) -> float:
    """Logarithm of the odds, with the probability held away from 0 and 1."""
    clipped = min(max(probability, _LEAST), 1 - _LEAST)
    return math.log(clipped / (1 - clipped))


class ConfidenceMap(NamedTuple):
    """A logistic map (Platt) of the log odds of two raw probabilities: that of the value, that of clean characters."""

    slope: float
    clean_slope: float
    offset: float


IDENTITY = ConfidenceMap(1.0, 0.0, 0.0)


class Step(NamedTuple):
    """Of the fields fitted on, ``accepted`` have this confidence or more, and ``wrong`` of those are wrong."""

    confidence: float
    accepted: int
    wrong: int


def steps_of(confidences: Sequence[float], right: Sequence[bool], most_wrong: int = 60) -> tuple[Step, ...]:
    """The thresholds worth considering, highest first: each the lowest that lets no further wrong field through.

    The one that lets every field through stands at 0. ``most_wrong``: stop after the step that lets so many through.
    """
    pairs = sorted(zip(confidences, right, strict=True), key=lambda pair: -pair[0])
    steps: list[Step] = []
    accepted = wrong = 0
    position = 0
    while position < len(pairs) and wrong <= most_wrong:
        level, end = pairs[position][0], position
        while end < len(pairs) and pairs[end][0] == level:  # equal confidences stand or fall together
            end += 1
        more_wrong = sum(not good for _, good in pairs[position:end])
        accepted, wrong = end, wrong + more_wrong
        step = Step(level, accepted, wrong)
        if steps and not more_wrong:
            steps[-1] = step
        else:
            steps.append(step)
        position = end
    if steps and position == len(pairs):
        steps[-1] = steps[-1]._replace(confidence=0.0)
    return tuple(steps)


def acceptance_threshold(
    steps: Sequence[Step], target: float, proven: bool = True, least: float = LEAST_THRESHOLD
) -> float | None:
    """The lowest confidence above which silent errors stay under ``target``, at least ``least``; None if there is none.

    ``proven``: by the exact upper bound, with 95 % confidence; else as long as the exact lower bound does not disprove
    it.
    """
    kept = None
    for step in steps:
        bound = upper_bound(step.wrong, step.accepted, BOUND_CONFIDENCE) if proven else _lower_bound(step)
        if bound <= target:
            kept = step.confidence
    return None if kept is None else min(max(kept, least), CAP)


def _lower_bound(step: Step) -> float:
    return clopper_pearson(step.wrong, step.accepted, 2 * BOUND_CONFIDENCE - 1)[0]


def joint_thresholds(steps: Mapping[str, Sequence[Step]], target: float) -> dict[str, float]:
    """Thresholds of several kinds that together keep their silent errors under ``target``, letting most through.

    Each kind begins where none of its fields fitted on is wrong. Then whichever kind gains most fields for one further
    error goes down a step, as long as the exact upper bound of all together keeps the target; if even no error at all
    cannot show it, they stay.
    """
    at = {kind: max((n for n, step in enumerate(own) if not step.wrong), default=-1) for kind, own in steps.items()}
    best = dict(at)
    while True:
        reached = [own[at[kind]] for kind, own in steps.items() if at[kind] >= 0]
        accepted, wrong = sum(step.accepted for step in reached), sum(step.wrong for step in reached)
        if accepted and upper_bound(wrong, accepted, BOUND_CONFIDENCE) <= target:
            best = dict(at)
        gains = {kind: _gain(own, at[kind]) for kind, own in steps.items() if at[kind] + 1 < len(own)}
        if not gains or wrong > target * sum(own[-1].accepted for own in steps.values()):
            break
        at[max(gains, key=gains.__getitem__)] += 1
    return {
        kind: _NEVER if best[kind] < 0 else min(max(own[best[kind]].confidence, LEAST_THRESHOLD), CAP)
        for kind, own in steps.items()
    }


def _gain(steps: Sequence[Step], at: int) -> float:
    """Further fields for each further error that the next step lets through."""
    before, after = (steps[at] if at >= 0 else Step(1.0, 0, 0)), steps[at + 1]
    return (after.accepted - before.accepted) / max(after.wrong - before.wrong, 1)


@dataclass(frozen=True)
class Calibration:
    """Per kind of field, and where fitted per scan grade: the map of the raw probabilities, and what threshold follows.

    ``maps``, ``fitted``: by kind and scan grade, ``""`` for all grades together; ``fitted`` are the thresholds at the
    targets of the fitting. ``steps`` by kind and grade, ``families`` by kind. ``targets``: silent errors a field, by
    kind and grade. ``site``: thresholds by family that a site has found from its own confirmed fields.
    """

    maps: Mapping[tuple[str, str], ConfidenceMap]
    fitted: Mapping[tuple[str, str], float]
    families: Mapping[str, str]
    steps: Mapping[tuple[str, str], tuple[Step, ...]]
    targets: Mapping[tuple[str, str], float]
    silent_error_target: float
    site: Mapping[str, float] = field(default_factory=dict)

    @property
    def kinds(self) -> list[str]:
        """Every kind of field that something was fitted on."""
        return sorted({kind for kind, _ in self.maps})

    def confidence(self, kind: str, raw: float, clean: float = 1.0, grade: str = "") -> float:
        """Calibrated probability that the value is right.

        ``raw``: probability of the value if all its characters are clean ones; ``clean``: that they are (combs).
        ``grade``: how the page was captured, as it shows; one that nothing was fitted on takes the map of all.
        Calibration may take confidence away, never add any: where the ink itself stands between two values (a unit at
        0.52 against its neighbour's 0.48), no number of easy pages in the fitting makes it clear.
        """
        chosen = self.maps.get((kind, grade)) or self.maps.get((kind, "")) or IDENTITY
        exponent = chosen.slope * log_odds(raw) + chosen.clean_slope * log_odds(clean) + chosen.offset
        return min(max(1 / (1 + math.exp(-exponent)), _LEAST), max(raw, _LEAST), CAP)

    def threshold(self, kind: str, grade: str = "") -> float:
        """Least confidence at which a field of that kind on such a page is accepted."""
        # A site without a register has found its thresholds on fields read without one.
        own = self.site.get(self.families.get(kind, kind).removesuffix("-free"))
        if own is not None:
            return own
        return self.fitted.get((kind, grade), self.fitted.get((kind, ""), _NOTHING_FITTED))

    def for_target(self, silent_error_target: float) -> Calibration:
        """The same with the thresholds of another target; every kind's own moves in proportion."""
        if silent_error_target == self.silent_error_target:
            return self
        scale = silent_error_target / self.silent_error_target
        targets = {key: min(rate * scale, _MOST_TARGET) for key, rate in self.targets.items()}
        fitted = thresholds(self.families, self.steps, targets) if self.steps else self.fitted
        return replace(self, fitted=fitted, targets=targets, silent_error_target=silent_error_target)


def thresholds(
    families: Mapping[str, str],
    steps: Mapping[tuple[str, str], tuple[Step, ...]],
    targets: Mapping[tuple[str, str], float],
) -> dict[tuple[str, str], float]:
    """Thresholds by kind and grade.

    Over all grades: those that keep a family's target together (:func:`joint_thresholds`). In a grade that has enough
    fields, its own; in one that has not, that of all grades, or a higher one if the grade's own errors surely miss the
    target below it.
    """
    found: dict[tuple[str, str], float] = {}
    for family in dict.fromkeys(families.values()):
        members = [kind for kind in families if families[kind] == family]
        pooled = joint_thresholds(
            {kind: steps[kind, ""] for kind in members if steps.get((kind, ""))},
            min(targets[kind, ""] for kind in members),
        )
        for kind in members:
            found[kind, ""] = pooled.get(kind, _NOTHING_FITTED)
    for kind, grade in steps:
        if grade:
            found[kind, grade] = _in_grade(steps[kind, grade], targets[kind, grade], found[kind, ""])
    return found


def _in_grade(steps: Sequence[Step], target: float, pooled: float) -> float:
    proven = acceptance_threshold(steps, target)
    if proven is not None:
        return proven
    possible = acceptance_threshold(steps, target, proven=False)
    return max(pooled, possible if possible is not None else _NEVER)


@lru_cache(maxsize=1)
def calibration() -> Calibration:
    """The calibration that came with the installed models."""
    return from_json(json.loads((resources.files("scanform.models") / "calibration.json").read_text()))


@lru_cache(maxsize=8)
def calibration_for(silent_error_target: float | None, site: tuple[tuple[str, float], ...] = ()) -> Calibration:
    """The installed calibration with the thresholds that a binder asks for; None for the fitted target."""
    chosen = calibration()
    if silent_error_target is not None:
        chosen = chosen.for_target(silent_error_target)
    return replace(chosen, site=dict(site)) if site else chosen


def from_json(data: Mapping[str, Any]) -> Calibration:
    """A calibration from what ``calibration.json`` holds; grades and steps may be missing."""
    maps: dict[tuple[str, str], ConfidenceMap] = {}
    fitted: dict[tuple[str, str], float] = {}
    families: dict[str, str] = {}
    targets: dict[tuple[str, str], float] = {}
    for kind, values in data["kinds"].items():
        families[kind] = KIND_FAMILIES.get(kind, kind)
        targets[kind, ""] = float(data["targets"].get(kind, data["silent_error_target"]))
        for grade, own in {"": values, **values.get("grades", {})}.items():
            maps[kind, grade] = ConfidenceMap(*(float(own[part]) for part in ("slope", "clean_slope", "offset")))
            fitted[kind, grade] = float(own["threshold"])
            targets[kind, grade] = float(own.get("target", targets[kind, ""]))
    steps = {
        (kind, grade): tuple(Step(float(c), int(n), int(k)) for c, n, k in rows)
        for kind, grades in data.get("steps", {}).items()
        for grade, rows in grades.items()
    }
    return Calibration(maps, fitted, families, steps, targets, float(data["silent_error_target"]))
