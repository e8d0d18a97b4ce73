"""The record as tables: one row a sheet, an answer, a defect, a meter reading, a page, a pad, a doubt."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import pandas as pd

from scanform.binder import Binder, PageRecord, RecordedPage
from scanform.form import date_of, parted
from scanform.report.defects import DefectEntry, Labels, in_order_of_danger
from scanform.report.pads import PadBack, pads_back
from scanform.report.sheet_days import counted_sheets
from scanform.settle.types import Outcome, SettledField, State

__all__ = ["COLUMNS", "tables"]

# "number" columns stay numbers in every export, "date" columns hold datetime.date, "flag" columns bool; None if blank.
COLUMNS: Mapping[str, Mapping[str, str]] = {
    "sheets": {
        "sheet": "number",
        "unit": "text",
        "date": "date",
        "hours": "number",
        "hours_state": "text",
        "operator": "text",
        "signed": "flag",
        "fit": "text",
        "told": "text",
        "template": "text",
        "version": "number",
        "serial": "text",
        "accepted": "number",
        "doubtful": "number",
        "confirmed": "number",
        "residual_mm": "number",
        "source": "text",
        "page": "number",
        "part": "number",
        "sha256": "text",
    },
    "answers": {
        "sheet": "number",
        "unit": "text",
        "date": "date",
        "item": "text",
        "item_number": "number",
        "item_text": "text",
        "critical": "flag",
        "answer": "text",
        "state": "text",
        "confidence": "number",
    },
    "defects": {
        "sheet": "number",
        "unit": "text",
        "date": "date",
        "item_number": "number",
        "item": "text",
        "item_text": "text",
        "critical": "flag",
        "words": "text",
        "original": "text",
        "part": "text",
        "position": "text",
        "complaint": "text",
        "tied_by": "text",
        "repair": "text",
        "state": "text",
    },
    "hours": {
        "unit": "text",
        "date": "date",
        "hours": "number",
        "state": "text",
        "confidence": "number",
        "sheet": "number",
    },
    "pages": {
        "number": "number",
        "batch": "number",
        "source": "text",
        "page": "number",
        "part": "number",
        "outcome": "text",
        "reason": "text",
        "template": "text",
        "version": "number",
        "serial": "text",
        "unit": "text",
        "date": "date",
        "width_px": "number",
        "height_px": "number",
        "residual_mm": "number",
        "sha256": "text",
    },
    "pads": {
        "pad": "text",
        "unit": "text",
        "template": "text",
        "sheets": "number",
        "back": "number",
        "first": "date",
        "last": "date",
        "not_back": "text",
    },
    "doubts": {
        "ref": "text",
        "critical": "flag",
        "unit": "text",
        "date": "date",
        "field": "text",
        "item_text": "text",
        "value": "text",
        "original": "text",
        "confidence": "number",
        "reasons": "text",
        "template": "text",
        "source": "text",
        "page": "number",
    },
}

Row = dict[str, Any]

_AT_ONCE = 500  # pages with all their fields in memory: 30 MB


def tables(binder: Binder) -> dict[str, pd.DataFrame]:
    """All tables by name, columns as in :data:`COLUMNS`; blank cells are None, a table without rows keeps its columns.

    A week's sheet that was scanned on several days counts once in answers, defects and hours. Defects and doubts come
    in order of danger, hours by unit and date, the rest by record number.
    """
    labels, counted = Labels(binder), set(counted_sheets(binder)["sheet"])
    rows: dict[str, list[tuple[Any, ...]]] = {name: [] for name in COLUMNS}
    defects: list[DefectEntry] = []
    hours: list[Row] = []
    numbers = list(binder.page_columns()["page_id"])
    for start in range(0, len(numbers), _AT_ONCE):
        pages = binder.pages_numbered(numbers[start : start + _AT_ONCE])
        sheets = [page for page in pages if page.record.outcome == Outcome.READ]
        count = [sheet for sheet in sheets if sheet.number in counted]
        rows["pages"] += _cells("pages", map(_page, pages))
        rows["sheets"] += _cells("sheets", map(_sheet, sheets))
        for sheet in count:
            rows["answers"] += _cells("answers", _answers(sheet, labels))
            defects += labels.defects(sheet)
            hours += _hours(sheet)
    hours.sort(key=lambda row: (row["unit"] or "", str(row["date"]), row["sheet"]))
    rows["hours"] += _cells("hours", hours)
    rows["defects"] += _cells("defects", map(_defect, in_order_of_danger(defects)))
    rows["pads"] += _cells("pads", map(_pad, pads_back(binder)))
    rows["doubts"] += _cells("doubts", _doubts(binder))
    return {name: _frame(name, rows[name]) for name in COLUMNS}


def _cells(name: str, rows: Iterable[Row]) -> Iterator[tuple[Any, ...]]:
    return (tuple(row[column] for column in COLUMNS[name]) for row in rows)


def _frame(name: str, rows: Sequence[tuple[Any, ...]]) -> pd.DataFrame:
    # Object columns, so that a blank number stays blank and a whole number does not turn into 12.0.
    return pd.DataFrame(rows, columns=list(COLUMNS[name]), dtype=object)


def _sheet(sheet: RecordedPage) -> Row:
    record = sheet.record
    hours = _last_hours(record)
    states = [field.state for field in record.fields]
    return {
        "sheet": sheet.number,
        "unit": record.unit,
        "date": record.date,
        "hours": _number(hours),
        "hours_state": hours.state.value if hours else None,
        "operator": _value(record.field("operator")),
        "signed": _value(record.field("signature")),
        "fit": _value(record.field("fit")),
        "told": _value(record.field("told")),
        "template": record.template,
        "version": record.version,
        "serial": record.serial,
        "accepted": states.count(State.ACCEPTED),
        "doubtful": states.count(State.DOUBTFUL),
        "confirmed": states.count(State.CONFIRMED),
        "residual_mm": record.residual_mm,
        "source": record.source,
        "page": record.page_number,
        "part": record.part,
        "sha256": record.sha256,
    }


def _answers(sheet: RecordedPage, labels: Labels) -> list[Row]:
    known, record = labels.of(sheet), sheet.record
    return [
        {
            "sheet": sheet.number,
            "unit": record.unit,
            "date": date_of(record.date, day),
            "item": item.removeprefix("item."),
            "item_number": known[item].number if item in known else None,
            "item_text": known[item].text if item in known else None,
            "critical": field.critical,
            "answer": field.value,
            "state": field.state.value,
            "confidence": field.confidence,
        }
        for field in record.fields
        for item, day in [parted(field.id)]
        if item.startswith("item.") and not (day is not None and _left_out(field))
    ]


def _left_out(field: SettledField) -> bool:
    """A week's box on a day on which the machine was not used: no answer was called for."""
    return field.value is None and field.state is State.ACCEPTED


