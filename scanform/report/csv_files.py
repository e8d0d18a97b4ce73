"""Tables as CSV files, and files that appear whole or not at all."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pandas as pd

from scanform.errors import UsageError
from scanform.files import told, write_whole
from scanform.report.guard import guarded

__all__ = ["csv_text", "write_csv", "write_files"]


def write_csv(frame: pd.DataFrame, path: Path) -> Path:
    """Write one table as a CSV file of its own; UsageError if it cannot be written."""
    (written,) = write_files(path.parent, [(path.name, csv_text(frame).encode("utf-8-sig"))])
    return written


def csv_text(frame: pd.DataFrame) -> str:
    """A table as CSV: all text in quotes, text that a spreadsheet would run as a formula made harmless."""
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


def write_files(folder: Path, files: Iterable[tuple[str, bytes]]) -> list[Path]:
    """Write files into a folder, made if absent, those of an earlier run replaced; UsageError if it cannot be.

    ``files``: names and contents, each made when its turn comes, so that no two need be in memory.
    """
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files:
            write_whole(folder / name, (data,))
            written.append(folder / name)
    except OSError as problem:
        raise UsageError(
            f"The export cannot be written to {folder}: {told(problem)}, or name another folder; the record is kept."
        ) from problem
    return written
