"""The register of defects as a table, for files and other programs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from scanform.report.csv_files import write_csv
from scanform.report.register import Defect

__all__ = ["REGISTER_COLUMNS", "register_table", "write_defects"]

# As for the other tables: "number", "date" and "flag" columns keep their kind in every export.
REGISTER_COLUMNS: Mapping[str, str] = {
    "defect": "text",
    "state": "text",
    "critical": "flag",
    "unit": "text",
    "item_number": "number",
    "item": "text",
    "item_text": "text",
    "words": "text",
    "written": "text",
    "original": "text",
    "first": "date",
    "last": "date",
    "reports": "number",
    "reported_by": "text",
    "recurrence_of": "text",
    "closed_before": "number",
    "used_on": "text",
    "perhaps_used_on": "text",
    "waits_for": "text",
    "doubts": "text",
    "repair": "text",
    "closed_on": "date",
    "closed_by": "text",
    "paper": "text",
    "entered_by": "text",
}


def register_table(register: Sequence[Defect]) -> pd.DataFrame:
    """A row a defect in the order given; blank cells are None. ``reported_by`` lists its reports by their names,
    ``used_on`` the days in use with it open, ``perhaps_used_on`` those of which that is no fact yet, ``waits_for`` what
    a person has to look at first.
    """
    return pd.DataFrame([_row(defect) for defect in register], columns=list(REGISTER_COLUMNS), dtype=object)


def write_defects(register: Sequence[Defect], path: Path) -> Path:
    """Write the register as a CSV file, as exports do; UsageError if it cannot be written."""
    return write_csv(register_table(register), path)


def _row(defect: Defect) -> list[Any]:
    closed = defect.closed
    return [
        defect.name,
        defect.state,
        defect.critical,
        defect.unit,
        defect.item_number,
        defect.item.removeprefix("item.") if defect.item else None,
        defect.item_text,
        defect.words or None,
        defect.written or None,
        defect.original,
        defect.first,
        defect.last,
        len(defect.reports),
        " ".join(entry.ref for entry in defect.reports),
        defect.recurrence_of,
        defect.times,
        " ".join(day.isoformat() for day in defect.used_on) or None,
        " ".join(day.isoformat() for day in defect.perhaps_used_on) or None,
        "; ".join(defect.waits) or None,
        "; ".join(defect.doubts) or None,
        closed.repair if closed else None,
        closed.on if closed else None,
        closed.by if closed else None,
        closed.where if closed else None,
        closed.initials if closed else None,
    ]
