"""Hour meters that nobody is sure of one by one, and that together can hardly be misread: they go on as meters do.

A reading may be one of several numbers (its point may have gone unseen, its 1 may be a 7) or none of them (misread, or
filed under another machine or day). Of all ways to pick numbers that a meter can have run through, each counts as much
as the ink of its numbers and its pace allow; a number that nearly all of that weight goes through is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

import numpy as np

from scanform.settle.hours import MOST_HOURS_A_DAY
from scanform.settle.types import MeterReading

__all__ = ["MayRead", "readings_that_go_on"]

_KNOWN = 0.99  # share of the weight of all runs from which a number is known
_FEWEST = 2  # readings on a run: one by itself goes on from nothing
_ON_RUN = 0.6  # of the readings; a meter of which fewer go on was replaced, or is misread throughout
_NEAREST = 12  # readings before and after the day in question; those further off tell little more
_ASTRAY, _SURE_ASTRAY = 0.05, 0.005  # of doubtful readings, and of accepted ones, that no run goes through
_NUMBERS = 1e6  # tenths of an hour that a meter of five digits may show
# Pace, in hours a day: machines of which a sheet is written do 1 to 14 on most days (common practice); more or less
# than that is as much less likely.
_SLOW, _FAST = 1, 14
_SLOWER, _FASTER = 0.25, 0.1


class MayRead(NamedTuple):
    """What one sheet may say of a unit's meter: numbers, each with its probability by the ink alone."""

    on: date
    values: tuple[tuple[Decimal, float], ...]
    sure: bool = False

    @classmethod
    def accepted(cls, reading: MeterReading) -> MayRead:
        """A reading that nobody doubts."""
        return cls(reading.on, ((reading.hours, 1.0),), sure=True)


def readings_that_go_on(unit: str, readings: Sequence[MayRead], about: date) -> tuple[MeterReading, ...]:
    """What is known of one unit's meter from the readings before and after a day together, oldest first.

    A meter never runs backwards, nor faster than the clock.
    """
    near = _nearest([reading for reading in readings if reading.values], about)
    if len(near) < _FEWEST:
        return ()
    shares = _shares(near)
    if np.mean([share.sum() for share in shares]) < _ON_RUN:
        return ()
    found = [
        MeterReading(unit, reading.on, reading.values[int(np.argmax(share))][0])
        for reading, share in zip(near, shares, strict=True)
        if share.max() >= _KNOWN
    ]
    return tuple(found) if len(found) >= _FEWEST else ()


def _nearest(readings: Sequence[MayRead], about: date) -> list[MayRead]:
    ordered = sorted(readings, key=lambda reading: (reading.on, max(reading.values, key=lambda v: v[1])[0]))
    before = sum(reading.on <= about for reading in ordered)
    return ordered[max(before - _NEAREST, 0) : before + _NEAREST]


def _shares(readings: Sequence[MayRead]) -> list[np.ndarray]:
    """Of each reading's numbers, float64 (k,), the share of the weight of all runs that goes through it.

    Weights are those of all numbers being equally likely; a run has two readings at least.
    """
    count = len(readings)
    ink = [np.array([share for _, share in reading.values]) for reading in readings]
    hours = [np.array([float(value) for value, _ in reading.values]) for reading in readings]
    astray = np.array([_SURE_ASTRAY if reading.sure else _ASTRAY for reading in readings])
    steps = {
        (j, i): _steps(hours[j], hours[i], (readings[i].on - readings[j].on).days)
        for i in range(count)
        for j in range(i)
    }
    begun = [np.cumprod([1.0, *astray])[i] * ink[i] for i in range(count)]  # as the first reading of its run
    led = [np.zeros_like(share) for share in ink]  # as a later one
    for i in range(count):
        skipped = 1.0
        for j in range(i - 1, -1, -1):
            led[i] += skipped * (begun[j] + led[j]) @ steps[j, i]
            skipped *= astray[j]
        led[i] *= ink[i]
    ended = [np.prod(astray[i + 1 :]) * np.ones_like(ink[i]) for i in range(count)]
    goes_on = [np.zeros_like(share) for share in ink]
    for i in range(count - 1, -1, -1):
        skipped = 1.0
        for j in range(i + 1, count):
            goes_on[i] += skipped * steps[i, j] @ (ink[j] * (ended[j] + goes_on[j]))
            skipped *= astray[j]
    weight = [led[i] * (ended[i] + goes_on[i]) + begun[i] * goes_on[i] for i in range(count)]
    total = sum(float((led[i] * ended[i]).sum()) for i in range(count))
    alone = sum(float((begun[i] * ended[i]).sum()) for i in range(count)) + float(np.prod(astray))
    return [share / max(total + alone, 1e-300) for share in weight]


def _steps(before: np.ndarray, after: np.ndarray, days: int) -> np.ndarray:
    """Weight of each step from one sheet's numbers to another's, float64 (m, n): 1 if neither told of the other.

    A sheet may be filled in at the start of one day and at the end of the other.
    """
    most = MOST_HOURS_A_DAY * (days + 1)
    run = after[None, :] - before[:, None]
    least = -most if days == 0 else 0  # of two sheets of one day either may be the first
    pace = np.select([run < _SLOW * days, run <= _FAST * (days + 1)], [_SLOWER, 1.0], _FASTER)
    return np.where((run >= least) & (run <= most), pace, 0.0) * _NUMBERS / (10 * (most - least))
