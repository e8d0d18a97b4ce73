"""Days whose sheets were deleted because their time was over: there was a sheet, and the journal says so."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import pandas as pd

from scanform.binder import Binder
from scanform.report.unit_days import DELETED, SHEET, UnitDay

__all__ = ["DeletedDay", "deleted_days", "said_as_deleted", "with_deleted_days"]

_NO_SHEET = 0  # in the place of a sheet's number, which leads nowhere any more


class DeletedDay(NamedTuple):
    """``filled``: whether the sheet spoke for the day, or left it free as a week's or a month's sheet does. ``note``:
    what became of the sheet, as a sentence without its full stop.
    """

    filled: bool
    note: str


def deleted_days(binder: Binder) -> Mapping[tuple[str, dt.date], DeletedDay]:
    """By unit and day, what the journal still tells of sheets that were deleted."""
    found: dict[tuple[str, dt.date], DeletedDay] = {}
    for sheet in binder.deleted_sheets():
        note = f"sheet {sheet.number} deleted on {sheet.on} under rule: {sheet.rule}"
        for days, filled in ((sheet.left_free, False), (sheet.days, True)):
            for day in days:
                known = found.get((sheet.unit, day))
                if known is None or filled >= known.filled:
                    found[sheet.unit, day] = DeletedDay(filled, note)
    return found


def with_deleted_days(days: pd.DataFrame, gone: Mapping[tuple[str, dt.date], DeletedDay]) -> pd.DataFrame:
    """Days as from ``sheet_days``, and those of deleted sheets where no other sheet speaks for the day."""
    said = set(zip(days["unit"], days["date"], strict=True))
    rows = [
        (unit, str(day), _NO_SHEET, "", None, True, deleted.filled, True, not deleted.filled)
        for (unit, day), deleted in gone.items()
        if (unit, str(day)) not in said
    ]
    columns = ["unit", "date", "sheet", "unsure", "fit", "fit_unsure", "filled", "sure", "frees"]
    more = pd.DataFrame(rows, columns=columns).astype({"filled": bool, "sure": bool, "frees": bool})
    return pd.concat([days, more.astype(days.dtypes.to_dict())], ignore_index=True) if rows else days


def said_as_deleted(day: UnitDay, gone: Mapping[tuple[str, dt.date], DeletedDay]) -> UnitDay:
    """The day; where only a deleted sheet spoke for it, that is said."""
    if day.status != SHEET or day.sheets != (_NO_SHEET,):
        return day
    return replace(day, basis=DELETED, sheets=(), note=gone[day.unit, day.day].note)
