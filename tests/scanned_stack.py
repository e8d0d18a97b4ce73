"""A small stack as it comes off an office scanner on Friday, every page with its truth; made once a test run."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

import img2pdf
import numpy as np
from intake_files import encrypted_pdf, jpeg_bytes, picture, put

from scanform.form import Layout, Paper, Template, find_template, lay_out
from scanform.press import pad_sheets, parse_week, sheets_pdf
from scanform.simulate import CREW, Grade, SheetTruth, fill, random_truth, random_writer, render_pdf, scan

UNIT = "WL-07"
PAD = "F7K2QD"
WEEK = "2026-W46"  # Monday, 2026-11-09
UNITS_CSV = "unit,kind,hours,hours_on\nWL-07,wheel loader,,\nWL-01,wheel loader,,\n"
CREW_CSV = "name\n" + "".join(f"{name}\n" for name in CREW)


@dataclass(frozen=True, eq=False)
class ScannedSheet:
    """One filled sheet's file as the scanner wrote it, and what it truly says."""

    encoded: bytes = field(repr=False)
    truth: SheetTruth
    serial: str


@lru_cache(maxsize=4)
def printed_pad(template: Template) -> tuple[Layout, list[np.ndarray], list[str]]:
    """A pad for the unit's week: its layout, its blank sheets as uint8 (height, width) at 300 dpi, its serials."""
    layout = lay_out(template, Paper.A4)
    sheets = pad_sheets(template, "a4", PAD, unit=UNIT, days=parse_week(WEEK)[:4], copies=1)
    return layout, render_pdf(sheets_pdf(layout, sheets), 300.0), [sheet.code.serial for sheet in sheets]


@lru_cache(maxsize=16)
def scanned(day: int, grade: Grade = Grade.OFFICE, turns: int = 0, template: Template | None = None) -> ScannedSheet:
    """The unit's sheet of weekday ``day`` (0 is Monday) after the scanner; two turns are upside down."""
    layout, blanks, serials = printed_pad(template or find_template("site-machine"))
    on = parse_week(WEEK)[day]
    rng = np.random.default_rng([900, day])
    truth = random_truth(layout, rng, [UNIT], CREW, on, Decimal("4510.5") + 9 * day, serials[day])
    paper, truth = fill(layout, blanks[day], truth, random_writer(rng), rng, printed=("unit", "date"))
    return ScannedSheet(scan(paper, grade, rng, turns).encoded, truth, serials[day])


@lru_cache(maxsize=1)
def blank_back() -> bytes:
    """The empty back of a sheet: paper grain and no ink."""
    grain = np.random.default_rng(3).normal(246, 2.0, (3508, 2480))
    return jpeg_bytes(np.clip(grain, 0, 255).astype(np.uint8), dpi=(300, 300))


def pdf_of(pages: Sequence[bytes]) -> bytes:
    # The same bytes in each run: spot checks are drawn by them.
    return bytes(img2pdf.convert([io.BytesIO(page) for page in pages], nodate=True, engine=img2pdf.Engine.internal))


# Outcomes in input order: the feeder's PDF, then the other files by name.
FEEDER = ("read", "blank", "read", "read")
OUTCOMES = (*FEEDER, "read", "unreadable", "unreadable", "unknown-form", "unreadable")


@lru_cache(maxsize=1)
def _files() -> dict[str, bytes]:
    feeder = [scanned(0).encoded, blank_back(), scanned(1, turns=2).encoded, scanned(2).encoded]
    return {
        "1 feeder.pdf": pdf_of(feeder),
        "2 archive.tif": scanned(3, Grade.BITONAL).encoded,
        "3 cut short.jpg": scanned(0).encoded[:60_000],
        "4 letter.pdf": b"Dear sirs, the sheets are in the other envelope.\n",
        "6 calendar.png": picture("PNG"),
    }


def write_stack(folder: Path) -> Path:
    """The whole stack in a folder; input order is by name."""
    folder.mkdir(parents=True)
    for name, data in _files().items():
        put(folder, name, data)
    encrypted_pdf(folder).rename(folder / "7 locked.pdf")
    return folder


def truths() -> list[SheetTruth]:
    """What the sheets say, in input order."""
    return [scanned(0).truth, scanned(1, turns=2).truth, scanned(2).truth, scanned(3, Grade.BITONAL).truth]
