"""A stack for the scripted clerk: pads filled in by many hands, scanned in every grade, read into a binder for real."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from decimal import Decimal
from itertools import islice
from pathlib import Path

import numpy as np

from scanform.batch import gather, read_stack
from scanform.binder import Binder, open_binder
from scanform.form import Paper, built_in_templates, lay_out
from scanform.press import pad_sheets, sheets_pdf
from scanform.settle import Outcome
from scanform.simulate import CREW, Grade, SheetTruth, fill, random_truth, random_writer, render_pdf, scan, unsigned

__all__ = ["read_until", "scans"]

SEED = 9_200_000
SHEETS_A_PAD = 5
_AT_ONCE = 20  # sheets read before the doubts are counted again
_MONDAY = date(2026, 11, 2)
_DPI = 300.0
_SHARE_UNSIGNED = 0.05
# An office's usual mixture; one page in five is hard to read. No outside source.
_GRADES = (Grade.OFFICE, Grade.OFFICE, Grade.BITONAL, Grade.WORN, Grade.PHONE)
_UNITS = tuple(f"{kind}{n:02d}" for n in range(1, 9) for kind in ("WL", "RT", "FL"))


def read_until(scans_folder: Path, binder_folder: Path, doubts: int) -> Callable[[int, str], str | bool | None]:
    """Make and read sheets until that many doubts wait; returns what the paper says, by record number and field id."""
    truths: dict[str, SheetTruth] = {}
    made = scans()
    with open_binder(binder_folder, create=True) as binder:
        _register(binder, scans_folder)
        while len(binder.queue()) < doubts:
            part = []
            for name, encoded, truth in islice(made, _AT_ONCE):
                part.append(scans_folder / name)
                part[-1].write_bytes(encoded)
                truths[name] = truth
            read_stack(gather(part), binder, built_in_templates(), today=_MONDAY + timedelta(days=21))
        sources = {page.number: Path(page.record.source).name for page in binder.pages()}
        lost = [page.record.source for page in binder.pages() if page.record.outcome is not Outcome.READ]
    if lost:
        print(f"not read as a sheet: {', '.join(lost)}")
    return lambda number, field_id: truths[sources[number]].values[field_id]


def scans() -> Iterator[tuple[str, bytes, SheetTruth]]:
    """Sheets without end: a file's name, its bytes, and what its sheet says."""
    daily = [template for template in built_in_templates() if template.covers == "day"]
    n = 0
    while True:
        pad, unit = n // SHEETS_A_PAD, _UNITS[n // SHEETS_A_PAD % len(_UNITS)]
        rng = np.random.default_rng([SEED, pad])
        template = daily[pad % len(daily)]
        layout = lay_out(template, Paper.A4)
        monday = _MONDAY + timedelta(days=7 * (pad // len(_UNITS)))
        days = tuple(monday + timedelta(days=day) for day in range(SHEETS_A_PAD))
        # Every other pad has unit and date printed; on the rest the crew writes them.
        for_unit = pad % 2 == 0
        sheets = pad_sheets(
            template,
            Paper.A4.value,
            f"C{pad:05d}",
            unit=unit if for_unit else None,
            days=days if for_unit else (),
            copies=1 if for_unit else SHEETS_A_PAD,
        )
        blanks = render_pdf(sheets_pdf(layout, sheets), _DPI)
        writer = random_writer(rng)
        meter = Decimal(int(rng.integers(5_000, 90_000))) / 10
        for day, blank, sheet in zip(days, blanks, sheets, strict=True):
            meter += Decimal(int(rng.integers(30, 110))) / 10
            truth = random_truth(layout, rng, [unit], CREW, day, meter, sheet.code.serial)
            if rng.random() < _SHARE_UNSIGNED:
                truth = unsigned(truth)
            paper, truth = fill(layout, blank, truth, writer, rng, printed=("unit", "date") if for_unit else ())
            result = scan(paper, _GRADES[n % len(_GRADES)], rng)
            yield f"{n:04d}{result.suffix}", result.encoded, truth
            n += 1


def _register(binder: Binder, folder: Path) -> None:
    (folder / "units.csv").write_text("unit\n" + "".join(f"{unit}\n" for unit in _UNITS), encoding="utf-8")
    (folder / "crew.csv").write_text("name\n" + "".join(f"{name}\n" for name in CREW), encoding="utf-8")
    binder.load_units(folder / "units.csv")
    binder.load_crew(folder / "crew.csv")
