"""``scanform export``: the record as tables."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, say
from scanform.cli.outputs import check_folder
from scanform.report.export import FORMATS, export

__all__ = ["export_tables"]


def export_tables(
    binder: BinderFolder,
    out: Annotated[Path, typer.Option("--out", help="Folder to write into, made if absent.", show_default=False)],
    formats: Annotated[
        list[str] | None,
        typer.Option(
            "--format", help="csv, xlsx, json, jsonl, parquet, sqlite; more than one may be given, all if left out."
        ),
    ] = None,
) -> None:
    """Write every list as CSV, XLSX, JSON, JSON Lines, Parquet and SQLite.

    Of the sheets: sheets, answers, defects, hours, pages, pads, doubts. Of the whole record: the register of defects,
    gaps, meters, service, closings.

    Text that a spreadsheet would run as a formula is made harmless; README.txt beside the tables says how.
    """
    check_folder("--out", out, binder)
    with open_binder(binder) as record:
        written = export(record, out, frozenset(formats) if formats else FORMATS)
    for path in written:
        say(str(path))
