"""Maps from raw probabilities to calibrated ones, per kind of field and scan grade, and the thresholds they give.

Per kind a logistic map (Platt) of two log odds is fitted by penalised likelihood, held near the identity by a weak
prior; per scan grade another one, held near the kind's by a stronger prior, so that a grade with few fields or no
errors hardly departs from its kind and one with many goes where its fields say. Thresholds:
:mod:`scanform.settle.calibration`.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
from scipy.optimize import minimize

from scanform.locate import ScanGrade
from scanform.settle.bounds import upper_bound
from scanform.settle.calibration import (
    BOUND_CONFIDENCE,
    CAP,
    IDENTITY,
    ConfidenceMap,
    Step,
    acceptance_threshold,
    steps_of,
    thresholds,
)
from scanform.settle.families import KIND_FAMILIES

__all__ = ["TARGETS", "confidences", "families", "fit", "platt", "target_of"]

# Accepted unit, date and hours fields that may be silently wrong; a binder may ask for another share, and all others
# move with it. Hand-printed numbers read by machine are published at 3.4 to 6.7 in 1,000, double keying at 0.046 in
# 1,000 (Paulsen et al. 2012).
NUMBERS_TARGET = 1 / 2000
# Silent errors a field, by kind. Words are free text: a person sees all but the clearest.
TARGETS = {
    "choice": 1 / 20_000,
    "choice-changed": 1 / 20_000,
    "mark": 1 / 20_000,
    "unit": NUMBERS_TARGET,
    "date": NUMBERS_TARGET,
    "hours": NUMBERS_TARGET,
    "unit-free": NUMBERS_TARGET,
    "hours-free": NUMBERS_TARGET,
    "item-number": 1 / 500,
    "name": 1 / 200,
    "words": 1 / 50,
    "signature": 1 / 1000,
    "printed": 1 / 1000,
}
_OTHER_TARGET = 1 / 1000
# A grade that shows less may err more: the shares between the targets set for each grade.
_GRADE_ALLOWANCE = {"office": 0.5, "bitonal": 0.75, "worn": 1.0, "phone": 1.0, "fax": 2.0}
# How far a grade's slope, weight of cleanness and offset may stray from its kind's: one standard deviation each, in
# log odds. Half a unit is the difference between 99.0 and 99.4 %.
_STRAY = np.array([0.25, 0.25, 0.5])
# Tried, by two-fold cross-validation, in multiples of that; 0 is one map for all grades.
_STRAYS = (0.0, 0.3, 1.0, 2.0)
_BLOCK = 50
_FEWEST_IN_GRADE = 30
# With fewer errors than this a map is held at or below what it starts from: easy pages teach nothing about hard ones,
# and a kind that shows no error at all would come out certain of everything.
_FEW_ERRORS = 10
# Settled in the same way, by likelihoods over what is known: one map. Unit numbers alone show no error to learn from.
_ONE_MAP = "numbers"

Table = np.ndarray  # float64 (n, 4): log odds raw, log odds clean, right, place in ScanGrade


def target_of(kind: str, grade: str = "") -> float:
    """Silent errors a field that this kind is held under, in all grades together or in one."""
    return TARGETS.get(kind, _OTHER_TARGET) * (_GRADE_ALLOWANCE.get(grade, 1.0) if grade else 1.0)


def families(kinds: list[str]) -> dict[str, str]:
    """The family whose silent errors each kind is counted among."""
    return {kind: KIND_FAMILIES.get(kind, kind) for kind in kinds}


def confidences(odds: np.ndarray, chosen: ConfidenceMap) -> np.ndarray:
    """As ``Calibration.confidence`` for log odds float (n, 2): never above the raw probability."""
    exponent = np.minimum(odds @ chosen[:2] + chosen.offset, odds[:, 0])
    return np.clip(1 / (1 + np.exp(-exponent)), 1 - CAP, CAP)


def platt(
    odds: np.ndarray, right: np.ndarray, centre: np.ndarray | None = None, stray: np.ndarray | None = None
) -> ConfidenceMap:
    """The logistic map of largest penalised likelihood for log odds float (n, 2) and bool (n,).

    ``centre`` and ``stray``: what the map is held near, and by how much it may depart; the identity, weakly, if None.
    With few errors among them the map does not rise above what it is held near.
    """
    few = int((~right).sum()) < _FEW_ERRORS
    combs = bool(np.ptp(odds[:, 1]) > 0) if len(odds) else False
    if centre is None or stray is None:
        combs = combs and not few
        centre, stray = np.array([1.0, 0.2 * combs, 0.0]), np.array([0.7, 0.7, 2.2])

    def loss(parameters: np.ndarray) -> float:
        z = odds @ parameters[:2] + parameters[2]
        fit_loss = np.logaddexp(0, -z)[right].sum() + np.logaddexp(0, z)[~right].sum()
        return float(fit_loss + 0.5 * (((parameters - centre) / stray) ** 2).sum())

    highest = centre if few else np.array([5.0, 5.0 if combs else 0.0, 15.0])
    bounds = list(zip((0.05, 0.0, -15.0), highest, strict=True))
    best = minimize(loss, np.minimum(centre, highest), method="L-BFGS-B", bounds=bounds).x
    return ConfidenceMap(float(best[0]), float(best[1]), float(best[2]))


def fit(tables: dict[str, Table], pages: int, seeds_from: int) -> dict[str, Any]:
    """Calibration as ``calibration.json`` holds it, from per kind a table as ``settling.collect`` gives it."""
    kinds = [*TARGETS, *(kind for kind in tables if kind not in TARGETS)]
    data = {kind: tables.get(kind, np.zeros((0, 4))) for kind in kinds}
    maps = {kind: _maps(table) for kind, table in data.items()}
    aided = [kind for kind in kinds if KIND_FAMILIES.get(kind) == _ONE_MAP]
    maps |= dict.fromkeys(aided, _maps(np.concatenate([data[kind] for kind in aided])))
    # What each field's confidence comes out as, by the map of its grade where there is one.
    shown = {kind: _shown(table, maps[kind]) for kind, table in data.items()}
    of_family = families(kinds)
    steps: dict[tuple[str, str], tuple[Step, ...]] = {}
    for kind, table in data.items():
        right, grade = table[:, 2].astype(bool), table[:, 3]
        if len(right):
            steps[kind, ""] = _rounded(steps_of(shown[kind].tolist(), right.tolist()))
        for g, name in enumerate(ScanGrade):
            here = grade == g
            if here.sum() >= _FEWEST_IN_GRADE:
                steps[kind, name.value] = _rounded(steps_of(shown[kind][here].tolist(), right[here].tolist()))
    targets = {(kind, grade): target_of(kind, grade) for kind in kinds for grade in ("", *map(str, ScanGrade))}
    found = thresholds(of_family, steps, targets)
    return {
        "made_by": "python -m scanform.training.settling",
        "made_on": date.today().isoformat(),
        "pages": pages,
        "seeds_from": seeds_from,
        "silent_error_target": NUMBERS_TARGET,
        "targets": {kind: round(target_of(kind), 8) for kind in kinds},
        "kinds": {
            kind: _entry(kind, "", data[kind], shown[kind], maps[kind][""], found, steps)
            | {
                "grades": {
                    name.value: _entry(
                        kind,
                        name.value,
                        data[kind][data[kind][:, 3] == g],
                        shown[kind][data[kind][:, 3] == g],
                        maps[kind].get(name.value, maps[kind][""]),
                        found,
                        steps,
                    )
                    for g, name in enumerate(ScanGrade)
                    if (kind, name.value) in found
                },
            }
            for kind in kinds
        },
        "steps": _nested(steps),
    }


def _maps(table: Table) -> dict[str, ConfidenceMap]:
    """The kind's map under ``""``, and one for each grade if grades of their own foretell held-out fields better."""
    if not len(table):
        return {"": IDENTITY}
    fold = np.arange(len(table)) // _BLOCK % 2 == 0  # in blocks, since neighbours are of one page
    losses = {
        stray: sum(_loss(table[held], _fitted(table[~held], stray)) for held in (fold, ~fold)) for stray in _STRAYS
    }
    # The first of those that foretell alike: the least departure.
    return _fitted(table, min(_STRAYS, key=losses.__getitem__))


