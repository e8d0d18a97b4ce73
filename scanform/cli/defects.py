"""``scanform defects``: the register of defects, dangerous ones first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, console, say
from scanform.cli.outputs import CSV, PICTURE, check_file
from scanform.cli.tables import Column, show_table
from scanform.cli.units import Unit, known_unit
from scanform.report import CAUTION, Defect, defect_register, still_open, unread_pages, unread_sentence, write_defects
from scanform.report.wording import days_in_short, doubt_in_short, repair_in_words, state_in_words

__all__ = ["defects", "show_register"]

_COLUMNS = (
    Column(""),
    Column("name", names=True),
    Column("unit", names=True),
    Column("item", words=True),
    Column("defect", words=True),
    Column("first"),
    Column("last"),
    Column("reports"),
    Column("state", words=True),
)


def defects(
    binder: BinderFolder,
    unit: Unit = None,
    closed: Annotated[bool, typer.Option("--closed", help="Closed ones too, after the open ones.")] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            help="Write the list as CSV too; filled in by the workshop it goes back by scanform close --list."
        ),
    ] = None,
    picture: Annotated[Path | None, typer.Option(help="Write the list as .pdf, .svg or .png too.")] = None,
) -> None:
    """List defects from all sheets: each once, from its first report until something closed it.

    The same complaint on the next day's sheet is the same defect. One that comes back after it was closed is a
    recurrence. The workshop's block on a sheet closes it (marked, signed and not doubtful), or scanform close does. An
    answer OK on a later sheet closes nothing.

    First come safety-critical defects on units that were used with them. What rests on something doubtful stands in a
    table of its own, with what a person has to look at before it is a fact.
    """
    if out is not None:
        check_file("--out", out, CSV, binder)
    if picture is not None:
        check_file("--picture", picture, PICTURE, binder)
    with open_binder(binder) as record:
        unit = known_unit(record, unit)
        register = defect_register(record)
        unread = unread_sentence(unread_pages(record))
    of_unit = [defect for defect in register if unit is None or defect.unit == unit]
    shown = of_unit if closed else still_open(of_unit)
    show_register(shown)
    open_ones = still_open(of_unit)
    say(f"{len(open_ones)} open, {len(of_unit) - len(open_ones)} closed{f' on {unit}' if unit else ''}.")
    if unread:
        say(f"{unread}: scanform desk shows what they are.")
    if out is not None:
        say(f"The list as CSV: {write_defects(shown, out)}")
    if picture is not None:
        # Not at the top: the list alone needs nothing that draws.
        from scanform.report.look import save_drawing
        from scanform.report.register_picture import register_picture

        title = f"Defects of {unit}" if unit else "Defects"
        say(f"The list as a picture: {save_drawing(register_picture(shown, title), picture)}")


def show_register(register: Sequence[Defect]) -> None:
    """Print defects as a table, those that are no facts yet as another, the caution under them, and on top when
    safety-critical ones did not keep a unit from use.
    """
    for defect in register:
        item = f"{defect.item_number} {defect.item_text}" if defect.item_number else "item unclear"
        if defect.is_open and defect.used_on:
            say(f"USED WITH AN OPEN SAFETY DEFECT: {defect.unit} ({item}) on {days_in_short(defect.used_on)}")
        elif defect.is_open and defect.perhaps_used_on:
            days = days_in_short(defect.perhaps_used_on)
            say(f"PERHAPS USED WITH AN OPEN SAFETY DEFECT: {defect.unit} ({item}) on {days}, no fact yet")
    facts, waiting = ([d for d in register if d.sure is sure] for sure in (True, False))
    if not register:
        say("No defects.")
        return
    if facts:
        _show_table(facts)
    if waiting:
        say("No facts yet: what a person has to look at first stands under the table.")
        _show_table(waiting)
    console.print(Text(CAUTION, style="bold"))


def _show_table(register: Sequence[Defect]) -> None:
    show_table(_COLUMNS, [_row(defect) for defect in register])
    for defect in register:
        if defect.closed is not None:
            say(f"{defect.name}: {state_in_words(defect)}")
        elif doubt := doubt_in_short(defect):
            say(f"{defect.name} is {doubt}: {'; '.join(defect.waits or defect.doubts)}")


def _letters(text: str) -> list[str]:
    return sorted(sign for sign in text.casefold() if sign.isalnum())


def _row(defect: Defect) -> list[str]:
    danger = {True: "SAFETY", False: "", None: "item unclear"}[defect.critical]
    words = defect.words or "(no words)"
    if defect.written and _letters(defect.written) != _letters(defect.words):
        words += f"\n\u201c{defect.written}\u201d"
    return [
        danger,
        defect.name,
        defect.unit or "?",
        f"{defect.item_number} {defect.item_text or ''}" if defect.item_number else "?",
        words,
        defect.first.isoformat() if defect.first else "?",
        defect.last.isoformat() if defect.last else "?",
        str(len(defect.reports)),
        _state(defect),
    ]


def _state(defect: Defect) -> str:
    """The state in a few words; what it hangs on is said under the table."""
    said = "open" if defect.closed is None else f"{repair_in_words(defect.closed.repair)} {defect.closed.on}"
    return said + (", came back" if defect.times else "") + (f", {doubt}" if (doubt := doubt_in_short(defect)) else "")
