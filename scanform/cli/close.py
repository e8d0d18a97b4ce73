"""``scanform close`` and ``scanform reopen``: what the workshop says of a defect when it is not on the sheet."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import ClosingWish, open_binder
from scanform.binder.values import iso_date_from
from scanform.cli.options import BinderFolder, Initials, say
from scanform.errors import UsageError
from scanform.report import close_by_name, close_from_csv, defect_register, standing_closing, still_open

__all__ = ["close", "reopen"]


def close(
    binder: BinderFolder,
    initials: Initials,
    name: Annotated[
        str | None, typer.Argument(help="The defect's name as scanform defects gives it, such as 12.defect.1.")
    ] = None,
    repaired: Annotated[bool, typer.Option("--repaired", help="It was repaired.")] = False,
    not_needed: Annotated[bool, typer.Option("--not-needed", help="A repair is not needed.")] = False,
    on: Annotated[str | None, typer.Option(help="The day, such as 2026-11-25; today if left out.")] = None,
    by: Annotated[str | None, typer.Option(help="The competent person who says so.")] = None,
    paper: Annotated[
        str | None, typer.Option(help="On what paper or screen it stands, such as 'work order 4711'.")
    ] = None,
    from_list: Annotated[
        Path | None,
        typer.Option(
            "--list", help="CSV with the columns defect, repair, closed_on, closed_by, paper, instead of one."
        ),
    ] = None,
) -> None:
    """Close a defect that the workshop did not close on the sheet itself.

    scanform close 30.defect.1 --repaired --by "Otis Granger" --paper "work order 4711" --binder quarry --initials AB

    Or many: scanform defects --out open.csv gives the list, the workshop fills in the last four columns, and scanform
    close --list open.csv takes it back. Every closing is in the journal with your initials; scanform reopen takes the
    last one of a defect back.
    """
    with open_binder(binder) as record:
        if from_list is not None:
            if name or repaired or not_needed or on or by or paper:
                raise UsageError("--list says it all; leave out the name and the other options.")
            done = close_from_csv(record, from_list, initials)
        else:
            done = close_by_name(record, [_wish(name, repaired, not_needed, on, by, paper)], initials)
        left = len(still_open(defect_register(record)))
    for defect, closing in done:
        what = "repaired" if closing.repair == "repaired" else "repair not needed"
        say(f"{defect.name} ({defect.unit or '?'}, {defect.words or 'no words'}): {what} on {closing.closed_on}.")
    say(f"{len(done)} closed, {left} still open.")


def reopen(
    name: Annotated[str, typer.Argument(help="The defect's name, such as 12.defect.1.")],
    binder: BinderFolder,
    initials: Initials,
) -> None:
    """Take back the last closing of a defect that was made by scanform close; the journal keeps both.

    What the workshop closed on a sheet is corrected there: scanform confirm 12.defect.1.repair --blank.
    """
    with open_binder(binder) as record:
        closing = record.withdraw_closing(standing_closing(record, [name]) or name, initials)
    say(f"{closing.ref} is open again; it had been closed by {closing.closed_by} on {closing.closed_on}.")


def _wish(
    name: str | None, repaired: bool, not_needed: bool, on: str | None, by: str | None, paper: str | None
) -> ClosingWish:
    if name is None:
        raise UsageError("Which defect? Give its name as scanform defects shows it, or --list with a CSV file.")
    if repaired == not_needed:
        raise UsageError("Give one of --repaired and --not-needed.")
    if not by or not paper:
        raise UsageError("Who says so, and where does it stand? Give --by and --paper.")
    day = date.fromisoformat(iso_date_from(on, "--on")) if on else date.today()
    return ClosingWish(name.strip().lower(), "repaired" if repaired else "not-needed", day, by, paper)
