"""What of the days asked for is not counted, and why, in sentences that go with the count."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Container, Mapping, Sequence

import pandas as pd

__all__ = ["notes_on"]

_MOST_NAMED = 8


def notes_on(
    since: dt.date,
    asked: dt.date,
    today: dt.date,
    begins: Mapping[str, dt.date],
    with_sheets: Container[str],
    days: pd.DataFrame,
) -> tuple[str, ...]:
    """``asked``: the last day asked for; ``begins``: each unit's first day that counts; ``with_sheets``: the units that
    have any sheet at all; ``days``: as from ``sheet_days``.
    """
    notes = []
    if asked > today:
        notes.append(f"The days after {today} are still to come; they are not counted.")
    ahead = days[days["filled"].astype(bool) & (days["date"] > today.isoformat()) & (days["date"] <= asked.isoformat())]
    if len(ahead):
        sheets = _named([str(sheet) for sheet in dict.fromkeys(ahead["sheet"])])
        stands = min(ahead["date"])
        notes.append(f"Filed under days still to come, from {stands} on: sheet {sheets}; look at the date.")
    before: dict[dt.date, list[str]] = defaultdict(list)
    without: dict[dt.date, list[str]] = defaultdict(list)
    for unit, begin in begins.items():
        if unit not in with_sheets:
            without[begin].append(unit)
        elif begin > since:
            before[begin].append(unit)
    for begin, units in sorted(before.items()):
        notes.append(f"{_named(units)}: no sheet before {begin} is on record; those days are not counted.")
    for begin, units in sorted(without.items()):
        notes.append(f"{_named(units)}: no sheet at all is on record; the days from {begin} on are counted.")
    return tuple(notes)


def _named(names: Sequence[str]) -> str:
    more = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