def _fitted(table: Table, stray: float) -> dict[str, ConfidenceMap]:
    """The kind's map and, unless ``stray`` is 0, the grades'; grades with few fields have none."""
    odds, right, grade = table[:, :2], table[:, 2].astype(bool), table[:, 3]
    found = {"": _plain(platt(odds, right))}
    for g, name in enumerate(ScanGrade):
        here = grade == g
        if stray and here.sum() >= _FEWEST_IN_GRADE:
            found[name.value] = _plain(platt(odds[here], right[here], np.array(found[""]), _STRAY * stray))
    return found


def _loss(table: Table, maps: dict[str, ConfidenceMap]) -> float:
    """Negative log likelihood of held-out fields."""
    shown, right = np.clip(_shown(table, maps), 1e-9, 1 - 1e-9), table[:, 2].astype(bool)
    return float(-np.log(np.where(right, shown, 1 - shown)).sum())


def _plain(chosen: ConfidenceMap) -> ConfidenceMap:
    return ConfidenceMap(*(round(part, 4) for part in chosen))


def _shown(table: Table, maps: dict[str, ConfidenceMap]) -> np.ndarray:
    shown = confidences(table[:, :2], maps[""])
    for g, name in enumerate(ScanGrade):
        here = table[:, 3] == g
        if name.value in maps:
            shown[here] = confidences(table[here, :2], maps[name.value])
    return shown


def _rounded(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    # Down, so that the field the step stands for is still let through.
    return tuple(Step(np.floor(step.confidence * 1e7) / 1e7, step.accepted, step.wrong) for step in steps)


def _entry(
    kind: str,
    grade: str,
    table: Table,
    shown: np.ndarray,
    chosen: ConfidenceMap,
    found: dict[tuple[str, str], float],
    steps: dict[tuple[str, str], tuple[Step, ...]],
) -> dict[str, Any]:
    threshold, ladder = found[kind, grade], steps.get((kind, grade), ())
    right = table[:, 2].astype(bool)
    entry: dict[str, Any] = {
        **chosen._asdict(),
        "threshold": round(threshold, 7),
        "target": round(target_of(kind, grade), 8),
        "shown_by_bound": acceptance_threshold(ladder, target_of(kind, grade)) is not None,
        "fitted_on": len(right),
        "wrong_among_them": int((~right).sum()),
    }
    if len(right):
        accepted = shown >= threshold
        entry["accepted_at_threshold"] = round(float(accepted.mean()), 4)
        entry["wrong_at_threshold"] = int((~right & accepted).sum())
        if accepted.any():
            worst = upper_bound(entry["wrong_at_threshold"], int(accepted.sum()), BOUND_CONFIDENCE)
            entry["at_most_wrong"] = round(worst, 6)
    return entry


def _nested(steps: dict[tuple[str, str], tuple[Step, ...]]) -> dict[str, dict[str, list[list[float]]]]:
    nested: dict[str, dict[str, list[list[float]]]] = {}
    for (kind, grade), ladder in steps.items():
        nested.setdefault(kind, {})[grade] = [[s.confidence, s.accepted, s.wrong] for s in ladder]
    return nested
