"""Settle what only a week's sheet has: one sign a day for each item, hour meter and initials of each day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np

from scanform.form import DAY_TITLES, DAYS, Field, FieldKind, Layout, date_of, parted
from scanform.read import EMPTY, Reading
from scanform.settle.calibration import calibration_for
from scanform.settle.combs import CombResult, clean_share, comb_text, log_likelihoods, miswritten
from scanform.settle.hours import hours_window, settle_hours
from scanform.settle.types import Known, MeterReading
from scanform.settle.verdict import Verdict, settled, verdict_on

__all__ = ["days_used", "settle_day_number", "week_verdicts"]

_A_SIGN = 0.5
_FEWEST_ODD_SIGNS = 2
_FEWEST_DIGITS = 2  # a whole hour and its tenths
_SURE_INITIALS = 0.95
_THIS_UNIT = "this sheet's"  # stands for a doubtful one: what its meter showed on the other days is known all the same
_INK_ALLOWS_DAY = 0.1  # as for item numbers: there is nothing to check a day by


def week_verdicts(
    layout: Layout, by_id: Mapping[str, Reading], known: Known, unit: str | None, monday: date | None
) -> dict[str, Verdict]:
    """Verdicts of all marks, of each day's hours and of its initials.

    ``unit``, ``monday``: None where they are doubtful; then nothing is known about the meter from other sheets. Each
    day's hours, once sure, bound those of the days after it, whosever meter it is, if the days are known. A day
    without any sign, hours or initials was no working day: its empty fields are right as they are.
    """
    used = days_used(layout, by_id)
    chosen = calibration_for(known.silent_error_target, known.thresholds)
    if unit is None:
        known, unit = replace(known, readings=()), _THIS_UNIT
    verdicts: dict[str, Verdict] = {}
    for spec in layout.fields:
        stem, day = parted(spec.id)
        if day is None:
            continue
        reading = by_id[spec.id]
        if spec.kind is FieldKind.MARK:
            verdicts[spec.id] = _mark(spec, reading, day, day in used)
        elif stem == "hours":
            on = date_of(monday, day)
            verdict = _hours(spec, reading, known, unit, on, day in used)
            verdicts[spec.id] = verdict
            hours = settled(verdict, chosen)
            if on is not None and hours.value is not None and hours.state == "accepted":
                known = replace(known, readings=(*known.readings, MeterReading(unit, on, Decimal(str(hours.value)))))
        elif stem == "initials":
            best = reading.alternatives[0]
            verdicts[spec.id] = Verdict(spec, reading, best.value, best.probability, "signature")
            if best.value is False and day in used:
                verdicts[spec.id].doubt(f"there are entries for {_title(day)}, and nobody has put initials to them")
    return verdicts


def days_used(layout: Layout, by_id: Mapping[str, Reading]) -> frozenset[str]:
    """The days for which anything is written: a sign, hours, or initials.

    Dirt alone makes no working day, since every empty box of such a day would be doubted: one box with ink that is none
    of the signs, one cell of the hour meter, or initials that may be dirt are doubted by themselves.
    """
    signs: Counter[str] = Counter()
    used = set()
    for spec in layout.fields:
        stem, day = parted(spec.id)
        if day is None:
            continue
        reading = by_id[spec.id]
        best = reading.alternatives[0]
        if spec.kind is FieldKind.MARK and best.probability < _A_SIGN:
            signs[day] += 1  # struck out, or none of the legend's
        elif spec.kind is FieldKind.MARK and best.value is not None:
            signs[day] += _FEWEST_ODD_SIGNS
        elif stem == "hours":
            used |= {day} if len(comb_text(reading)[0].replace(EMPTY, "")) >= _FEWEST_DIGITS else set()
        elif stem == "initials":
            used |= {day} if best.value is True and best.probability >= _SURE_INITIALS else set()
    return frozenset(used | {day for day, count in signs.items() if count >= _FEWEST_ODD_SIGNS})


def _mark(spec: Field, reading: Reading, day: str, used: bool) -> Verdict:
    best = reading.alternatives[0]
    verdict = Verdict(spec, reading, best.value, best.probability, "mark")
    for evidence in reading.evidence:
        verdict.doubt(evidence)
    if best.value is None and used and not verdict.reasons:
        verdict.doubt(f"no answer is marked for {_title(day)}, a day with other entries")
    return verdict


def _hours(spec: Field, reading: Reading, known: Known, unit: str, on: date | None, used: bool) -> Verdict:
    window = hours_window(known, unit, on)
    result = settle_hours(reading, window)
    if result.value is None and not used:
        result.reasons.clear()
    verdict = verdict_on(spec, reading, result, "hours" if window else "hours-free")
    for evidence in reading.evidence:
        verdict.doubt(evidence)
    return verdict


def _title(day: str) -> str:
    return DAY_TITLES[DAYS.index(day)]


def settle_day_number(reading: Reading, likely: set[int]) -> CombResult:
    """A defect line's day, 1 for Monday to 7 (ISO 8601): likelier one on which the line's item has a defect."""
    rows = reading.cell_probabilities
    assert rows is not None
    text, best = comb_text(reading)
    if not text.strip():
        return CombResult(None, float(np.exp(best)), clean=clean_share(reading))
    numbers = range(1, len(DAYS) + 1)
    scores = log_likelihoods(rows, [str(n).rjust(rows.shape[0]) for n in numbers])
    if scores.max() - best < np.log(_INK_ALLOWS_DAY):
        return CombResult(text.strip(), 0.3, [f"the ink reads '{text.strip()}', which is no day's number (1 to 7)"])
    weighed = scores + np.array([0.0 if n in likely or not likely else np.log(0.1) for n in numbers])
    weights = np.exp(weighed - weighed.max())
    total = float(weights.sum())
    if scores.max() < best:
        total += miswritten(rows) * float(np.exp(best - scores[int(weighed.argmax())]))
    order = np.argsort(weights)[::-1]
    alternatives = [(str(int(k) + 1), float(weights[k]) / total) for k in order[:3]]
    return CombResult(str(int(order[0]) + 1), float(weights[order[0]]) / total, [], alternatives, clean_share(reading))
