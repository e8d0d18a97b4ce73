"""The tables as files that other programs open: CSV, XLSX, JSON, each with the caution beside it."""

from __future__ import annotations

import datetime as dt
import io
import json
import sqlite3
from collections.abc import Collection, Iterator, Mapping
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell, WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from scanform.binder import Binder
from scanform.errors import UsageError
from scanform.report.cautions import CAUTION, DOUBTS_CAUTION
from scanform.report.csv_files import csv_text, write_files
from scanform.report.guard import runs_as_formula
from scanform.report.lists import LIST_COLUMNS, lists
from scanform.report.tables import COLUMNS, tables

if TYPE_CHECKING:
    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

__all__ = ["FORMATS", "README", "WORKBOOK", "export"]

FORMATS = frozenset({"csv", "xlsx", "json", "jsonl", "parquet", "sqlite"})
README = "README.txt"
WORKBOOK = "record.xlsx"
DATABASE = "lists.sqlite"
_KINDS = {**COLUMNS, **LIST_COLUMNS}
_SQL_TYPES = {"number": "NUMERIC", "text": "TEXT", "date": "TEXT", "flag": "INTEGER"}
_MOST_ROWS = 1_048_575  # rows of an XLSX sheet below its header (ECMA-376 leaves it open; all readers stop here)

_README_TEXT = f"""{CAUTION}

{DOUBTS_CAUTION}

CSV: UTF-8 with a byte order mark, comma, all text in double quotes, dates as in ISO 8601, a point before tenths.
A text cell that a spreadsheet would run as a formula (it begins with = + - @, a tab or a line break, or the
full-width form of a sign) has one apostrophe before it; take that one away to have the text back. Numbers are never
changed. XLSX holds the same text without the apostrophe, in cells marked as text. JSON, JSON Lines (one object a line),
Parquet and SQLite ({DATABASE}, a table a list) hold it as it is.
"""


def export(binder: Binder, folder: Path, formats: Collection[str] = FORMATS) -> list[Path]:
    """Write the record's tables into ``folder``, made if absent; returns the files written, ``README.txt`` first.

    ``csv``, ``json``, ``jsonl`` and ``parquet`` give one file a table, ``xlsx`` one workbook with a sheet a table and
    ``sqlite`` one database with a table each. Files of an earlier
    export are replaced. UsageError for a format that is none, or a folder that cannot be written.
    """
    unknown = sorted(set(formats) - FORMATS)
    if unknown:
        raise UsageError(f"'{unknown[0]}' is no export format; take some of {', '.join(sorted(FORMATS))}.")
    return write_files(Path(folder), _files(tables(binder) | lists(binder), formats))


def _files(frames: Mapping[str, pd.DataFrame], formats: Collection[str]) -> Iterator[tuple[str, bytes]]:
    yield README, _README_TEXT.encode()
    for name, frame in frames.items():
        if "csv" in formats:
            yield f"{name}.csv", csv_text(frame).encode("utf-8-sig")
        if "json" in formats:
            yield f"{name}.json", _json(frame).encode()
        if "jsonl" in formats:
            yield f"{name}.jsonl", _json_lines(frame).encode()
        if "parquet" in formats:
            yield f"{name}.parquet", _parquet(name, frame)
    if "xlsx" in formats:
        yield WORKBOOK, _xlsx(frames)
    if "sqlite" in formats:
        yield DATABASE, _database(frames)


def _json(frame: pd.DataFrame) -> str:
    return json.dumps(frame.to_dict("records"), ensure_ascii=False, indent=1, default=str) + "\n"


def _json_lines(frame: pd.DataFrame) -> str:
    return "".join(json.dumps(row, ensure_ascii=False, default=str) + "\n" for row in frame.to_dict("records"))


def _parquet(name: str, frame: pd.DataFrame) -> bytes:
    """A table with its columns' kinds, however few rows it has; the cautions are in its metadata."""
    kinds = _KINDS[name]
    fields = [pa.field(column, _arrow_type(kinds[column], frame[column])) for column in frame.columns]
    schema = pa.schema(fields, metadata={"caution": CAUTION, "doubts": DOUBTS_CAUTION})
    table = pa.Table.from_pylist(frame.to_dict("records"), schema=schema)
    out = io.BytesIO()
    pq.write_table(table, out)
    return out.getvalue()


def _arrow_type(kind: str, column: pd.Series) -> pa.DataType:
    if kind == "number":
        whole = all(value is None or isinstance(value, int) for value in column)
        return pa.int64() if whole else pa.float64()
    return {"text": pa.string(), "date": pa.date32(), "flag": pa.bool_()}[kind]


def _database(frames: Mapping[str, pd.DataFrame]) -> bytes:
    """All tables in one SQLite database, dates as ISO 8601 text, flags as 0 and 1, the cautions in one of their own."""
    with closing(sqlite3.connect(":memory:")) as made:
        made.execute("CREATE TABLE caution (caution TEXT)")
        made.executemany("INSERT INTO caution VALUES (?)", [(CAUTION,), (DOUBTS_CAUTION,)])
        for name, frame in frames.items():
            columns = ", ".join(f'"{column}" {_SQL_TYPES[_KINDS[name][column]]}' for column in frame.columns)
            made.execute(f'CREATE TABLE "{name}" ({columns})')
            marks = ", ".join("?" * len(frame.columns))
            body = ([_plain(value) for value in row] for row in frame.itertuples(index=False, name=None))
            made.executemany(f'INSERT INTO "{name}" VALUES ({marks})', body)
        made.commit()
        return made.serialize()


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, dt.date) else value


def _xlsx(frames: Mapping[str, pd.DataFrame]) -> bytes:
    # Written row by row: a cell that can be looked at again takes half a kilobyte.
    book = Workbook(write_only=True)
    caution = book.create_sheet("caution")
    caution.append([CAUTION])
    caution.append([DOUBTS_CAUTION])
    for name, frame in frames.items():
        if len(frame) > _MOST_ROWS:
            raise UsageError(f"The table {name} has {len(frame)} rows, more than XLSX holds; export it as CSV.")
        sheet = book.create_sheet(name)
        sheet.freeze_panes = "A2"
        for column, title in enumerate(frame.columns, start=1):
            sheet.column_dimensions[get_column_letter(column)].width = 40 if title in _WIDE else 13
        sheet.append([_heading(sheet, title) for title in frame.columns])
        for row in frame.itertuples(index=False, name=None):
            sheet.append([None if value is None else _filled(sheet, value) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


_WIDE = ("item_text", "words", "reasons", "reason", "source")


def _heading(sheet: WriteOnlyWorksheet, title: str) -> Cell:
    cell = WriteOnlyCell(sheet, title)
    cell.font = Font(bold=True)
    return cell


def _filled(sheet: WriteOnlyWorksheet, value: Any) -> Cell:
    cell = WriteOnlyCell(sheet)
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
    return cell
