"""Days whose sheets were deleted because their time was over: there was a sheet, and the journal says so."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from scanform.binder import Binder

__all__ = ["deleted_days"]


def deleted_days(binder: Binder) -> Mapping[tuple[str, dt.date], str]:
    """By unit and day, what became of the day's sheet, as a sentence without its full stop."""
    return {
        (sheet.unit, day): f"sheet {sheet.number} deleted on {sheet.on} under rule: {sheet.rule}"
        for sheet in binder.deleted_sheets()
        for day in sheet.days
    }
