"""How far confidences can be believed: reliability curves and expected calibration error, by kind and scan grade.

Expected calibration error (ECE) as Guo, Pleiss, Sun and Weinberger define it ("On Calibration of Modern Neural
Networks", ICML 2017): confidences in 15 bins of equal width, the gap between a bin's mean confidence and its share of
right fields, weighted by the bin's share of all fields.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np

from scanform.settle import clopper_pearson
from scanform.training.trial import FieldTrial, PageTrial

__all__ = ["draw_reliability", "expected_calibration_error", "reliability_tables"]

_BINS = 15
# Nearly all fields lie in the last of fifteen equal bins, so the curve is shown on a scale that opens its end.
_EDGES = (0.0, 0.5, 0.8, 0.9, 0.95, 0.98, 0.99, 0.995, 0.999, 0.9999, 1.0)
_FEWEST = 50  # fields below which a figure would say nothing


def expected_calibration_error(confidence: np.ndarray, right: np.ndarray) -> float:
    """ECE of float (n,) confidences and bool (n,) outcomes; 0 for none."""
    if not len(confidence):
        return 0.0
    place = np.clip((confidence * _BINS).astype(int), 0, _BINS - 1)
    gaps = [
        abs(float(confidence[place == b].mean()) - float(right[place == b].mean())) * float((place == b).mean())
        for b in range(_BINS)
        if (place == b).any()
    ]
    return float(sum(gaps))


def reliability_tables(pages: Iterable[tuple[PageTrial, Sequence[FieldTrial]]]) -> str:
    """Markdown: ECE by kind and scan grade as the pages show it, and each kind's reliability curve."""
    by_kind: dict[str, dict[str, list[tuple[float, bool]]]] = {}
    for page, fields in pages:
        for field in fields:
            outcome = (field.confidence, field.right and not field.unclear)
            by_kind.setdefault(field.kind, {}).setdefault(page.scan_grade, []).append(outcome)
    grades = sorted({grade for found in by_kind.values() for grade in found})
    return "\n\n".join([_errors(by_kind, grades), _curves(by_kind)])


_Outcomes = dict[str, dict[str, list[tuple[float, bool]]]]


def _errors(by_kind: _Outcomes, grades: Sequence[str]) -> str:
    lines = [
        "| expected calibration error | all | " + " | ".join(grades) + " |",
        "| --- |" + " --- |" * (len(grades) + 1),
    ]
    for kind in sorted(by_kind):
        groups = [[o for own in by_kind[kind].values() for o in own], *(by_kind[kind].get(g, []) for g in grades)]
        lines.append(f"| {kind} | " + " | ".join(_error(group) for group in groups) + " |")
    return "\n".join(lines)


def _error(outcomes: Sequence[tuple[float, bool]]) -> str:
    if len(outcomes) < _FEWEST:
        return f"- ({len(outcomes)})"
    confidence, right = np.array([o[0] for o in outcomes]), np.array([o[1] for o in outcomes])
    return f"{expected_calibration_error(confidence, right):.4f} ({len(outcomes):,})"


def _curves(by_kind: _Outcomes) -> str:
    names = [f"{low:g} to {high:g}" for low, high in pairwise(_EDGES)]
    lines = [
        "Share of right fields (of how many; exact 95 % interval) where the confidence lies between:",
        "",
        "| kind | " + " | ".join(names) + " |",
        "| --- |" + " --- |" * len(names),
    ]
    for kind in sorted(by_kind):
        outcomes = [o for own in by_kind[kind].values() for o in own]
        confidence, right = np.array([o[0] for o in outcomes]), np.array([o[1] for o in outcomes])
        place = np.clip(np.searchsorted(_EDGES, confidence, side="right") - 1, 0, len(names) - 1)
        lines.append(f"| {kind} | " + " | ".join(_bin(right[place == b]) for b in range(len(names))) + " |")
    return "\n".join(lines)


def _bin(right: np.ndarray) -> str:
    n, k = len(right), int(right.sum())
    if not n:
        return "-"
    low, high = clopper_pearson(k, n, 0.95)
    return f"{k / n:.4f} ({n:,}; {low:.4f} to {high:.4f})"


def draw_reliability(fields: Sequence[FieldTrial], path: Path) -> bool:
    """Reliability curves of all kinds as PNG, both axes as log odds; False without matplotlib (the ``train`` extra)."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        return False
    figure = Figure(figsize=(7, 7))
    axes = figure.add_subplot()
    for kind in sorted({field.kind for field in fields}):
        confidence = np.array([field.confidence for field in fields if field.kind == kind])
        right = np.array([field.right and not field.unclear for field in fields if field.kind == kind])
        place = np.clip(np.searchsorted(_EDGES, confidence, side="right") - 1, 0, len(_EDGES) - 2)
        points = [(confidence[place == b].mean(), right[place == b].mean()) for b in set(place.tolist())]
        points = sorted((_held_apart(c), _held_apart(r)) for c, r in points)
        axes.plot([c for c, _ in points], [r for _, r in points], marker="o", label=kind)
    axes.plot([0.01, 0.99999], [0.01, 0.99999], color="grey", linestyle="--")
    axes.set(xscale="logit", yscale="logit", xlabel="confidence", ylabel="share of right fields")
    axes.legend()
    figure.savefig(path)
    return True


def _held_apart(share: float) -> float:
    # Log odds have no place for 0 and 1.
    return float(np.clip(share, 0.01, 0.99999))
