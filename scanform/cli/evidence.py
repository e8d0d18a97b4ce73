"""``scanform evidence``: a pack that answers an inspector, for one unit or all and two dates."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, say
from scanform.cli.outputs import check_folder
from scanform.cli.stretch import Since, Until, Week, stretch
from scanform.cli.units import known_unit
from scanform.report import gather_evidence, write_evidence
from scanform.report.wording import counted

__all__ = ["evidence"]


def evidence(
    binder: BinderFolder,
    out: Annotated[Path, typer.Option("--out", help="A new or empty folder for the pack.", show_default=False)],
    unit: Annotated[str | None, typer.Option(help="One unit; all units if left out.")] = None,
    since: Since = None,
    until: Until = None,
    week: Week = None,
) -> None:
    """Write evidence that opens without scanform: a PDF, tables as CSV, page pictures, and a manifest of SHA-256.

    scanform evidence --unit WL07 --since 2026-08-25 --until 2026-11-24 --binder quarry --out wl07/

    It holds coverage and gaps, every sheet with its values and the ink of what was doubtful or confirmed, defects with
    their lives, hours, who confirmed what, what was not legible, how sure the rest is, the check of the journal, and
    how long the sheets are kept. Anybody can check that nothing was changed since: cd wl07 && sha256sum -c SHA256SUMS
    """
    check_folder("--out", out, binder)
    with open_binder(binder) as record:
        first, last = stretch(record, since, until, week)
        gathered = gather_evidence(record, known_unit(record, unit), first, last, dt.date.today())
        files = write_evidence(record, gathered, out)
    say(f"{gathered.title}: {counted(len(gathered.sheets), 'sheet')}, coverage {gathered.coverage.in_words()}")
    for note in gathered.coverage.notes:
        say(note)
    if gathered.loose:
        say(f"Without a unit or a date, and perhaps of them: {counted(len(gathered.loose), 'sheet')}, at the end.")
    if not gathered.verified.sound:
        say(f"THE RECORD IS NOT SOUND: {counted(len(gathered.verified.problems), 'problem')}; see the end of the PDF.")
    say(f"{counted(len(files), 'file')} in {out}; start with {out / 'evidence.pdf'}")