def _defect(entry: DefectEntry) -> Row:
    item = entry.item.removeprefix("item.") if entry.item else None
    texts = {name: getattr(entry, name) or None for name in ("words", "part", "position", "complaint")}
    return asdict(entry) | texts | {"item": item, "state": entry.state.value}


def _hours(sheet: RecordedPage) -> list[Row]:
    """The sheet's meter readings: one, or one a day."""
    record = sheet.record
    return [
        {
            "unit": record.unit,
            "date": date_of(record.date, day),
            "hours": _number(field),
            "state": field.state.value,
            "confidence": field.confidence,
            "sheet": sheet.number,
        }
        for field in record.fields
        for stem, day in [parted(field.id)]
        if stem == "hours" and field.value is not None
    ]


def _last_hours(record: PageRecord) -> SettledField | None:
    """The hour meter as the sheet leaves it: a week's last reading."""
    readings = [f for f in record.fields if parted(f.id)[0] == "hours"]
    written = [f for f in readings if f.value is not None]
    return written[-1] if written else readings[0] if readings else None


def _page(page: RecordedPage) -> Row:
    record = page.record
    row = {column: getattr(record, column, None) for column in COLUMNS["pages"]}
    mine = {"number": page.number, "batch": record.batch_id, "page": record.page_number}
    return row | mine | {"outcome": record.outcome.value}


def _pad(pad: PadBack) -> Row:
    return {
        "pad": pad.pad,
        "unit": pad.unit,
        "template": pad.template,
        "sheets": pad.sheets,
        "back": pad.sheets - len(pad.missing),
        "first": pad.first,
        "last": pad.last,
        "not_back": " ".join(pad.missing) or None,
    }


def _doubts(binder: Binder) -> list[Row]:
    return [
        {
            "ref": doubt.ref,
            "critical": doubt.field.critical,
            "unit": doubt.unit,
            "date": doubt.date,
            "field": doubt.field.id,
            "item_text": doubt.label or None,
            "value": _as_text(doubt.field.value),
            "original": doubt.field.original,
            "confidence": doubt.field.confidence,
            "reasons": " ".join(doubt.field.reasons) or None,
            "template": doubt.template,
            "source": doubt.source,
            "page": doubt.page_number,
        }
        for doubt in binder.queue()
    ]


def _value(field: SettledField | None) -> str | bool | None:
    return field.value if field is not None else None


def _as_text(value: str | bool | None) -> str | None:
    return {True: "signed", False: "unsigned"}[value] if isinstance(value, bool) else value


def _number(field: SettledField | None) -> float | None:
    # A doubtful reading may hold characters that make no number; its text stays in the list of doubts.
    try:
        return float(str(field.value)) if field is not None and field.value is not None else None
    except ValueError:
        return None
