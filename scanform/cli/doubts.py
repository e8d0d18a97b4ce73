"""``scanform doubts``: what waits for a person, with the reason and the ink of each."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table
from rich.text import Text

from scanform.binder import Doubt, open_binder
from scanform.cli.options import BinderFolder, console, say
from scanform.report import value_in_words, write_crop

__all__ = ["doubts", "show_doubts"]


def doubts(
    binder: BinderFolder,
    crops: Annotated[Path | None, typer.Option(help="Folder to write each doubt's ink into, as PNG.")] = None,
    most: Annotated[int | None, typer.Option(min=1, help="Show only this many.")] = None,
) -> None:
    """List the doubtful fields: safety-critical first, then like with like.

    Settle one with the name in the first column:

    scanform confirm 12.hours 4521.3 --initials AB --binder BINDER
    """
    with open_binder(binder) as record:
        waiting = record.queue()
        if not waiting:
            say("Nothing is doubtful: every field is accepted or confirmed.")
            return
        show_doubts(waiting[:most] if most else waiting, len(waiting))
        if crops is not None:
            written = [write_crop(record, doubt, crops) for doubt in (waiting[:most] if most else waiting)]
            say(f"{sum(path is not None for path in written)} pictures of the ink in {crops}")


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
