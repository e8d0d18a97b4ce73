"""Single sheets put on record as they were read, with some fields doubtful or read as something else."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from made_quarter import MONDAY, Day, TrueDefect, as_read, day_fields, doubted
from recorded_sheets import BYTES

from scanform.binder import PageRecord
from scanform.settle.types import Outcome

__all__ = ["UNIT", "doubt", "doubtful_value", "sheet", "value"]

UNIT = "WL07"


def sheet(binder, on, *lines, fit="fit", changed=(), unit=UNIT):
    """A sheet of a unit; ``lines`` are (item, words) or (item, words, repair)."""
    said = [(TrueDefect(unit, line[0], line[1]), line[1], line[2] if len(line) > 2 else None) for line in lines]
    fields = day_fields(Day(unit, on, 1000.0 + 8 * (on - MONDAY).days, said, fit))
    for field in changed:
        by_id = {f.id: f for f in fields}
        fields = as_read(fields, field(by_id))
    place = len(binder.sheet_columns()) + 1
    page = PageRecord(
        *("monday.pdf", "/scans/monday.pdf", place, binder.archive(BYTES, "pdf"), Outcome.READ, None),
        *("site-machine", 1, None, unit, dt.date.fromisoformat(next(str(f.value) for f in fields if f.id == "date"))),
        fields=fields,
    )
    return binder.record_page(page).number


def doubt(field_id):
    """A field read as it is, and doubted."""
    return lambda by_id: doubted(by_id[field_id])


def value(field_id, said):
    """A field that was surely read as something else."""
    return lambda by_id: replace(by_id[field_id], value=said)


def doubtful_value(field_id, said):
    """A field that was read as something else, and doubted."""
    return lambda by_id: doubted(replace(by_id[field_id], value=said))
