"""Hour meters that nobody is sure of one by one, and that together can hardly be misread: they go on as meters do."""

from __future__ import annotations

from collections.abc import Sequence

from scanform.settle.hours import MOST_HOURS_A_DAY
from scanform.settle.types import MeterReading

__all__ = ["readings_that_go_on"]

_FEWEST = 4  # readings that a misread one is told by
_MOST_LEFT_OUT = 0.35  # of a unit's readings; a meter of which more do not fit was replaced, or is misread throughout


def readings_that_go_on(readings: Sequence[MeterReading]) -> tuple[MeterReading, ...]:
    """The most of one unit's readings that follow each other as a meter runs; none if too few do.

    A meter never runs backwards, nor faster than the clock.
    """
    ordered = sorted(readings, key=lambda reading: (reading.on, reading.hours))
    if len(ordered) < _FEWEST:
        return ()
    longest, before = [1] * len(ordered), [-1] * len(ordered)
    for n, reading in enumerate(ordered):
        for k in range(n):
            if longest[k] >= longest[n] and _may_follow(ordered[k], reading):
                longest[n], before[n] = longest[k] + 1, k
    at = max(range(len(ordered)), key=longest.__getitem__)
    if longest[at] < max(_FEWEST, (1 - _MOST_LEFT_OUT) * len(ordered)):
        return ()
    chain = []
    while at >= 0:
        chain.append(ordered[at])
        at = before[at]
    return tuple(reversed(chain))


def _may_follow(one: MeterReading, other: MeterReading) -> bool:
    most = MOST_HOURS_A_DAY * ((other.on - one.on).days + 1)
    return 0 <= other.hours - one.hours <= most
