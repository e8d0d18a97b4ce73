"""The doubts of a made year's sheets that do not lie in the ink of one field but in what its fields say together.

They are left out where a field's own readings are counted (``year_readings.py``), and worked out anew, by the same
rules, from what a sheet of the year is said to have read (``year_record.py``).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from scanform.form import DAYS, Layout, parted
from scanform.read import Reading
from scanform.settle.rules import apply_rules
from scanform.settle.verdict import Verdict
from scanform.settle.week_rules import apply_week_rules

__all__ = ["broken_rules"]


def broken_rules(
    layout: Layout, values: Mapping[str, str | bool | None], monday: dt.date | None, today: dt.date
) -> dict[str, tuple[str, ...]]:
    """The reasons for doubt that the rules between fields add, by field id; fields without any are left out.

    ``values``: what was read of every field of the layout. ``monday``: of a week's sheet whose date is sure, else None.
    """
    verdicts = {
        spec.id: Verdict(spec, Reading(spec.id, spec.kind, (), (), 0.0), values.get(spec.id), 1.0, "")
        for spec in layout.fields
    }
    if layout.template.covers == "week":
        apply_week_rules(verdicts, layout.template, _days_used(values), monday, today)
    else:
        apply_rules(verdicts, layout.template)
    return {field_id: tuple(verdict.reasons) for field_id, verdict in verdicts.items() if verdict.reasons}


def _days_used(values: Mapping[str, str | bool | None]) -> frozenset[str]:
    """The days of a week's sheet for which anything was read."""
    return frozenset(day for field_id, value in values.items() if value and (day := parted(field_id)[1]) in DAYS)
