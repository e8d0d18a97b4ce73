"""Register files as offices have them: any common encoding and separator, with the line number of every row."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from scanform.errors import UsageError

__all__ = ["CsvRow", "CsvTable", "csv_rows", "csv_table"]

_MOST_COLUMNS = 64
_SEPARATORS = ";\t,"


@dataclass(frozen=True)
class CsvRow:
    """One row: cells by column name, spaces tidied, ``""`` where empty. ``line`` counts from 1, the header's."""

    line: int
    cells: Mapping[str, str]


@dataclass(frozen=True)
class CsvTable:
    """``columns``: those of the ones asked for that the file has. ``rows``: the lines that are not empty."""

    columns: frozenset[str]
    rows: tuple[CsvRow, ...]


def csv_rows(path: Path, required: str, optional: Sequence[str]) -> list[CsvRow]:
    """The rows of a CSV file that are not empty, with the columns that are asked for; read as :func:`csv_table` does.

    UsageError names file, line and column, also where a row has nothing in the required one.
    """
    rows = list(csv_table(path, required, optional).rows)
    for row in rows:
        if not row.cells[required]:
            raise UsageError(
                f"{path}, line {row.line}, column {required}: it is empty; fill it in or take the row out."
            )
    return rows


def csv_table(path: Path, required: str, optional: Sequence[str]) -> CsvTable:
    """A CSV file that has the required column, with those of the optional ones that are there.

    Header names may differ in case, spaces and underscores; other columns are ignored. UTF-8 and UTF-16 with or
    without byte order mark, else Windows-1252; comma, semicolon or tab. UsageError names file, line and column.
    """
    text = _text(path)
    header = text.lstrip("\r\n \t").partition("\n")[0]
    separator = max(_SEPARATORS, key=header.count)
    try:
        # Read without a header and with room to spare: pandas would silently take surplus cells for an index.
        table = pd.read_csv(
            io.StringIO(text),
            sep=separator,
            header=None,
            names=list(range(_MOST_COLUMNS)),
            dtype=str,
            keep_default_na=False,
            skip_blank_lines=False,
            index_col=False,
        ).fillna("")
    except pd.errors.EmptyDataError:
        raise UsageError(f"{path} is empty; its first line must name the column '{required}'.") from None
    except pd.errors.ParserError as problem:
        raise UsageError(f"{path} is not a CSV file: {str(problem).strip().rstrip('.')}.") from None
    lines = [(number, [_tidy(c) for c in row]) for number, row in enumerate(table.to_numpy().tolist(), start=1)]
    lines = [(number, cells) for number, cells in lines if any(cells)]
    if not lines:
        raise UsageError(f"{path} is empty; its first line must name the column '{required}'.")
    return _named(path, lines, required, optional)


def _named(path: Path, lines: list[tuple[int, list[str]]], required: str, optional: Sequence[str]) -> CsvTable:
    (header_line, header), *rest = lines
    names = [cell.lower().replace(" ", "_") for cell in header]
    columns = {}
    for wanted in (required, *optional):
        if names.count(wanted) > 1:
            raise UsageError(f"{path}, line {header_line}: the column '{wanted}' is there twice; take one out.")
        if wanted in names:
            columns[wanted] = names.index(wanted)
    if required not in columns:
        said = ", ".join(n for n in names if n) or "nothing"
        raise UsageError(f"{path}, line {header_line}: there is no column '{required}' (found {said}); name it so.")
    named_up_to = max(i for i, name in enumerate(names) if name)
    rows = []
    for number, cells in rest:
        surplus = next((c for c in cells[named_up_to + 1 :] if c), None)
        if surplus is not None:
            raise UsageError(
                f"{path}, line {number}: '{surplus}' stands beyond the last column; "
                "put quotes around cells that hold a separator or a decimal comma."
            )
        rows.append(CsvRow(number, {name: cells[at] for name, at in columns.items()}))
    return CsvTable(frozenset(columns), tuple(rows))


def _text(path: Path) -> str:
    try:
        data = path.read_bytes()
    except OSError as problem:
        raise UsageError(f"{path} cannot be read: {problem.strerror}; check the name.") from problem
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", "replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", "replace")
    if "\0" in text:
        raise UsageError(f"{path} is not a CSV file; save the list as CSV from the spreadsheet.")
    return text


def _tidy(cell: str) -> str:
    return " ".join(cell.split())
