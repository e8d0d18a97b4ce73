"""``scanform demo``: the whole job once, on an invented week at an invented quarry."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import open_binder
from scanform.cli.defects import defects
from scanform.cli.doubts import show_doubts, show_spot_checks
from scanform.cli.evidence import evidence
from scanform.cli.export import export_tables
from scanform.cli.gaps import calendar as load_calendar
from scanform.cli.gaps import gaps
from scanform.cli.letter import letter
from scanform.cli.options import console, say
from scanform.cli.press import print_sheets
from scanform.cli.read import read
from scanform.cli.verify import verify
from scanform.errors import UsageError
from scanform.form import Paper, template_folder
from scanform.report import write_crop

__all__ = ["demo"]

WEEK = "2026-W47"  # of the scans
_SHOWN = 15
_CHECKS_SHOWN = 3
_SCANS = {".pdf", ".tif", ".jpg"}


def demo(
    out: Annotated[Path, typer.Option("--out", help="Folder for everything the demo makes; emptied first.")] = Path(
        "demo_out"
    ),
) -> None:
    """Print a pad, read a week of scans, list doubts, defects and gaps, write the letter and evidence, export, verify.

    Everything in it is invented.
    """
    scans = template_folder().parent / "demo_scans"
    if not scans.is_dir():
        raise UsageError(f"{scans}: the demo's scans are not here; run the demo from a checkout of the project.")
    _make_room(out)
    binder = out / "binder"
    console.rule("1. Print a pad for one loader's next week", align="left")
    print_sheets("site-machine", out / "pad.pdf", unit="WL07", week="2026-W48", paper=Paper.LETTER)
    console.rule("2. Read last week's stack", align="left")
    read(
        sorted(path for path in scans.iterdir() if path.suffix in _SCANS),
        binder,
        json_file=out / "pages.jsonl",
        units=scans / "units.csv",
        crew=scans / "crew.csv",
        template=None,
        show=out / "seen",
    )
    console.rule("3. What waits for a person", align="left")
    with open_binder(binder) as record:
        waiting = record.queue()
        show_doubts(waiting[:_SHOWN], len(waiting))
        checks = record.spot_checks()
        if checks:
            show_spot_checks(checks[:_CHECKS_SHOWN], len(checks))
        for doubt in waiting:
            write_crop(record, doubt, out / "doubts")
    console.rule("4. What is broken, what is missing, what is due", align="left")
    load_calendar(scans / "calendar.csv", binder, "DM")
    defects(binder, closed=True, picture=out / "defects.png")
    gaps(binder, week=WEEK, picture=out / "calendar.png")
    letter(binder, out / "letter.pdf", week=WEEK)
    letter(binder, out / "letter.html", week=WEEK)
    evidence(binder, out / "evidence-WL07", unit="WL07", week=WEEK)
    print_sheets("site-machine", out / "next-pad.pdf", unit="WL03", week="2026-W48", paper=Paper.LETTER, binder=binder)
    console.rule("5. Export and verify", align="left")
    export_tables(binder, out / "lists", ["csv", "xlsx"])
    verify(binder)
    console.rule("Where things are", align="left")
    for path, what in (
        ("pad.pdf", "the printed pad"),
        ("seen", "each page as it was seen: marks, boxes, readings, doubts"),
        ("doubts", "the ink of each doubt"),
        ("letter.pdf", "the weekly letter for Monday's meeting; letter.html is the same for a screen"),
        ("defects.png", "what is broken, dangerous first"),
        ("calendar.png", "which days have a sheet"),
        ("evidence-WL07", "what an inspector gets for one loader: evidence.pdf, tables, pictures, SHA256SUMS"),
        ("next-pad.pdf", "another loader's next pad, with what is still open on it"),
        ("lists", "the exported tables"),
        ("binder", "the record; try: scanform doubts --binder " + str(binder)),
    ):
        say(f"{out / path}: {what}")
    say("Settle what waits in the browser, ink beside reading:")
    say(f"  scanform desk --binder {binder}")


def _make_room(out: Path) -> None:
    marker = out / ".scanform-demo"
    if out.exists() and any(out.iterdir()) and not marker.exists():
        raise UsageError(f"--out {out}: this folder has something in it that no demo made; choose another.")
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir(parents=True)
    marker.touch()
