"""``scanform print``: blank sheets, and pads for a unit and a day or week."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from scanform.cli.options import PaperSize, say
from scanform.cli.outputs import PDF, check_file
from scanform.cli.still_open import open_in_binder, open_in_list
from scanform.errors import TemplateError, UsageError
from scanform.files import told
from scanform.form import AdoptedTemplate, Paper, find_template, lay_out, new_pad_id
from scanform.press import pad_sheets, parse_day, parse_week, write_sheets

__all__ = ["print_sheets"]


def print_sheets(
    template: Annotated[str, typer.Argument(help="A name under form_templates/, or the path of a template file.")],
    out: Annotated[Path, typer.Option("--out", help="The PDF to write.", show_default=False)],
    unit: Annotated[str | None, typer.Option(help="Print this unit number on every sheet and into its code.")] = None,
    day: Annotated[
        str | None, typer.Option("--date", help="Print this day on every sheet, such as 2026-11-25.")
    ] = None,
    week: Annotated[
        str | None,
        typer.Option(
            help="An ISO week, such as 2026-W48: one sheet a day, or one in all if the template covers a week."
        ),
    ] = None,
    copies: Annotated[int, typer.Option(help="Copies of each sheet; every copy has a serial of its own.")] = 1,
    paper: PaperSize = Paper.A4,
    still_open: Annotated[
        Path | None,
        typer.Option(
            help="CSV of open defects to show on the sheets: columns words, and if known unit, item, since; or the "
            "list that scanform defects --out writes."
        ),
    ] = None,
    binder: Annotated[
        Path | None, typer.Option(help="The record: the unit's open defects stand on the sheets, dangerous ones first.")
    ] = None,
) -> None:
    """Print check sheets as a PDF.

    Blank sheets:            scanform print site-machine --out blank.pdf --copies 20

    A pad for a unit's week: scanform print site-machine --unit WL-07 --week 2026-W48 --out pad.pdf

    With open defects on it: scanform print site-machine --unit WL07 --week 2026-W48 --binder quarry --out pad.pdf

    A printed unit or date needs no handwriting: it stands on the sheet and in its code. Print at 100 %, not "fit to
    page": the boxes should be 5 mm wide.
    """
    if day and week:
        raise UsageError("--date and --week: give one of the two.")
    days = parse_week(week) if week else (parse_day(day),) if day else ()
    kind = find_template(template)
    if isinstance(kind, AdoptedTemplate):
        raise TemplateError(
            f"{template}: this form was printed elsewhere and is read here, not printed; copy a blank of it, or print "
            "one of scanform's own sheets."
        )
    check_file("--out", out, PDF, binder)
    layout = lay_out(kind, paper)
    if still_open is not None and binder is not None:
        raise UsageError("--still-open and --binder: give one of the two.")
    open_defects = open_in_list(still_open, unit, kind) if still_open else None
    if binder is not None:
        open_defects = open_in_binder(binder, unit, kind)
    sheets = pad_sheets(kind, paper.value, new_pad_id(), unit=unit, days=days, copies=copies, still_open=open_defects)
    try:
        write_sheets(out, layout, sheets)
    except OSError as problem:
        raise UsageError(f"--out {out}: cannot be written: {told(problem)}, or choose another place.") from problem
    first, last = sheets[0].code.serial, sheets[-1].code.serial
    if len(sheets) == 1:
        say(f"1 sheet in {out}, serial {first}.")
    else:
        say(f"{len(sheets)} sheets in {out}, serials {first} to {last}.")
