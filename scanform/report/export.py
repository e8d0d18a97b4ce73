"""The tables as files that other programs open: CSV, XLSX, JSON, each with the caution beside it."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

import pandas as pd
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from scanform.binder import Binder
from scanform.errors import UsageError
from scanform.files import told, write_whole
from scanform.report.cautions import CAUTION, DOUBTS_CAUTION
from scanform.report.guard import guarded, runs_as_formula
from scanform.report.tables import tables

__all__ = ["FORMATS", "README", "WORKBOOK", "export", "write_csv"]

FORMATS = frozenset({"csv", "xlsx", "json"})
README = "README.txt"
WORKBOOK = "record.xlsx"
_MOST_ROWS = 1_048_575  # rows of an XLSX sheet below its header (ECMA-376 leaves it open; all readers stop here)

_README_TEXT = f"""{CAUTION}

{DOUBTS_CAUTION}

CSV: UTF-8 with a byte order mark, comma, all text in double quotes, dates as in ISO 8601, a point before tenths.
A text cell that a spreadsheet would run as a formula (it begins with = + - @, a tab or a line break, or the
full-width form of a sign) has one apostrophe before it; take that one away to have the text back. Numbers are never
changed. XLSX holds the same text without the apostrophe, in cells marked as text. JSON holds it as it is.
"""


def export(binder: Binder, folder: Path, formats: Collection[str] = FORMATS) -> list[Path]:
    """Write the record's tables into ``folder``, made if absent; returns the files written, ``README.txt`` first.

    ``csv`` and ``json`` give one file a table, ``xlsx`` one workbook with a sheet a table. Files of an earlier
    export are replaced. UsageError for a format that is none, or a folder that cannot be written.
    """
    unknown = sorted(set(formats) - FORMATS)
    if unknown:
        raise UsageError(f"'{unknown[0]}' is no export format; take some of {', '.join(sorted(FORMATS))}.")
    frames = tables(binder)
    files: dict[str, bytes] = {README: _README_TEXT.encode()}
    for name, frame in frames.items():
        if "csv" in formats:
            files[f"{name}.csv"] = _csv(frame).encode("utf-8-sig")
        if "json" in formats:
            files[f"{name}.json"] = _json(frame).encode()
    if "xlsx" in formats:
        files[WORKBOOK] = _xlsx(frames)
    return _write(Path(folder), files)


def write_csv(frame: pd.DataFrame, path: Path) -> Path:
    """Write one table as a CSV file of its own; UsageError if it cannot be written."""
    (written,) = _write(path.parent, {path.name: _csv(frame).encode("utf-8-sig")})
    return written


def _csv(frame: pd.DataFrame) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow(frame.columns)
    for row in frame.itertuples(index=False, name=None):
        writer.writerow([_csv_cell(value) for value in row])
    return out.getvalue()


def _csv_cell(value: Any) -> str | int | float:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return value
    return guarded(str(value))


def _json(frame: pd.DataFrame) -> str:
    return json.dumps(frame.to_dict("records"), ensure_ascii=False, indent=1, default=str) + "\n"


def _xlsx(frames: Mapping[str, pd.DataFrame]) -> bytes:
    book = Workbook()
    caution = book.worksheets[0]
    caution.title = "caution"
    caution.append([CAUTION])
    caution.append([DOUBTS_CAUTION])
    for name, frame in frames.items():
        if len(frame) > _MOST_ROWS:
            raise UsageError(f"The table {name} has {len(frame)} rows, more than XLSX holds; export it as CSV.")
        sheet = book.create_sheet(name)
        sheet.append(list(frame.columns))
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        sheet.freeze_panes = "A2"
        for row_number, row in enumerate(frame.itertuples(index=False, name=None), start=2):
            for column, value in enumerate(row, start=1):
                if value is not None:
                    _fill(sheet.cell(row_number, column), value)
        for column, title in enumerate(frame.columns, start=1):
            sheet.column_dimensions[get_column_letter(column)].width = 40 if title in _WIDE else 13
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


_WIDE = ("item_text", "words", "reasons", "reason", "source")


def _fill(cell: Cell, value: Any) -> None:
    if isinstance(value, str):
        text = ILLEGAL_CHARACTERS_RE.sub("�", value)
        cell.value = text
        # Said outright, since the library takes a leading = for a formula and #N/A for an error.
        cell.data_type = "s"
        if runs_as_formula(text):
            cell.quotePrefix = True
    else:
        cell.value = value
        if isinstance(value, dt.date):
            cell.number_format = "yyyy-mm-dd"


def _write(folder: Path, files: Mapping[str, bytes]) -> list[Path]:
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            write_whole(folder / name, (data,))
            written.append(folder / name)
    except OSError as problem:
        raise UsageError(
            f"The export cannot be written to {folder}: {told(problem)}, or name another folder; the record is kept."
        ) from problem
    return written
