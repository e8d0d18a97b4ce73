"""The Monday of the week that a date on a week's sheet stands for, by what is printed beside it."""

from __future__ import annotations

import re
from datetime import date, timedelta

from scanform.read import Alternative
from scanform.settle.combs import CombResult

__all__ = ["as_week"]

_ENDS, _BEGINS = (
    re.compile(r"\bend|\bw\s*/?\s*e\b", re.I),
    re.compile(r"\bbegin|\bcommenc|\bstart|\bw\s*/?\s*[bc]\b", re.I),
)
_SUNDAY = 6


def as_week(result: CombResult, label: str) -> CombResult:
    """The same result with Mondays for dates, in place; a doubt where the date is not that of a week's first or last
    day as the label has it.
    """
    if result.value is None:
        return result
    day = date.fromisoformat(result.value)
    monday = _monday(day, label)
    if not _ENDS.search(label) and day != monday and not (day.weekday() == _SUNDAY and monday > day):
        result.reasons.append(
            f"{day.isoformat()} is a {day:%A}; the week is taken to begin on Monday, {monday.isoformat()}"
        )
    result.value = monday.isoformat()
    shares: dict[str, float] = {}
    for other in result.alternatives:
        if isinstance(other.value, str):
            begins = _monday(date.fromisoformat(other.value), label).isoformat()
            shares[begins] = shares.get(begins, 0.0) + other.probability
    result.alternatives = tuple(Alternative(value, share) for value, share in shares.items())
    return result


def _monday(day: date, label: str) -> date:
    """Weeks are those of ISO 8601; one that is said to begin on a Sunday has its Monday a day later."""
    if day.weekday() == _SUNDAY and _BEGINS.search(label) and not _ENDS.search(label):
        return day + timedelta(days=1)
    return day - timedelta(days=day.weekday())
