"""Weeks whose sheets are far more alike in hand and ink than the same unit's other weeks.

What can be measured is how dark each sheet's marks are and what they look like on average. People press and write a
little differently from day to day; sheets filled in at one sitting differ less. A week is named only if its sheets vary
in both less than half as much as the least of the unit's other weeks does: a unit is compared with nobody but itself.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import pandas as pd

from scanform.binder import Binder
from scanform.report.frames import rows

__all__ = ["InkWeek", "weeks_in_one_ink", "whole_boxes"]

_BOX = 64  # bytes of an ink signature a box: 8 x 8 (read/ink_check.py)
_INKED = 8.0  # mean darkness of 255 from which a box counts as inked, as in settle/duplicates.py
_FEWEST_BOXES = 6
_FEWEST_SHEETS = 4  # of a week
_FEWEST_WEEKS = 4  # others to compare with
_WEEKS_BACK = 12
_PART = 0.5


@dataclass(frozen=True)
class InkWeek:
    """A week in one hand and one ink, as far as ink can say; ``sentence`` has the figures."""

    unit: str
    first: dt.date
    last: dt.date
    sheets: tuple[int, ...]
    sentence: str


def weeks_in_one_ink(binder: Binder, sheets: pd.DataFrame, since: dt.date, until: dt.date) -> list[InkWeek]:
    """Such weeks that end in a stretch of days, by unit; ``sheets`` as from ``counted_sheets``."""
    start = since - dt.timedelta(weeks=_WEEKS_BACK)
    near = sheets[sheets["unit"].notna() & sheets["date"].between(str(start), str(until))]
    inks = binder.ink_signatures(sorted(near["sheet"]))
    looks = {number: look for number, ink in inks.items() if (look := _look(ink)) is not None}
    weeks: dict[tuple[str, str], list[tuple[str, int]]] = defaultdict(list)
    for row in rows(near.sort_values(["unit", "date"])):
        if row.sheet in looks:
            iso = dt.date.fromisoformat(row.date).isocalendar()
            weeks[row.unit, f"{iso.year}-W{iso.week:02d}"].append((row.date, row.sheet))
    spreads: dict[str, dict[str, tuple[float, float]]] = defaultdict(dict)
    for (unit, week), listed in weeks.items():
        if len(listed) >= _FEWEST_SHEETS:
            spreads[unit][week] = _spread([looks[sheet] for _, sheet in listed])
    found = []
    for unit, by_week in sorted(spreads.items()):
        for week, (darkness, shape) in by_week.items():
            others = [spread for name, spread in by_week.items() if name != week]
            listed = weeks[unit, week]
            last = dt.date.fromisoformat(listed[-1][0])
            if len(others) < _FEWEST_WEEKS or not since <= last <= until:
                continue
            least_darkness, least_shape = min(d for d, _ in others), min(s for _, s in others)
            if darkness < _PART * least_darkness and shape < _PART * least_shape:
                sentence = (
                    f"the marks on the {len(listed)} sheets of week {week} are alike in darkness to {darkness:.1%} and "
                    f"in form to {shape:.1%}; in {len(others)} other weeks of the unit they differ by at least "
                    f"{least_darkness:.1%} and {least_shape:.1%}"
                )
                numbers = tuple(sheet for _, sheet in listed)
                found.append(InkWeek(unit, dt.date.fromisoformat(listed[0][0]), last, numbers, sentence))
    return found


def whole_boxes(ink: bytes) -> bool:
    """Whether an ink signature is one that this version reads: so many bytes a box."""
    return len(ink) % _BOX == 0


def _look(ink: bytes) -> tuple[float, np.ndarray] | None:
    """Mean darkness of a sheet's marks and their mean form (float64, 64), of unit length; None with few marks."""
    if not whole_boxes(ink):
        return None
    boxes = np.frombuffer(ink, np.uint8).astype(np.float64).reshape(-1, _BOX)
    inked = boxes[boxes.mean(axis=1) >= _INKED]
    if len(inked) < _FEWEST_BOXES:
        return None
    mean = inked.mean(axis=0)
    return float(mean.mean()), mean / np.linalg.norm(mean)


def _spread(looks: list[tuple[float, np.ndarray]]) -> tuple[float, float]:
    """How much sheets differ: the spread of darkness as a share of it, and the mean distance from the mean form."""
    darkness = np.array([dark for dark, _ in looks])
    forms = np.stack([form for _, form in looks])
    return float(darkness.std() / darkness.mean()), float(np.linalg.norm(forms - forms.mean(axis=0), axis=1).mean())
