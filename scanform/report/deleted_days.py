"""Days whose sheets were deleted because their time was over: there was a sheet, and the journal says so."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import NamedTuple

from scanform.binder import Binder

__all__ = ["DeletedDay", "deleted_days"]


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
