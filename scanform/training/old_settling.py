"""Fit the calibration of what only old forms have: words to circle, dates, hours and unit numbers in free writing.

    python -m scanform.training.old_settling --pages 1026 --data DIR

Fields are those of :mod:`scanform.training.old_tries`; pages in hands kept apart are among them if DIR is given, as
:mod:`scanform.training.fetch` fills it.
"""

from __future__ import annotations

import argparse
import json
import os
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from scanform.settle import upper_bound
from scanform.settle.calibration import (
    BOUND_CONFIDENCE,
    CAP,
    LEAST_THRESHOLD,
    ConfidenceMap,
    Step,
    joint_thresholds,
    log_odds,
    steps_of,
)
from scanform.training.maps import confidences, platt
from scanform.training.old_tries import SEEDS, Tried, tried_on_pages

__all__ = ["TARGETS", "fit", "summary"]

# Silent errors a field.
TARGETS = {
    "circle": 1 / 2000,
    "written-date": 1 / 500,
    "written-date-free": 1 / 500,
    "written-hours": 1 / 500,
    "written-hours-between": 1 / 500,
    "written-hours-free": 1 / 500,
    "written-unit": 1 / 500,
    "written-unit-free": 1 / 500,
}
# Bounded together. Hours beside no other reading are not among them: settling accepts none.
_DATES_AND_HOURS = ("written-date", "written-date-free", "written-hours", "written-hours-between")
_WORTH_A_BOUND = 0.85  # of the fields that the counts alone let through
# A date that can be read in two orders comes out at 0.974 once nine others have told the order, at 0.981 at the most:
# with a threshold above that no such date would ever be accepted. What it lets through the hours' thresholds pay for.
_NOT_ABOVE = {"written-date-free": 0.972}


def fit(tried: Iterable[Tried]) -> dict[str, Any]:
    """The calibration as ``calibration.json`` holds it."""
    by_kind: dict[str, list[Tried]] = defaultdict(list)
    for one in tried:
        if not one.barred:
            by_kind[one.kind].append(one)
    fits: dict[str, tuple[ConfidenceMap, tuple[Step, ...], np.ndarray, np.ndarray]] = {}
    for kind in TARGETS:
        table = by_kind[kind]
        odds = np.array([[log_odds(one.raw), 0.0] for one in table]).reshape(-1, 2)
        right = np.array([one.right for one in table], bool)
        chosen = ConfidenceMap(*(round(part, 4) for part in platt(odds, right)))
        shown = confidences(odds, chosen)
        steps = tuple(
            Step(float(np.floor(step.confidence * 1e7) / 1e7), step.accepted, step.wrong)
            for step in steps_of(shown.tolist(), right.tolist())
        )
        fits[kind] = chosen, steps, shown, right
    proven = _proven({kind: steps for kind, (_, steps, _, _) in fits.items()})
    kinds = {kind: _entry(*found, TARGETS[kind], proven.get(kind)) for kind, found in fits.items()}
    ladders = {kind: {"": [[s.confidence, s.accepted, s.wrong] for s in found[1]]} for kind, found in fits.items()}
    return {
        "made_by": "python -m scanform.training.old_settling",
        "made_on": date.today().isoformat(),
        "seeds_from": SEEDS,
        "silent_error_target": 1 / 2000,
        "targets": TARGETS,
        "kinds": kinds,
        "steps": ladders,
    }


def _proven(steps: Mapping[str, Sequence[Step]]) -> dict[str, float]:
    """Thresholds that the exact bound shows to keep the targets; dates and hours are bounded together.

    Kinds are left out where no bound can be shown, or where it would turn away more than a seventh of what the
    counts alone let through.
    """
    alone = [kind for kind in TARGETS if kind not in _DATES_AND_HOURS]
    found: dict[str, float] = {}
    for together in (_DATES_AND_HOURS, *((kind,) for kind in alone)):
        target = TARGETS[together[0]]
        proven = joint_thresholds({kind: _worthwhile(kind, steps[kind]) for kind in together}, target)
        at = [_at(steps[kind], proven[kind]) for kind in together]
        accepted, wrong = sum(step.accepted for step in at), sum(step.wrong for step in at)
        counted = sum(_at(steps[kind], _counted(steps[kind], target)).accepted for kind in together)
        shown = accepted > 0 and upper_bound(wrong, accepted, BOUND_CONFIDENCE) <= target
        if shown and accepted >= _WORTH_A_BOUND * counted:
            found |= proven
    return found


