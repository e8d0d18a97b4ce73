"""Which comes first in a stack's dates of numbers alone, day or month, told by the row that they make.

From one sheet of a stack to the next the day changes often and the month seldom: 2/9, 3/9, 3/9, 4/9 are four days of
September, not one day each of four months.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from itertools import pairwise

__all__ = ["may_be_monthly", "order_by_row"]

# Weight of two sheets filed side by side that are so many days apart, beside those within a week; no outside source.
# Sheets that are in no order lie within the stack's own weeks as well, if they are read the right way.
_WEEK, _MONTH = 7, 31
_WITHIN_MONTH, _FURTHER = 0.1, 0.02
_SAME_DAY = 0.8  # of a row's days; a date or two may be misread
_TELLS = 1000.0  # times as much weight as the other order


def order_by_row(day_first: Sequence[date | None], month_first: Sequence[date | None]) -> str:
    """``dmy`` or ``mdy`` if the stack's days, read in that order, make by far the better row; else empty.

    Both have each sheet's day in the order of filing, the same where its date leaves no choice; None if it says none.
    """
    weights = {"dmy": _row_weight(day_first), "mdy": _row_weight(month_first)}
    better, worse = sorted(weights, key=weights.__getitem__, reverse=True)
    return better if weights[better] >= _TELLS * weights[worse] else ""


def may_be_monthly(row: Sequence[date | None]) -> bool:
    """Whether a row is of sheets filled in once a month, on the same day of it: the row alone tells no order then."""
    days = Counter(day.day for day in row if day is not None)
    return not days or max(days.values()) >= _SAME_DAY * days.total()


def _row_weight(row: Sequence[date | None]) -> float:
    known = [day for day in row if day is not None]
    weight = 1.0
    for one, other in pairwise(known):
        away = abs((other - one).days)
        weight *= 1.0 if away <= _WEEK else _WITHIN_MONTH if away <= _MONTH else _FURTHER
    return max(weight, 1e-300)
