"""``scanform print``: blank sheets, and pads for a unit and a day or week."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import pandas as pd
import typer

from scanform.binder import open_binder
from scanform.cli.options import PaperSize, say
from scanform.errors import TemplateError, UsageError
from scanform.files import told
from scanform.form import AdoptedTemplate, Paper, Template, find_template, lay_out, new_pad_id, unit_characters
from scanform.press import StillOpen, pad_sheets, parse_day, parse_week, write_sheets
from scanform.report import defect_register
from scanform.report import still_open as still_open_ones

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
        typer.Option(help="CSV of open defects (columns words, and if known unit, item, since) to show on the sheets."),
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
    layout = lay_out(kind, paper)
    if still_open is not None and binder is not None:
        raise UsageError("--still-open and --binder: give one of the two.")
    open_defects = _still_open(still_open, unit) if still_open else None
    if binder is not None:
        open_defects = _open_in_binder(binder, unit, kind)
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


def _open_in_binder(folder: Path, unit: str | None, template: Template) -> tuple[StillOpen, ...]:
    if unit is None:
        raise UsageError(f"--binder {folder}: it holds several units' defects; say which one with --unit.")
    with open_binder(folder) as record:
        register = still_open_ones(defect_register(record))
    numbers = {f"item.{item.name}": item.number for item in template.items}
    return tuple(
        # The item's number is the one that this template gives it; an unsure reading is not printed as a fact.
        StillOpen(
            (defect.words or defect.item_text or "no words") + (" (?)" if defect.doubts or defect.waits else ""),
            numbers.get(defect.item or ""),
            defect.first,
        )
        for defect in register
        if unit_characters(defect.unit or "") == unit_characters(unit)
    )


def _still_open(path: Path, unit: str | None) -> tuple[StillOpen, ...]:
    try:
        table = pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8-sig")
    except (OSError, ValueError) as problem:
        raise UsageError(f"--still-open {path}: cannot be read as CSV ({problem}).") from problem
    table.columns = [str(name).strip().lower() for name in table.columns]
    if "words" not in table.columns:
        raise UsageError(f"--still-open {path}: there is no column 'words'; add it.")
    if "unit" in table.columns:
        if unit is None:
            raise UsageError(f"--still-open {path}: it lists several units' defects; say which one with --unit.")
        table = table[[unit_characters(u) == unit_characters(unit) for u in table["unit"]]]
    return tuple(
        StillOpen(row["words"], _number(row.get("item", ""), path), _since(row.get("since", ""), path))
        for row in table.to_dict("records")
    )


def _number(text: str, path: Path) -> int | None:
    if text.strip() and not text.strip().isdigit():
        raise UsageError(f"--still-open {path}, column 'item': '{text}' is no item number.")
    return int(text) if text.strip() else None


def _since(text: str, path: Path) -> date | None:
    try:
        return date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError as problem:
        raise UsageError(
            f"--still-open {path}, column 'since': '{text}' is no date; write year-month-day."
        ) from problem
