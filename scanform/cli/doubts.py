"""``scanform doubts``: what waits for a person, with the reason and the ink of each."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table
from rich.text import Text

from scanform.binder import Doubt, open_binder
from scanform.cli.options import BinderFolder, console, say
from scanform.cli.outputs import check_folder
from scanform.report import value_in_words, write_crop

__all__ = ["doubts", "show_doubts", "show_spot_checks"]


def doubts(
    binder: BinderFolder,
    crops: Annotated[Path | None, typer.Option(help="Folder to write each doubt's ink into, as PNG.")] = None,
    most: Annotated[int | None, typer.Option(min=1, help="Show only this many.")] = None,
) -> None:
    """List the doubtful fields: safety-critical first, then like with like. Spot checks stand apart at the end.

    Settle one with the name in the first column:

    scanform confirm 12.hours 4521.3 --initials AB --binder BINDER

    A spot check is a field that the machine was sure of. What it read is not shown: say what the paper says, and
    scanform trust tells how far the rest can be believed.
    """
    if crops is not None:
        check_folder("--crops", crops, binder)
    with open_binder(binder) as record:
        waiting, checks = record.queue(), record.spot_checks()
        shown, shown_checks = (waiting[:most], checks[:most]) if most else (waiting, checks)
        if waiting:
            show_doubts(shown, len(waiting))
        else:
            say("Nothing is doubtful: every field is accepted or confirmed.")
        if checks:
            show_spot_checks(shown_checks, len(checks))
        if crops is not None and (shown or shown_checks):
            written = [write_crop(record, doubt, crops) for doubt in (*shown, *shown_checks)]
            say(f"{sum(path is not None for path in written)} pictures of the ink in {crops}")


def show_spot_checks(shown: list[Doubt], total: int) -> None:
    """Print spot checks as a table that does not tell what was read."""
    title = f"{total} {'spot check' if total == 1 else 'spot checks'}: say what the paper says"
    table = Table(title=title, title_justify="left", show_edge=False, pad_edge=False)
    for heading in ("name", "unit", "date", "sheet", "item"):
        table.add_column(heading, overflow="fold", no_wrap=heading != "item")
    for check in shown:
        table.add_row(
            Text(check.ref),
            Text(check.unit or "-"),
            Text(check.date.isoformat() if check.date else "-"),
            Text(f"{Path(check.source).name}, page {check.page_number}"),
            Text(check.label),
        )
    console.print(table)
    if len(shown) < total:
        say(f"... and {total - len(shown)} more")


def show_doubts(shown: list[Doubt], total: int) -> None:
    """Print doubts as a table."""
    table = Table(
        title=f"{total} {'doubt' if total == 1 else 'doubts'}", title_justify="left", show_edge=False, pad_edge=False
    )
    for heading in ("", "name", "unit", "date", "read as", "why it is doubtful"):
        table.add_column(heading, overflow="fold", no_wrap=heading in ("", "name", "unit", "date"))
    for doubt in shown:
        table.add_row(
            Text("SAFETY" if doubt.field.critical else "", style="bold"),
            Text(doubt.ref),
            Text(doubt.unit or "?"),
            Text(doubt.date.isoformat() if doubt.date else "?"),
            Text(value_in_words(doubt.field.value)),
            Text("; ".join(doubt.field.reasons)),
        )
    console.print(table)
    if len(shown) < total:
        say(f"... and {total - len(shown)} more")
