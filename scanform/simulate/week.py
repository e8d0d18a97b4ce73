"""Make the demo's scans: ``python -m scanform.simulate.week --out demo_scans``. The same libraries give the same bytes.

The sheets are pressed, filled in by each operator's own hand and scanned; the truth is written beside them.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from scanform.form import Paper
from scanform.simulate.bundles import g4_tiff, jpegs_as_pdf, with_orientation
from scanform.simulate.quarry import HANDS, MACHINES, MONDAY, REGISTER_DAY, Shift, shifts
from scanform.simulate.scanner import Grade, ScanResult, scan
from scanform.simulate.sheet import SheetTruth
from scanform.simulate.week_sheets import SEED, Filled, filled_sheet, hands_of_the_crew, spoilt_sheet

__all__ = ["ARCHIVE", "FEEDER", "main", "make_week"]

FEEDER, ARCHIVE = "feeder.pdf", "archive.tif"
SCAN_DPI = 300.0
# The office's scanner is set to small files; at 300 dpi this gives about a third of a megabyte a page.
JPEG_QUALITY = 32
DUPLEX_DAYS = 2  # Monday's and Tuesday's stack went through with backs, then somebody changed the setting
SHOW_THROUGH = 0.03  # share of the front's ink that shines through plain 80 g/m2 paper; by eye
WHITE_BACKING = 200  # grey; below this the feeder showed its black roller
UPRIGHT, UPSIDE_DOWN, LYING = 0, 2, 3
TURN_CLOCKWISE = 6  # Exif orientation that puts a picture stored with LYING upright


@dataclass
class _Pile:
    """Captured pages of one file, with the truth of each."""

    pages: list[bytes] = field(default_factory=list)
    truths: list[dict[str, Any]] = field(default_factory=list)


def make_week(out: Path) -> None:
    """Write scans, truth.json, units.csv, calendar.csv and crew.csv into the folder ``out``, made if absent."""
    out.mkdir(parents=True, exist_ok=True)
    piles = {ARCHIVE: _Pile(), FEEDER: _Pile()}
    hands = hands_of_the_crew()
    again: list[Filled] = []
    for number, shift in enumerate(shifts()):
        if shift.note.missing:
            continue
        if shift.note.spoilt_first:
            _to_feeder(piles[FEEDER], shift, spoilt_sheet(shift, hands, [SEED, number, 9]))
        sheet = filled_sheet(shift, hands, [SEED, number])
        if shift.note.photographed:
            name = shift.note.photographed
            piles[name] = _Pile()
            _add(piles[name], _photograph(sheet, name), "read", sheet.truth)
        elif shift.machine.paper is Paper.A4:
            _add(piles[ARCHIVE], _bitonal(sheet), "read", sheet.truth)
        else:
            _to_feeder(piles[FEEDER], shift, sheet)
        if shift.note.scanned_twice:
            again.append(sheet)
    for sheet in again:
        truth = replace(sheet.truth, troubles=(*sheet.truth.troubles, f"second scan of {sheet.truth.serial}"))
        _add(piles[FEEDER], _office(sheet.pixels, [*sheet.seed, 5]), "duplicate", truth)
    _write(out, piles)


def _write(out: Path, piles: dict[str, _Pile]) -> None:
    truths = []
    for name in sorted(piles):
        pile = piles[name]
        for number, truth in enumerate(pile.truths, start=1):
            truths.append({"source": name, "page": number, **truth})
        if name == FEEDER:
            data = jpegs_as_pdf(pile.pages, SCAN_DPI)
        elif name == ARCHIVE:
            data = g4_tiff(pile.pages, (SCAN_DPI, SCAN_DPI))
        else:
            (data,) = pile.pages
        (out / name).write_bytes(data)
    (out / "truth.json").write_text(json.dumps(truths, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    units = [(m.unit, m.template, f"{m.meter:.1f}", REGISTER_DAY.isoformat()) for m in MACHINES]
    (out / "units.csv").write_text(_csv(("unit", "kind", "hours", "hours_on"), units), encoding="utf-8")
    (out / "calendar.csv").write_text(_csv(("unit", "day", "in_use", "note"), _free_days()), encoding="utf-8")
    (out / "crew.csv").write_text(_csv(("name",), [(name,) for name in HANDS]), encoding="utf-8")


def _free_days() -> list[tuple[str, ...]]:
    """Sunday for every machine, and the weekdays on which one was not used."""
    free: list[tuple[str, ...]] = [
        ("*", (MONDAY + timedelta(days=6)).isoformat(), "no", "Sunday: the quarry is closed")
    ]
    return free + [
        (machine.unit, (MONDAY + timedelta(days=day)).isoformat(), "no", "no shift")
        for machine in MACHINES
        for day in range(len(machine.used), 6)
    ]


def _csv(heading: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows([heading, *rows])
    return stream.getvalue()


def _to_feeder(pile: _Pile, shift: Shift, sheet: Filled) -> None:
    turns = UPSIDE_DOWN if shift.note.upside_down else UPRIGHT
    _add(pile, _office(sheet.pixels, [*sheet.seed, 3], turns), "read", sheet.truth)
    if shift.day < DUPLEX_DAYS:
        through = 255 - SHOW_THROUGH * (255.0 - cv2.GaussianBlur(sheet.pixels[:, ::-1], (0, 0), 3))
        _add(pile, _office(through.astype(np.uint8), [*sheet.seed, 4]), "blank", None)


def _add(pile: _Pile, data: bytes, outcome: str, truth: SheetTruth | None) -> None:
    pile.pages.append(data)
    pile.truths.append(
        {
            "outcome": outcome,
            "serial": truth.serial if truth else None,
            "template": truth.template if truth else None,
            "values": truth.values if truth else {},
            "troubles": list(truth.troubles) if truth else [],
        }
    )


def _scanned(
    page: np.ndarray, grade: Grade, seed: list[int], turns: int, fits: Callable[[ScanResult], bool]
) -> ScanResult:
    """Scan until the simulated scanner is the one that stands in this office: it does not change from page to page."""
    for attempt in range(100):
        result = scan(page, grade, np.random.default_rng([*seed, attempt]), turns)
        if fits(result):
            return result
    raise AssertionError(f"no {grade} scanner in a hundred is as asked for")


def _white_backing(result: ScanResult) -> bool:
    pixels = result.pixels
    rims = (pixels[:8], pixels[-8:], pixels[:, :8], pixels[:, -8:])
    return all(float(np.percentile(rim, 5)) > WHITE_BACKING for rim in rims)


def _office(page: np.ndarray, seed: list[int], turns: int = UPRIGHT) -> bytes:
    result = _scanned(page, Grade.OFFICE, seed, turns, _white_backing)
    out = io.BytesIO()
    image = Image.fromarray(result.pixels)
    image.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True, dpi=(SCAN_DPI, SCAN_DPI))
    return out.getvalue()


def _bitonal(sheet: Filled) -> bytes:
    def fits(result: ScanResult) -> bool:
        return result.dpi == (SCAN_DPI, SCAN_DPI) and _white_backing(result)

    return _scanned(sheet.pixels, Grade.BITONAL, [*sheet.seed, 3], UPRIGHT, fits).encoded


def _photograph(sheet: Filled, name: str) -> bytes:
    """The first picture is stored upright, the second as a phone held sideways does: lying, with a note to turn it."""
    rng = np.random.default_rng([*sheet.seed, 3])
    if name == "phone_1.jpg":
        return scan(sheet.pixels, Grade.PHONE, rng).encoded
    return with_orientation(scan(sheet.pixels, Grade.PHONE, rng, LYING).encoded, TURN_CLOCKWISE)


def main() -> None:
    """Command line: where to write."""
    parser = argparse.ArgumentParser(description="Make one invented week of scanned sheets, with the truth beside it.")
    parser.add_argument("--out", type=Path, default=Path("demo_scans"), help="folder to write to (default: demo_scans)")
    make_week(parser.parse_args().out)


if __name__ == "__main__":
    main()
