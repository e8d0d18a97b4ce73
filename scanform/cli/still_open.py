"""What stands on a unit's next sheets as still open: from the record, or from a list that somebody keeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from scanform.binder import open_binder
from scanform.binder.csvfile import CsvRow, csv_table
from scanform.binder.values import iso_date_from
from scanform.cli.options import messages, say
from scanform.errors import UsageError
from scanform.form import Template, unit_characters
from scanform.press import StillOpen
from scanform.report import defect_register, known_unit, still_open
from scanform.report.guard import unguarded

__all__ = ["open_in_binder", "open_in_list"]

_COLUMNS = ("unit", "item", "since")
# The rest of what scanform defects --out writes, as far as a sheet has room for it.
_COLUMNS_OF_DEFECTS = ("state", "item_number", "item_text", "first", "waits_for", "doubts")
_OPEN = "open"
_MOST_NAMED = 12


def open_in_binder(folder: Path, unit: str | None, template: Template) -> tuple[StillOpen, ...]:
    """The unit's open defects, dangerous ones first. UsageError if the record does not know the unit: "none known"
    on its sheets would then be said of a machine that does not exist, and believed of one that does.
    """
    if unit is None:
        raise UsageError(f"--binder {folder}: it holds several units' defects; say which one with --unit.")
    with open_binder(folder) as record:
        register = still_open(defect_register(record), known_unit(record, unit))
    numbers = _numbers(template)
    return tuple(
        StillOpen(
            _words(defect.words or defect.item_text, bool(defect.doubts or defect.waits)),
            numbers.get((defect.item or "").removeprefix("item.")),
            defect.first,
        )
        for defect in register
    )


def open_in_list(path: Path, unit: str | None, template: Template) -> tuple[StillOpen, ...] | None:
    """The unit's open defects as a CSV file lists them: one with a column ``words`` and perhaps ``unit``, ``item`` (its
    number) and ``since``, or the list that ``scanform defects --out`` writes.

    None if the list has units and none of its rows is of this one, which a sentence on stderr says: a list without a
    unit is no proof that nothing is open on it. UsageError names file, line and column.
    """
    table = csv_table(path, "words", (*_COLUMNS, *_COLUMNS_OF_DEFECTS))
    rows = [row for row in table.rows if (row.cells.get("state") or _OPEN) == _OPEN]
    if "unit" in table.columns:
        if unit is None:
            raise UsageError(f"--still-open {path}: it lists several units' defects; say which one with --unit.")
        listed = sorted({row.cells["unit"] for row in table.rows if row.cells["unit"]})
        if not any(unit_characters(name) == unit_characters(unit) for name in listed):
            _say_none(path, unit, listed)
            return None
        rows = [row for row in rows if unit_characters(row.cells["unit"]) == unit_characters(unit)]
    numbers = _numbers(template)
    return tuple(
        StillOpen(
            _words(
                unguarded(row.cells["words"] or row.cells.get("item_text", "")),
                bool(row.cells.get("waits_for") or row.cells.get("doubts")),
            ),
            _number(path, row, numbers),
            _since(path, row),
        )
        for row in rows
    )


def _say_none(path: Path, unit: str, listed: Sequence[str]) -> None:
    units = ", ".join(listed[:_MOST_NAMED]) + (", ..." if len(listed) > _MOST_NAMED else "")
    say(
        f"No row of {path} is of unit {unit} (it lists {units or 'no unit'}), so the sheets say nothing of open "
        "defects; check the number. With --binder they say what the record knows.",
        messages,
    )


def _words(words: str | None, unsure: bool) -> str:
    """An unsure reading is not printed as a fact."""
    return (words or "no words") + (" (?)" if unsure else "")


def _numbers(template: Template) -> Mapping[str, int]:
    """An item's number is the one that this template gives it."""
    return {item.name: item.number for item in template.items}


def _number(path: Path, row: CsvRow, numbers: Mapping[str, int]) -> int | None:
    item = row.cells.get("item", "")
    if item.isdecimal():
        return int(item)
    if item and item not in numbers and "item_number" not in row.cells:
        raise UsageError(f"--still-open {path}, line {row.line}, column 'item': '{item}' is no item number.")
    return numbers.get(item)


def _since(path: Path, row: CsvRow) -> date | None:
    column = "since" if row.cells.get("since") else "first"
    since = row.cells.get(column)
    where = f"--still-open {path}, line {row.line}, column '{column}'"
    return date.fromisoformat(iso_date_from(since, where)) if since else None
