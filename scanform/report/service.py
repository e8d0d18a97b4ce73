"""Service due by meter hours: which step was passed last, which comes next, and about when.

The date is a projection, and this is how it is made. A unit's use in each stretch of fourteen days of the last eight
weeks (idle days included) gives a range of paces; the hours that are left, at the whole eight weeks' pace, give the
date, and at the fastest and slowest of the fourteen-day paces its range. While fewer than four weeks are on record the
stretches are half as long as what there is. Whether a service was done is not on the sheets: the last step passed is
named so that somebody can look.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from scanform.binder import Binder
from scanform.report.frames import rows
from scanform.report.meter import daily_use, meter_readings
from scanform.report.sheet_days import counted_sheets

__all__ = ["METHOD", "USUAL_STEPS", "ServiceDue", "service_due"]

USUAL_STEPS = (250, 500, 1_000, 2_000)  # hours; common practice
METHOD = (
    "Projected from the last eight weeks: the hours left at their pace, and at that of their fastest and slowest "
    "fourteen days (shorter stretches while few days are on record)."
)
_WINDOW_DAYS, _PACE_DAYS, _FEWEST_DAYS = 56, 14, 5
_SOON_DAYS = 14
_FARTHEST_DAYS = 3_650


@dataclass(frozen=True)
class ServiceDue:
    """A unit's next service. ``hours`` is the last believed reading, taken on ``read_on``.

    ``passed``: the last step passed, with the first day on which the meter stood beyond it if that is on record.
    ``step`` is the largest interval that falls on ``due_at``. ``about``, ``earliest``, ``latest``: None where the
    sheets do not say how fast it runs, or where it hardly runs.
    """

    unit: str
    kind: str
    hours: float
    read_on: dt.date
    a_day: float | None
    due_at: int
    step: int
    passed: int
    passed_on: dt.date | None
    about: dt.date | None
    earliest: dt.date | None
    latest: dt.date | None

    @property
    def hours_left(self) -> float:
        """From the last reading to the next step."""
        return round(self.due_at - self.hours, 1)

    def is_near(self, today: dt.date) -> bool:
        """Whether it may be due within a fortnight."""
        return self.earliest is not None and (self.earliest - today).days <= _SOON_DAYS


def service_due(binder: Binder, today: dt.date, readings: pd.DataFrame | None = None) -> list[ServiceDue]:
    """Every unit's next service by what was read up to ``today``, the soonest first.

    ``readings``: as from :func:`meter_readings`, if they are at hand.
    """
    if readings is None:
        readings = meter_readings(binder, counted_sheets(binder))
    good = readings[readings["believed"] & (readings["date"] <= today.isoformat())]
    kinds = {unit.unit: unit.kind or "" for unit in binder.units()}
    steps = binder.settings().service_steps
    use = daily_use(readings)
    use = use[(use["until"] <= today.isoformat())]
    of_unit = {str(name): part for name, part in use.groupby("unit", sort=False)}
    found = [
        _due(str(unit), kinds.get(str(unit), ""), mine, of_unit.get(str(unit), use.iloc[:0]), steps)
        for unit, mine in good.groupby("unit", sort=True)
    ]
    return sorted(found, key=lambda d: (d.about or dt.date.max, d.hours_left, d.unit))


def _due(
    unit: str, kind: str, readings: pd.DataFrame, use: pd.DataFrame, steps: Mapping[str, Sequence[int]]
) -> ServiceDue:
    last = readings.iloc[-1]
    hours, read_on = float(last["hours"]), dt.date.fromisoformat(last["date"])
    mine = tuple(steps.get(kind) or steps.get("") or USUAL_STEPS)
    # Steps need not divide each other: of 400 and 1,000 h the next and the last may be of either.
    due_at = min((math.floor(hours / every) + 1) * every for every in mine)
    passed = max(math.floor(hours / every) * every for every in mine)
    step = max(every for every in mine if due_at % every == 0)
    whole, slowest, fastest = _paces(use, read_on)
    left = due_at - hours
    return ServiceDue(
        unit=unit,
        kind=kind,
        hours=hours,
        read_on=read_on,
        a_day=whole,
        due_at=due_at,
        step=step,
        passed=passed,
        passed_on=_passed_on(readings[readings["meter"] == last["meter"]], passed),
        about=_after(read_on, left, whole),
        earliest=_after(read_on, left, fastest),
        latest=_after(read_on, left, slowest),
    )


def _paces(use: pd.DataFrame, until: dt.date) -> tuple[float | None, float | None, float | None]:
    """Hours a calendar day: over the whole window, in its slowest and in its fastest fourteen days."""
    daily = np.full(_WINDOW_DAYS, np.nan)
    begin = (until - dt.timedelta(days=_WINDOW_DAYS)).isoformat()
    for row in rows(use[use["until"] >= begin]):
        since = dt.date.fromisoformat(row.since)
        for n in range(row.days):
            place = _WINDOW_DAYS - (until - since).days + n
            if 0 <= place < _WINDOW_DAYS:
                daily[place] = row.hours / row.days
    known = ~np.isnan(daily)
    if known.sum() < _FEWEST_DAYS:
        return None, None, None
    whole = float(np.nanmean(daily))
    length = min(_PACE_DAYS, int(known.sum()) // 2)
    stretches = np.lib.stride_tricks.sliding_window_view(daily, length)
    means = np.nanmean(stretches[(~np.isnan(stretches)).sum(axis=1) > length // 2], axis=1)
    return round(whole, 2), float(min(means.min(), whole)), float(max(means.max(), whole))


def _after(day: dt.date, hours: float, pace: float | None) -> dt.date | None:
    if pace is None or pace <= 0 or hours / pace > _FARTHEST_DAYS:
        return None
    return day + dt.timedelta(days=math.ceil(hours / pace))


def _passed_on(readings: pd.DataFrame, passed: int) -> dt.date | None:
    """The day of the first reading beyond a step, if one before it is on record too."""
    beyond = readings[readings["hours"] >= passed]
    if not passed or len(beyond) == len(readings) or beyond.empty:
        return None
    return dt.date.fromisoformat(str(beyond["date"].iloc[0]))
