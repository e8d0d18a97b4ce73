"""``scanform doubts``: what waits for a person, with the reason and the ink of each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import Doubt, open_binder
from scanform.cli.options import BinderFolder, say
from scanform.cli.outputs import check_folder
from scanform.cli.tables import Column, show_table
from scanform.report import value_in_words, write_crop
from scanform.report.unread_pages import UnreadPage, in_lines, list_unread
from scanform.settle import Outcome

__all__ = ["doubts", "show_doubts", "show_spot_checks", "show_unread"]

_NAMES = (Column("name", names=True), Column("unit", names=True), Column("date", names=True))
_DOUBTS = (Column(""), *_NAMES, Column("read as", words=True), Column("why it is doubtful", words=True))
_CHECKS = (*_NAMES, Column("sheet"), Column("item", words=True))
_MOST_UNREAD = 12  # lines; a whole binder of old paper may be of an unknown form


def doubts(
    binder: BinderFolder,
    crops: Annotated[Path | None, typer.Option(help="Folder to write each doubt's ink into, as PNG.")] = None,
    most: Annotated[int | None, typer.Option(min=1, help="Show only this many.")] = None,
) -> None:
    """List the doubtful fields: safety-critical first, then like with like. Pages that are no sheets yet are named
    under them, spot checks stand apart at the end.

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
        show_unread(list_unread(record))
        if checks:
            show_spot_checks(shown_checks, len(checks))
        if crops is not None and (shown or shown_checks):
            written = [write_crop(record, doubt, crops) for doubt in (*shown, *shown_checks)]
            say(f"{sum(path is not None for path in written)} pictures of the ink in {crops}")


def show_unread(pages: Sequence[UnreadPage]) -> None:
    """Name the pages that are no sheets yet: nothing on them is doubtful, because nothing was read."""
    if not pages:
        return
    lines, counts = in_lines(pages), Counter(page.outcome for page in pages)
    of = " + ".join(f"{counts[outcome]} {outcome.value}" for outcome in Outcome if counts[outcome])
    are = "page is no sheet yet and stands" if len(pages) == 1 else "pages are no sheets yet and stand"
    say(f"{len(pages)} {are} in no list ({of}); look at the paper, scan it again or enter it at the desk:")
    for line in lines[:_MOST_UNREAD]:
        say(f"  {line}")
    if len(lines) > _MOST_UNREAD:
        say(f"  ... and {len(lines) - _MOST_UNREAD} more; the desk has them all under Batches")


def show_spot_checks(shown: list[Doubt], total: int) -> None:
    """Print spot checks as a table that does not tell what was read."""
    title = f"{total} {'spot check' if total == 1 else 'spot checks'}: say what the paper says"
    table = [
        (
            check.ref,
            check.unit or "-",
            check.date.isoformat() if check.date else "-",
            f"{Path(check.source).name}, page {check.page_number}",
            check.label,
        )
        for check in shown
    ]
    show_table(_CHECKS, table, title)
    if len(shown) < total:
        say(f"... and {total - len(shown)} more")


def show_doubts(shown: list[Doubt], total: int) -> None:
    """Print doubts as a table."""
    table = [
        (
            "SAFETY" if doubt.field.critical else "",
            doubt.ref,
            doubt.unit or "?",
            doubt.date.isoformat() if doubt.date else "?",
            value_in_words(doubt.field.value),
            "; ".join(doubt.field.reasons),
        )
        for doubt in shown
    ]
    show_table(_DOUBTS, table, f"{total} {'doubt' if total == 1 else 'doubts'}")
    if len(shown) < total:
        say(f"... and {total - len(shown)} more")
