"""Fit the calibration of what only old forms have: words to circle, dates, hours and unit numbers in free writing.

    python -m scanform.training.old_settling --pages 420

Pages of :mod:`scanform.training.old_fields`, seeds from 5,820,000. Dates are settled with what a binder's other sheets
tell half of the time, now and then with sheets filed before and after besides, and with nothing the rest; hours beside
a neighbour a few days away, between two of them, and alone.
"""

from __future__ import annotations

import argparse
import json
import os
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from rich.progress import track

from scanform.form import Field, Layout
from scanform.read import Instruments, Reading, read_sheet
from scanform.settle import Known, MeterReading, UnitRecord, same_value, upper_bound
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
from scanform.settle.old import old_verdicts
from scanform.settle.verdict import Verdict
from scanform.simulate import Grade, random_unit
from scanform.training.maps import confidences, platt
from scanform.training.old_fields import Truth, make_field_page

__all__ = ["TARGETS", "Tried", "fit", "tried_fields"]

SEEDS = 5_820_000
_GRADES = (Grade.OFFICE, Grade.WORN, Grade.BITONAL)
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
_TODAY = date(2026, 7, 1)
_UNITS = 24
_NEIGHBOURS, _NEIGHBOUR_DAYS = 20, 25
# Of the dates with others about them, those in a stack that is told sheet by sheet; stacks in order and in none; sheets
# in the wrong place; sheets a day. No outside source.
_FILED, _IN_ORDER, _MISFILED, _SHEETS_A_DAY = 0.6, 0.8, 0.05, (1, 2, 3, 6)


@dataclass(frozen=True)
class Tried:
    """One field as it was settled, and whether that is right. ``kind``: what it is calibrated as."""

    kind: str
    raw: float
    right: bool
    barred: bool
    written: bool


def tried_fields(
    layout: Layout, readings: Iterable[Reading], truth: dict[str, Truth], order: str, rng: np.random.Generator
) -> Iterator[Tried]:
    """Every field of a page, settled alone as if it were the only one of its name on a sheet of a binder."""
    by_id = {reading.field_id: reading for reading in readings}
    for spec in layout.fields:
        stem = spec.id.partition(".")[0]
        for known, beside in _knowledge(stem, truth[spec.id], order, rng):
            yield _tried(_settled_alone(layout, spec, by_id[spec.id], known, beside), truth[spec.id])


def _knowledge(
    stem: str, truth: Truth, order: str, rng: np.random.Generator
) -> Iterator[tuple[Known, tuple[str, date] | None]]:
    """What may be known when a field is settled; for hours also the unit and the day of the sheet."""
    known = Known(today=_TODAY)
    if stem == "date":
        if rng.random() < 0.5:
            known = replace(known, day_first=8 * (order == "dmy"), month_first=8 * (order == "mdy"))
        if truth.value is not None and rng.random() < 0.5:
            away = rng.integers(-_NEIGHBOUR_DAYS, _NEIGHBOUR_DAYS + 1, _NEIGHBOURS)
            day = date.fromisoformat(truth.value)
            known = replace(known, days=tuple(day + timedelta(days=int(n)) for n in away))
            if rng.random() < _FILED:
                known = replace(known, **_filed(day, rng))
        yield known, None
    elif stem == "hours":
        yield known, None
        if truth.value is not None:
            days = int(rng.integers(1, 5))
            before = max(Decimal(truth.value) - Decimal(int(rng.integers(0, 120 * days))) / 10, Decimal(0))
            on = _TODAY - timedelta(days=30)
            reading = MeterReading("X1", on - timedelta(days=days), before)
            yield replace(known, readings=(reading,)), ("X1", on)
            yield replace(known, readings=_both_sides(Decimal(truth.value), on, rng)), ("X1", on)
    elif stem == "unit":
        yield known, None
        units = {random_unit(int(rng.integers(4, 7)), rng) for _ in range(_UNITS)}
        if truth.value is not None and rng.random() < 0.98:
            units.add(truth.value)
        yield replace(known, units=tuple(UnitRecord(unit) for unit in sorted(units))), None
    else:
        yield known, None


def _both_sides(hours: Decimal, on: date, rng: np.random.Generator) -> tuple[MeterReading, ...]:
    """Readings before and after one, each up to three days away, of a machine that works up to twelve hours a day."""
    found = []
    for onward in (-1, 1):
        days = int(rng.integers(1, 4))
        run = Decimal(int(rng.integers(0, 121)) * days) / 10
        found.append(MeterReading("X1", on + timedelta(days=onward * days), max(hours + onward * run, Decimal(0))))
    return tuple(found)


def _filed(day: date, rng: np.random.Generator) -> dict[str, Any]:
    """A stack of which one sheet is of ``day``: the dates of the others, as far as they are accepted, and its place."""
    count, a_day = 2 * _NEIGHBOURS, int(rng.choice(_SHEETS_A_DAY))
    place = int(rng.integers(count))
    away = (np.arange(count) - place) // a_day
    if rng.random() >= _IN_ORDER:
        away = rng.integers(-_NEIGHBOUR_DAYS, _NEIGHBOUR_DAYS + 1, count)
    elif rng.random() < _MISFILED:
        away = away + int(rng.integers(3, _NEIGHBOUR_DAYS)) * int(rng.choice((-1, 1)))
    last = count if rng.random() < 0.5 else place  # read a second time, or with the sheets before it alone
    filed = [day + timedelta(days=int(n)) if rng.random() < 0.75 else None for n in away]
    return {"filed": tuple(filed[:last]), "place": place}


def _settled_alone(
    layout: Layout, spec: Field, reading: Reading, known: Known, beside: tuple[str, date] | None
) -> Verdict:
    return old_verdicts(replace(layout, fields=(spec,)), [reading], known, beside)[spec.id]


def _tried(verdict: Verdict, truth: Truth) -> Tried:
    said, true = verdict.value, truth.value
    if verdict.calibrated_as.startswith("written-hours") and said is not None and true is not None:
        right = Decimal(str(said)) == Decimal(true)
    else:
        right = same_value("unit" if "unit" in verdict.calibrated_as else verdict.spec.id, said, true)
    written = truth.value is not None or truth.unclear
    return Tried(verdict.calibrated_as, verdict.raw, right and not truth.unclear, bool(verdict.reasons), written)


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
    return {
        **chosen._asdict(),
        "threshold": round(threshold, 7),
        "shown_by_bound": proven is not None,
        "fitted_on": len(right),
        "wrong_among_them": int((~right).sum()),
        "accepted_at_threshold": int(accepted.sum()),
        "wrong_at_threshold": wrong,
        "at_most_wrong": round(upper_bound(wrong, int(accepted.sum()), BOUND_CONFIDENCE), 6) if accepted.any() else 1.0,
    }


@lru_cache(maxsize=1)
def _instruments() -> Instruments:
    return Instruments()


def _page(n: int) -> list[Tried]:
    page = make_field_page(SEEDS + n, _GRADES[n % len(_GRADES)])
    readings = read_sheet(page.sheet, _instruments())
    return list(tried_fields(page.sheet.layout, readings, page.truth, page.order, np.random.default_rng([SEEDS, n])))


def _pages(count: int, workers: int) -> Iterator[Tried]:
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for tried in track(pool.map(_page, range(count), chunksize=4), total=count, description="Reading"):
            yield from tried


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=420)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    folder = Path(__file__).parents[1] / "settle" / "old"
    parser.add_argument("--out", type=Path, default=folder / "calibration.json")
    given = parser.parse_args()
    tried = list(_pages(given.pages, given.workers))
    result = {"pages": given.pages} | fit(tried)
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
