"""``scanform letter``: one page for Monday's meeting."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, say
from scanform.cli.outputs import LETTER, check_file
from scanform.errors import UsageError
from scanform.files import told, write_whole
from scanform.press import parse_week
from scanform.report import last_day, week_of, weekly_letter

__all__ = ["letter"]


def letter(
    binder: BinderFolder,
    out: Annotated[Path, typer.Option("--out", help="The letter, .pdf or .html.", show_default=False)],
    week: Annotated[
        str | None, typer.Option(help="An ISO week, such as 2026-W48; that of the last sheet if left out.")
    ] = None,
) -> None:
    """Write the weekly letter: what is dangerous, open, missing and due, on one page, with pictures.

    What is open is open on the day on which the letter is written; the rest is of the week. Print it, or send the HTML.
    """
    if out.suffix.lower() not in (".pdf", ".html"):
        raise UsageError(f"--out {out}: a letter ends in .pdf or .html; name it so.")
    check_file("--out", out, LETTER, binder)
    with open_binder(binder) as record:
        latest = last_day(record)
        if latest is None:
            raise UsageError(f"{binder} holds no sheet with a date yet; there is nothing to write about.")
        monday = parse_week(week)[0] if week else week_of(latest)[0]
        written = weekly_letter(record, monday, dt.date.today())
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        # Not at the top: the one needs what draws pages, the other what fills in HTML.
        if out.suffix.lower() == ".pdf":
            from scanform.report.letter_pdf import letter_pdf

            write_whole(out, (letter_pdf(written),))
        else:
            from scanform.report.letter_html import letter_html

            write_whole(out, (letter_html(written).encode(),))
    except OSError as problem:
        raise UsageError(f"--out {out}: cannot be written: {told(problem)}, or choose another place.") from problem
    say(f"The letter on week {written.week}: {out}")
