"""Sheets whose unit or date is missing or doubtful: which unit and day each of them may be of, by what is sure.

A day that such a sheet may belong to is not said to be without one before a person has looked at the sheet.
"""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import pandas as pd

from scanform.binder import Binder
from scanform.report.frames import rows
from scanform.settle.hours import MOST_HOURS_A_DAY

__all__ = ["LooseSheet", "Meters", "loose_sheets", "may_be_of", "meters_of"]

_WEEK = 7


class LooseSheet(NamedTuple):
    """A sheet that may be another's. ``unit``, ``date``: None where missing or doubtful; ``days``: how many it covers;
    ``hours``: of its meter, as read; ``says``: what is to be looked at.
    """

    sheet: int
    unit: str | None
    date: dt.date | None
    days: int
    hours: tuple[float, ...]
    says: str


class Meter(NamedTuple):
    """Believed readings of one unit's meter, in order of days: the days, and the hours."""

    days: Sequence[dt.date]
    hours: Sequence[float]


# A unit's meter twice: by the readings that are sure alone, and by all.
Meters = tuple[Meter, ...]


def loose_sheets(binder: Binder, sheets: pd.DataFrame) -> list[LooseSheet]:
    """Those among the sheets (as from ``counted_sheets``)."""
    loose = sheets[(sheets["unsure"] != "") | sheets["unit"].isna() | sheets["date"].isna()]
    if loose.empty:
        return []
    written = binder.written_columns(["hours"], list(loose["sheet"]))
    written = written[written["sheet"].isin(loose["sheet"])]
    said = written.assign(hours=pd.to_numeric(written["value"], errors="coerce")).dropna(subset=["hours"])
    weekly = set(said["sheet"][said["field"].str.startswith("hours.")])
    hours = {sheet: tuple(part) for sheet, part in said.groupby("sheet")["hours"]}
    found = []
    for row in rows(loose):
        unit = row.unit if isinstance(row.unit, str) and "unit" not in row.unsure else None
        date = row.date if isinstance(row.date, str) and "date" not in row.unsure else None
        what = " and ".join(name for name, sure in (("unit", unit), ("date", date)) if sure is None)
        on = dt.date.fromisoformat(date) if date else None
        says = f"it may be sheet {row.sheet}, whose {what} must be looked at"
        found.append(
            LooseSheet(int(row.sheet), unit, on, _WEEK if row.sheet in weekly else 1, hours.get(row.sheet, ()), says)
        )
    return found


def meters_of(readings: pd.DataFrame) -> Mapping[str, Meters]:
    """By unit, from readings as of ``meter_readings``."""
    believed = readings[readings["believed"]]
    found: dict[str, Meters] = {}
    for some in (believed[believed["sure"]], believed):
        for unit, part in some.groupby("unit", sort=False):
            meter = Meter([dt.date.fromisoformat(day) for day in part["date"]], list(part["hours"]))
            found[str(unit)] = (*found.get(str(unit), ()), meter)
    return found


def may_be_of(sheet: LooseSheet, unit: str, day: dt.date, meters: Meters) -> bool:
    """Whether nothing speaks against it: its unit or date so far as it is sure, and what the meter showed around the
    day. A sheet of which neither is sure must fit the meter.
    """
    if sheet.unit not in (None, unit) or (sheet.date is not None and not 0 <= (day - sheet.date).days < sheet.days):
        return False
    if not sheet.hours or not meters:
        return sheet.unit is not None or sheet.date is not None
    return any(_fits(sheet.hours, day, meter) for meter in meters)


def _fits(shown: Sequence[float], day: dt.date, meter: Meter) -> bool:
    before, after = bisect_left(meter.days, day) - 1, bisect_right(meter.days, day)
    least = meter.hours[before] if before >= 0 else 0.0
    most = meter.hours[after] if after < len(meter.hours) else math.inf
    if before >= 0:
        clock = least + MOST_HOURS_A_DAY * ((day - meter.days[before]).days + 1)
        most = min(most, clock) if most >= least else clock  # a new meter came in between
    return any(least <= hours <= most for hours in shown)
