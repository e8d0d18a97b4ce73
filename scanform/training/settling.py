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

import numpy as np
from rich.progress import track
from scipy.optimize import minimize

from scanform.report import upper_bound
from scanform.simulate import Grade
from scanform.training.trial import Plan, run_trials

__all__ = ["CALIBRATION_SEEDS", "fit", "threshold_for"]

CALIBRATION_SEEDS = 5_000_000  # and upwards; the bench's begin at 9,000,000
# Silent errors per field that each kind is held under. Choices and numbers: the project's own targets, an order below
# hand-printed numbers read by machine (3.4 to 6.7 in 1,000: Paulsen et al. 2012). Words are free text: a person sees
# all but the clearest.
TARGETS = {
    "choice": 1 / 10_000,
    "unit": 1 / 1000,
    "date": 1 / 1000,
    "hours": 1 / 1000,
    "item-number": 1 / 1000,
    "name": 1 / 500,
    "words": 1 / 50,
    "signature": 1 / 1000,
    "printed": 1 / 1000,
}
# Kinds read by the same networks in the same way share one threshold: one kind alone has too few fields for a bound.
_POOLED = ("unit", "date", "hours", "item-number")
_SHARES = {Grade.OFFICE: 0.35, Grade.BITONAL: 0.3, Grade.WORN: 0.15, Grade.PHONE: 0.1, Grade.FAX: 0.1}
_CONFIDENCE = 0.95
_CAP = 0.99999


@dataclass(frozen=True)
class _Seen:
    raw: np.ndarray
    right: np.ndarray


def fit(pages: int, workers: int | None) -> dict:
    """Calibration as ``calibration.json`` holds it."""
    plans = [
        Plan(grade, CALIBRATION_SEEDS + 10_000 * g + n, "calibration" if n % 2 else None, register=n % 4 != 3)
        for g, (grade, share) in enumerate(_SHARES.items())
        for n in range(round(pages * share))
    ]
    found: dict[str, list[tuple[float, bool]]] = defaultdict(list)
    for page in track(run_trials(plans, workers), total=len(plans), description="Reading"):
        for field in page.fields:
            if not field.barred:
                found[field.kind].append((field.raw, field.right and not field.unclear))
    seen = {kind: _Seen(*(np.array(column) for column in zip(*rows, strict=True))) for kind, rows in found.items()}
    maps = {kind: _platt(data) for kind, data in seen.items()}
    kinds = {}
    pooled = _joined([(seen[k], maps[k]) for k in _POOLED if k in seen])
    for kind in TARGETS:
        slope, offset = maps.get(kind, (1.0, 0.0))
        confidence, right = (
            pooled if kind in _POOLED else _joined([(seen[kind], maps[kind])]) if kind in seen else ([], [])
        )
        kinds[kind] = {
            "slope": round(slope, 4),
            "offset": round(offset, 4),
            "threshold": round(threshold_for(np.array(confidence), np.array(right), TARGETS[kind]), 6),
            "fitted_on": len(seen[kind].raw) if kind in seen else 0,
            "wrong_among_them": int((~seen[kind].right).sum()) if kind in seen else 0,
        }
    return {
        "made_by": "python -m scanform.training.settling",
        "made_on": date.today().isoformat(),
        "pages": len(plans),
        "seeds_from": CALIBRATION_SEEDS,
        "silent_error_target": 1 / 1000,
        "targets": {kind: round(target, 6) for kind, target in TARGETS.items()},
        "kinds": kinds,
    }


def _logit(p: np.ndarray) -> np.ndarray:
    p = np.clip(p, 1e-7, 1 - 1e-7)
    return np.log(p / (1 - p))


def _platt(data: _Seen) -> tuple[float, float]:
    """Slope and offset of the logistic map that maximises the likelihood, held near the identity by a weak prior."""
    x, y = _logit(data.raw), data.right.astype(float)

    def loss(parameters: np.ndarray) -> float:
        z = parameters[0] * x + parameters[1]
        return float(np.logaddexp(0, -z)[y == 1].sum() + np.logaddexp(0, z)[y == 0].sum()) + float(
            (parameters[0] - 1) ** 2 + parameters[1] ** 2
        )

    best = minimize(loss, np.array([1.0, 0.0]), method="Nelder-Mead").x
    return float(max(best[0], 0.05)), float(best[1])


def _joined(parts: list[tuple[_Seen, tuple[float, float]]]) -> tuple[np.ndarray, np.ndarray]:
    confidences = [1 / (1 + np.exp(-(slope * _logit(data.raw) + offset))) for data, (slope, offset) in parts]
    return np.concatenate(confidences), np.concatenate([data.right for data, _ in parts])


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
        return float(min(confidence[order][best], _CAP))
    highest_wrong = float(confidence[~right].max(initial=0.0))
    return min(max(highest_wrong * (1 + 1e-9), 0.9), _CAP)


def main() -> None:
    """Fit, write ``calibration.json``, and print what came out."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=1500)
    parser.add_argument("--workers", type=int)
    parser.add_argument("--out", type=Path, default=Path(__file__).parents[1] / "models" / "calibration.json")
    arguments = parser.parse_args()
    result = fit(arguments.pages, arguments.workers)
    arguments.out.write_text(json.dumps(result, indent=1) + "\n")
    print(json.dumps(result["kinds"], indent=1))


if __name__ == "__main__":
    main()