def _worthwhile(kind: str, steps: Sequence[Step]) -> list[Step]:
    """The steps that a joint choice may stop at: not above what the kind has to let through, and each further error
    buying fewer fields than the one before (the upper hull), so that no good step hides behind a poor one.
    """
    hull: list[Step] = []
    for step in steps:
        if step.confidence > _NOT_ABOVE.get(kind, 1.0):
            continue
        while hull and hull[-1].wrong == step.wrong:
            hull.pop()
        while len(hull) > 1 and _gain(hull[-2], hull[-1]) <= _gain(hull[-2], step):
            hull.pop()
        hull.append(step)
    return hull


def _gain(before: Step, after: Step) -> float:
    return (after.accepted - before.accepted) / (after.wrong - before.wrong)


def _at(steps: Sequence[Step], threshold: float) -> Step:
    """What a threshold lets through."""
    return max((s for s in steps if s.confidence >= threshold), key=lambda s: s.accepted, default=Step(1.0, 0, 0))


def _counted(steps: Sequence[Step], target: float) -> float:
    """The lowest threshold that keeps the target as counted."""
    kept = [step.confidence for step in steps if step.wrong <= target * step.accepted]
    return min(max(min(kept, default=CAP), LEAST_THRESHOLD), CAP)


def _entry(
    chosen: ConfidenceMap,
    steps: tuple[Step, ...],
    shown: np.ndarray,
    right: np.ndarray,
    target: float,
    proven: float | None,
) -> dict[str, Any]:
    threshold = proven if proven is not None else _counted(steps, target)
    accepted = shown >= threshold
    wrong = int((accepted & ~right).sum())
    at_most = upper_bound(wrong, int(accepted.sum()), BOUND_CONFIDENCE) if accepted.any() else 1.0
    return {
        **chosen._asdict(),
        "threshold": round(threshold, 7),
        "shown_by_bound": proven is not None or at_most <= target,
        "fitted_on": len(right),
        "wrong_among_them": int((~right).sum()),
        "accepted_at_threshold": int(accepted.sum()),
        "wrong_at_threshold": wrong,
        "at_most_wrong": round(at_most, 6),
    }


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=420)
    parser.add_argument("--data", type=Path, help="with it, pages in hands kept apart as well")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    folder = Path(__file__).parents[1] / "settle" / "old"
    parser.add_argument("--out", type=Path, default=folder / "calibration.json")
    given = parser.parse_args()
    tried = list(tried_on_pages(given.pages, given.data, given.workers))
    result = {"pages": given.pages, "in_hands_kept_apart": bool(given.data)} | fit(tried)
    given.out.write_text(json.dumps(result, indent=1) + "\n")
    print(summary(result, tried))


def summary(result: dict[str, Any], tried: Iterable[Tried]) -> str:
    """A line a kind: fields written, share of them accepted, how many of these are wrong."""
    lines = ["kind                written  right  accepted  wrong"]
    tried = list(tried)
    for kind, entry in result["kinds"].items():
        chosen = ConfidenceMap(entry["slope"], entry["clean_slope"], entry["offset"])
        mine = [one for one in tried if one.kind == kind and one.written]
        if not mine:
            continue
        shown = confidences(np.array([[log_odds(one.raw), 0.0] for one in mine]), chosen)
        taken = [one for one, c in zip(mine, shown, strict=True) if c >= entry["threshold"] and not one.barred]
        right = sum(one.right for one in mine) / len(mine)
        wrong = sum(not one.right for one in taken)
        lines.append(f"{kind:18} {len(mine):8}  {right:5.1%}  {len(taken) / len(mine):8.1%}  {wrong:5}")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
