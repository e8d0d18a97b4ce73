"""A binder of filled sheets whose doubts are known, for the tests of the desk: real pages, made once a test run.

What the machine is said to have read is set down here and not read, so that each test knows what waits and why.
"""

from __future__ import annotations

import datetime as dt
import fcntl
import shutil
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from scanform.binder import Binder, PageRecord, open_binder
from scanform.form import FieldKind, Layout, Paper, find_template, lay_out
from scanform.press import pad_sheets, parse_week, sheets_pdf
from scanform.read.types import Alternative
from scanform.settle import Outcome, SettledField, State
from scanform.simulate import CREW, SheetTruth, fill, random_truth, random_writer, render_pdf

UNIT = "WL07"
SECOND_UNIT = "WL03"
PAD = "F7K2QD"
WEEK = "2026-W46"  # Monday, 2026-11-09
DPI = 150.0
SEED = 8_400_000
LAST, SHARE_OF_LAST = 3, 0.08  # some of the last sheet's fields are spot checks
NASTY = "<script>document.title='owned'</script> & \"brakes\""
UNITS_CSV = "unit,kind,hours,hours_on\nWL07,wheel loader,4500.0,2026-11-08\nWL03,wheel loader,,\nRT11,road truck,,\n"
CREW_CSV = "name\n" + "".join(f"{name}\n" for name in CREW)
HOURS = ("4510.5", "4519.5", "4528.5", "4537.5")


@lru_cache(maxsize=1)
def _sheets() -> tuple[Layout, tuple[tuple[np.ndarray, SheetTruth], ...]]:
    """Four filled sheets of a loader's week: uint8 (height, width) pages, not scanned, and what they say."""
    layout = lay_out(find_template("site-machine"), Paper.A4)
    sheets = pad_sheets(layout.template, "a4", PAD, unit=UNIT, days=parse_week(WEEK)[:4], copies=1)
    blanks = render_pdf(sheets_pdf(layout, sheets), DPI)
    filled = []
    for day, (blank, sheet) in enumerate(zip(blanks, sheets, strict=True)):
        rng = np.random.default_rng([SEED, day])
        hours = Decimal(HOURS[day])
        truth = random_truth(layout, rng, [UNIT], CREW, parse_week(WEEK)[day], hours, sheet.code.serial)
        filled.append(fill(layout, blank, truth, random_writer(rng), rng, printed=("unit", "date")))
    return layout, tuple(filled)


def _make(binder_folder: Path) -> None:
    layout, sheets = _sheets()
    (binder_folder.parent / "units.csv").write_text(UNITS_CSV)
    (binder_folder.parent / "crew.csv").write_text(CREW_CSV)
    with open_binder(binder_folder, create=True) as binder:
        binder.load_units(binder_folder.parent / "units.csv")
        binder.load_crew(binder_folder.parent / "crew.csv")
        binder.remember_template(layout.template)
        for day, (pixels, truth) in enumerate(sheets):
            binder.set_spot_check_share(SHARE_OF_LAST if day == LAST else 0.0, "AB")
            # The third sheet went through the feeder upside down.
            _record(binder, layout, day, np.rot90(pixels, 2) if day == 2 else pixels, truth.serial)


def desk_binder(folder: Path, cache: Path) -> Path:
    """A fresh copy of the binder in ``folder``; ``cache``: a folder of the whole test run."""
    cache.mkdir(exist_ok=True)
    with (cache / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # the processes of a test run share what one of them has made
        if not (cache / "made").exists():
            _make(cache / "binder")
            (cache / "made").touch()
    shutil.copytree(cache / "binder", folder)
    return folder


def _record(binder: Binder, layout: Layout, day: int, pixels: np.ndarray, serial: str) -> None:
    encoded = cv2.imencode(".png", pixels)[1].tobytes()
    on = parse_week(WEEK)[day]
    fields = tuple(_doubts(day).get(f.id, f) for f in _read(layout, day, pixels.shape[:2]))
    places = {f.id: f.polygon_px for f in _read(layout, day, pixels.shape[:2])}
    binder.record_page(
        PageRecord(
            source=f"stack/{day + 1}.png",
            source_path=f"/scans/stack/{day + 1}.png",
            page_number=1,
            sha256=binder.archive(encoded, ".png"),
            outcome=Outcome.READ,
            template=layout.template.name,
            version=layout.template.version,
            serial=serial,
            unit=UNIT,
            date=on,
            width_px=pixels.shape[1],
            height_px=pixels.shape[0],
            residual_mm=0.05,
            fields=tuple(replace(f, polygon_px=places[f.id]) for f in fields),
            ink_signature=None,
        )
    )


def _read(layout: Layout, day: int, shape: tuple[int, int]) -> list[SettledField]:
    """The machine's reading of a sheet: sure of everything."""
    on = parse_week(WEEK)[day]
    said = {"unit": UNIT, "date": on.isoformat(), "hours": HOURS[day], "operator": CREW[0], "fit": "fit"}
    fields = []
    for spec in layout.fields:
        value: str | bool | None = said.get(spec.id)
        if spec.kind is FieldKind.CHOICE:
            value = "ok"
        elif spec.kind is FieldKind.SIGNATURE:
            value = spec.id == "signature"
        x, y, w, h = (v * DPI / 25.4 for v in spec.box_mm)
        corners = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
        if day == 2:
            corners = np.array([shape[1], shape[0]]) - corners
        fields.append(
            SettledField(
                spec.id,
                spec.kind.value,
                value,
                State.ACCEPTED,
                0.9999,
                (),
                tuple((float(a), float(b)) for a, b in corners),
                (Alternative(value, 0.9999),),
                spec.critical,
            )
        )
    return fields


def _doubts(day: int) -> dict[str, SettledField]:
    """What the machine is not sure of on a day's sheet; places are put in later."""
    first_critical = next(i for i in find_template("site-machine").items if i.critical)
    brakes = f"item.{first_critical.name}"
    found = {
        "hours": _doubt(
            "hours", "comb", HOURS[day], "the ink may also say '4570.5'", (HOURS[day], 0.7), ("4570.5", 0.2)
        )
    }
    if day == 0:
        found[brakes] = _doubt(
            brakes, "choice", "ok", "the mark at OK is faint", ("ok", 0.8), ("defect", 0.1), (None, 0.1)
        )
        found["defect.1"] = _doubt("defect.1", "text", NASTY, "the words are hard to read", (NASTY, 0.6))
    if day == 1:
        iso = parse_week(WEEK)[1].isoformat()
        later = (parse_week(WEEK)[1] + dt.timedelta(days=6)).isoformat()
        found["date"] = _doubt("date", "comb", iso, f"the ink may also say '{later}'", (iso, 0.8), (later, 0.15))
        found["signature"] = _doubt(
            "signature", "signature", False, "the sheet is not signed", (False, 0.7), (True, 0.3)
        )
    if day == 3:
        found["unit"] = _doubt(
            "unit", "comb", SECOND_UNIT, "the ink rather says 'WL07'", (SECOND_UNIT, 0.5), (UNIT, 0.45)
        )
    return {k: replace(f, critical=k == brakes) for k, f in found.items()}


def _doubt(
    field_id: str, kind: str, value: str | bool | None, reason: str, *read: tuple[str | bool | None, float]
) -> SettledField:
    alternatives = tuple(Alternative(v, p) for v, p in read)
    return SettledField(field_id, kind, value, State.DOUBTFUL, read[0][1], (reason,), (), alternatives)
