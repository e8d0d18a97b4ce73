"""Fit what settling leans on: calibration of raw probabilities, and acceptance thresholds.

    python -m scanform.training.settling --pages 1500

Pages are simulated with seeds that nothing else uses (CALIBRATION_SEEDS), half of them with real digits of the
calibration split in their combs. Per kind of field a logistic map (Platt) makes raw probabilities calibrated; the
threshold is the lowest confidence at which the exact 95 % upper bound of the silent error rate stays under the kind's
target, or, where a kind has too few fields for such a bound, the lowest above every error seen.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from rich.progress import track
from scipy.optimize import minimize

from scanform.report import upper_bound
from scanform.settle.calibration import log_odds
from scanform.simulate import Grade
from scanform.training.trial import Plan, run_trials

__all__ = ["CALIBRATION_SEEDS", "fit", "threshold_for"]

CALIBRATION_SEEDS = 5_000_000  # and upwards; the bench's begin at 9,000,000
# Silent errors per field that each kind is held under. Choices and numbers: the project's own targets, an order below
# hand-printed numbers read by machine (3.4 to 6.7 in 1,000: Paulsen et al. 2012). Words are free text: a person sees
# all but the clearest.
TARGETS = {
    "choice": 1 / 10_000,
    "mark": 1 / 10_000,
    "unit": 1 / 500,
    "date": 1 / 500,
    "hours": 1 / 500,
    "unit-free": 1 / 500,
    "hours-free": 1 / 500,
    "item-number": 1 / 500,
    "name": 1 / 200,
    "words": 1 / 50,
    "signature": 1 / 1000,
    "printed": 1 / 1000,
}
_SHARES = {Grade.OFFICE: 0.35, Grade.BITONAL: 0.3, Grade.WORN: 0.15, Grade.PHONE: 0.1, Grade.FAX: 0.1}
_WEEKLY_ONE_IN = 6  # a week's sheet has a hundred signs; one such page to so many of a day's
_CONFIDENCE = 0.95
# Read by the same network in the same way: one threshold, because each alone has too few fields for a bound.
_TOGETHER = ("unit", "date", "hours", "unit-free", "hours-free")
# Settled in the same way, by likelihoods over what is known: one map. Unit numbers alone show no error to learn from.
_AIDED = ("unit", "date", "hours")
# With fewer errors than this a map is held at or below the raw probability: easy pages teach nothing about hard ones,
# and a kind that shows no error at all would come out certain of everything.
_FEW_ERRORS = 10
# Most of these are empty on most sheets; calibration is about the ones that are written.
_SELDOM_WRITTEN = ("words", "item-number", "name")
_CAP = 0.99999
# Never accept below this, however few errors the simulated pages show: real paper will have kinds they lack.
_LEAST_THRESHOLD = 0.95


@dataclass(frozen=True)
class _Seen:
    """Log odds of the raw probabilities, float (n, 2): raw, clean; and whether the value was right, bool (n,)."""

    odds: np.ndarray
    right: np.ndarray


@dataclass(frozen=True)
class _Map:
    slope: float
    clean_slope: float
    offset: float

    def confidence(self, odds: np.ndarray) -> np.ndarray:
        return 1 / (1 + np.exp(-(odds @ (self.slope, self.clean_slope) + self.offset)))


def collect(pages: int, workers: int | None) -> dict[str, np.ndarray]:
    """Per kind of field, float64 (n, 4): log odds of the raw and the clean probability, right (0 or 1), scan grade."""
    plans = [
        Plan(grade, CALIBRATION_SEEDS + 10_000 * g + n, "calibration" if n % 2 else None)
        for g, (grade, share) in enumerate(_SHARES.items())
        for n in range(round(pages * share))
    ]
    plans += [Plan(p.grade, p.seed + 500_000, p.digits, weekly=True) for p in plans[::_WEEKLY_ONE_IN]]
    grades = list(_SHARES)
    found: dict[str, list[tuple[float, float, float, float]]] = defaultdict(list)
    for page in track(run_trials(plans, workers), total=len(plans), description="Reading"):
        # Every page also tells how well unit and hours are read when neither register nor meter is known.
        alone = [field for field in page.unaided if field.kind.endswith("-free")]
        aided = [field for field in page.fields if not field.kind.endswith("-free")]
        for field in aided + alone:
            empty_as_it_should_be = field.truth is None and field.value is None
            if field.barred or (field.kind in _SELDOM_WRITTEN and empty_as_it_should_be):
                continue
            right = field.right and not field.unclear
            grade = grades.index(page.plan.grade)
            found[field.kind].append((log_odds(field.raw), log_odds(field.clean), float(right), float(grade)))
    return {kind: np.array(found[kind]).reshape(-1, 4) for kind in TARGETS}


def fit(tables: dict[str, np.ndarray], pages: int) -> dict:
    """Calibration as ``calibration.json`` holds it, from what :func:`collect` found."""
    seen = {kind: _Seen(table[:, :2], table[:, 2].astype(bool)) for kind, table in tables.items()}
    maps = {kind: _platt(data) for kind, data in seen.items()}
    odds = np.concatenate([seen[kind].odds for kind in _AIDED])
    right = np.concatenate([seen[kind].right for kind in _AIDED])
    maps |= dict.fromkeys(_AIDED, _platt(_Seen(odds, right)))
    confidences = {kind: maps[kind].confidence(seen[kind].odds) for kind in TARGETS}
    together = np.concatenate([confidences[kind] for kind in _TOGETHER])
    together_right = np.concatenate([seen[kind].right for kind in _TOGETHER])
    kinds = {}
    for kind, target in TARGETS.items():
        confidence, right = (together, together_right) if kind in _TOGETHER else (confidences[kind], seen[kind].right)
        kinds[kind] = {
            "slope": round(maps[kind].slope, 4),
            "clean_slope": round(maps[kind].clean_slope, 4),
            "offset": round(maps[kind].offset, 4),
            "threshold": round(threshold_for(confidence, right, target), 6),
            "fitted_on": len(seen[kind].right),
            "wrong_among_them": int((~seen[kind].right).sum()),
        }
    for kind, values in kinds.items():
        if len(confidences[kind]):
            values["accepted_at_threshold"] = round(float((confidences[kind] >= values["threshold"]).mean()), 4)
    return {
        "made_by": "python -m scanform.training.settling",
        "made_on": date.today().isoformat(),
        "pages": pages,
        "seeds_from": CALIBRATION_SEEDS,
        "silent_error_target": max(TARGETS[kind] for kind in ("unit", "date", "hours")),
        "targets": {kind: round(target, 6) for kind, target in TARGETS.items()},
        "kinds": kinds,
    }


def _platt(data: _Seen) -> _Map:
    """The logistic map that maximises the likelihood, held near the identity by a weak prior."""
    if not len(data.right):
        return _Map(1.0, 0.0, 0.0)
    few = int((~data.right).sum()) < _FEW_ERRORS
    combs = bool(np.ptp(data.odds[:, 1]) > 0) and not few

    def loss(parameters: np.ndarray) -> float:
        z = data.odds @ parameters[:2] + parameters[2]
        fit = np.logaddexp(0, -z)[data.right].sum() + np.logaddexp(0, z)[~data.right].sum()
        return float(fit + (parameters[0] - 1) ** 2 + (parameters[1] - 0.2 * combs) ** 2 + 0.1 * parameters[2] ** 2)

    bounds = [(0.05, 1.0 if few else 5.0), (0.0, 5.0) if combs else (0.0, 0.0), (-15.0, 0.0 if few else 15.0)]
    best = minimize(loss, np.array([1.0, 0.2 * combs, 0.0]), method="L-BFGS-B", bounds=bounds).x
    return _Map(float(best[0]), float(best[1]), float(best[2]))


def threshold_for(confidence: np.ndarray, right: np.ndarray, target: float) -> float:
    """The lowest confidence above which silent errors stay under ``target`` by their exact upper bound.

    Where even no error at all could not show that (too few fields), the lowest value above every wrong field.
    """
    if not len(confidence):
        return 0.99
    order = np.argsort(-confidence)
    wrong = np.cumsum(~right[order])
    best = None
    for place in range(len(order)):
        n, k = place + 1, int(wrong[place])
        if k / n <= target and upper_bound(k, n, _CONFIDENCE) <= target:
            best = place
    if best is not None:
        return float(np.clip(confidence[order][best], _LEAST_THRESHOLD, _CAP))
    highest_wrong = float(confidence[~right].max(initial=0.0))
    return min(max(highest_wrong * (1 + 1e-9), _LEAST_THRESHOLD), _CAP)


def main() -> None:
    """Fit, write ``calibration.json``, and print what came out."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=1500)
    parser.add_argument("--workers", type=int)
    parser.add_argument("--found", type=Path, default=Path(".train_data/settling.npz"), help="what the reading found")
    parser.add_argument("--refit", action="store_true", help="fit to what an earlier run found, without reading again")
    parser.add_argument("--out", type=Path, default=Path(__file__).parents[1] / "models" / "calibration.json")
    arguments = parser.parse_args()
    if not arguments.refit:
        arguments.found.parent.mkdir(parents=True, exist_ok=True)
        contents: dict[str, Any] = {"pages": arguments.pages, **collect(arguments.pages, arguments.workers)}
        np.savez_compressed(arguments.found, **contents)
    with np.load(arguments.found) as found:
        result = fit({kind: found[kind] for kind in TARGETS}, int(found["pages"]))
    arguments.out.write_text(json.dumps(result, indent=1) + "\n")
    print(json.dumps(result["kinds"], indent=1))


if __name__ == "__main__":
    main()
