"""Sheets whose unit or date is missing or doubtful: which unit and day each of them may be of, by what is sure.

A day that such a sheet may belong to is not said to be without one before a person has looked at the sheet.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import pandas as pd

from scanform.binder import Binder
from scanform.report.frames import rows
from scanform.settle.hours import MOST_HOURS_A_DAY

__all__ = ["LooseSheet", "SureReadings", "loose_sheets", "may_be_of", "sure_readings"]


class LooseSheet(NamedTuple):
    """A sheet that may be another's. ``unit``, ``date``: None where missing or doubtful; ``hours``: of its meter, as
    read; ``says``: what is to be looked at.
    """

    sheet: int
    unit: str | None
    date: dt.date | None
    hours: tuple[float, ...]
    says: str


# Days and hours of one unit's sure readings, both in order.
SureReadings = tuple[Sequence[dt.date], Sequence[float]]


def loose_sheets(binder: Binder, sheets: pd.DataFrame) -> list[LooseSheet]:
    """Those among the sheets (as from ``counted_sheets``)."""
    loose = sheets[(sheets["unsure"] != "") | sheets["unit"].isna() | sheets["date"].isna()]
    if loose.empty:
        return []
    written = binder.written_columns(["hours"], list(loose["sheet"]))
    said = written.assign(hours=pd.to_numeric(written["value"], errors="coerce")).dropna(subset=["hours"])
    hours = {int(sheet): tuple(part) for sheet, part in said.groupby("sheet")["hours"]}
    found = []
    for row in rows(loose):
        unit = row.unit if isinstance(row.unit, str) and "unit" not in row.unsure else None
        date = row.date if isinstance(row.date, str) and "date" not in row.unsure else None
        what = " and ".join(name for name, sure in (("unit", unit), ("date", date)) if sure is None)
        on = dt.date.fromisoformat(date) if date else None
        says = f"it may be sheet {row.sheet}, whose {what} must be looked at"
        found.append(LooseSheet(int(row.sheet), unit, on, hours.get(int(row.sheet), ()), says))
    return found


def sure_readings(readings: pd.DataFrame) -> Mapping[str, SureReadings]:
    """By unit, from readings as of ``meter_readings``: those that are believed, and sure."""
    good = readings[readings["believed"] & readings["sure"]]
    return {
        str(unit): ([dt.date.fromisoformat(day) for day in part["date"]], list(part["hours"]))
        for unit, part in good.groupby("unit", sort=False)
    }


def may_be_of(sheet: LooseSheet, unit: str, day: dt.date, known: SureReadings | None) -> bool:
    """Whether nothing that is sure speaks against it: its unit, its date, and what the meter showed around the day."""
    if sheet.unit not in (None, unit) or sheet.date not in (None, day):
        return False
    if not sheet.hours or known is None:
        return sheet.unit is not None or sheet.date is not None
    days, hours = known
    before, after = bisect_left(days, day) - 1, bisect_right(days, day)
    least = hours[before] if before >= 0 else 0.0
    most = hours[after] if after < len(hours) else least + MOST_HOURS_A_DAY * ((day - days[before]).days + 1)
    return any(least <= shown <= most for shown in sheet.hours) if least <= most else True
