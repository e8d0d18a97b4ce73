"""A week's sheet all the way: printed, written on, scanned, read into a binder, settled by a person, exported."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from commands import Run, runner

from scanform.batch import gather, read_stack
from scanform.binder import Binder, RecordedPage, open_binder
from scanform.errors import UsageError
from scanform.form import DAYS, Paper, find_template, lay_out, parted
from scanform.press import pad_sheets, parse_week, sheets_pdf
from scanform.report import tables
from scanform.settle import Outcome, State
from scanform.simulate import CREW, Grade, SheetTruth, fill, random_writer, render_pdf, scan
from scanform.simulate.weekly import random_week

UNIT, WEEK, MONDAY = "HT-21", "2026-W46", date(2026, 11, 9)
TODAY = date(2026, 11, 27)
TEMPLATE = find_template("quarry-weekly")
WORKED = DAYS[:5]


def truth_of_the_week(serial: str) -> SheetTruth:
    """Five days' work; the belts have a defect from Wednesday on, the wipers are not fitted."""
    layout = lay_out(TEMPLATE, Paper.A4)
    values = dict(random_week(layout, np.random.default_rng(1), [UNIT], CREW, MONDAY).values)
    for field_id in values:
        stem, day = parted(field_id)
        if day is not None:
            used = day in WORKED
            usual = "na" if stem == "item.windows" else "ok"
            values[field_id] = (usual if used else None) if stem.startswith("item.") else used
            if stem == "hours":
                values[field_id] = f"{Decimal('4510.5') + 9 * DAYS.index(day)}" if used else None
        elif field_id.startswith(("defect.", "workshop.")):
            values[field_id] = False if field_id == "workshop.signature" else None
    for day in ("wed", "thu", "fri"):
        values[f"item.belts.{day}"] = "defect"
    values |= {"defect.1.item": "7", "defect.1.day": "3", "defect.1": "fan belt frayed", "fit": "fit", "told": CREW[0]}
    return SheetTruth(TEMPLATE.name, TEMPLATE.version, serial, values)


@pytest.fixture(scope="module")
def scanned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SheetTruth]:
    """The sheet of the week as an office scanner wrote it, and what it says."""
    layout = lay_out(TEMPLATE, Paper.A4)
    (sheet,) = pad_sheets(TEMPLATE, "a4", "F7K2QD", unit=UNIT, days=parse_week(WEEK), copies=1)
    blank = render_pdf(sheets_pdf(layout, [sheet]), 300)[0]
    rng = np.random.default_rng(8_700_003)
    page, truth = fill(
        layout, blank, truth_of_the_week(sheet.code.serial), random_writer(rng), rng, printed=("unit", "date")
    )
    folder = tmp_path_factory.mktemp("scans")
    for number, grade in enumerate((Grade.OFFICE, Grade.OFFICE)):
        result = scan(page, grade, np.random.default_rng([8_700_003, number]))
        (folder / f"scan {number}{result.suffix}").write_bytes(result.encoded)
    return folder, truth


@pytest.fixture(scope="module")
def read(scanned: tuple[Path, SheetTruth], tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Binder, list]]:
    folder, _ = scanned
    lists = tmp_path_factory.mktemp("lists")
    (lists / "units.csv").write_text(f"unit,kind,hours,hours_on\n{UNIT},haul truck,4490.0,2026-11-06\n")
    (lists / "crew.csv").write_text("name\n" + "".join(f"{name}\n" for name in CREW))
    with open_binder(lists / "binder", create=True) as binder:
        binder.load_units(lists / "units.csv")
        binder.load_crew(lists / "crew.csv")
        result = read_stack(gather([folder]), binder, [TEMPLATE], workers=1, today=TODAY)
        yield binder, result.pages


def sheet_of(pages: list[RecordedPage]) -> RecordedPage:
    return pages[0]


def test_every_field_of_the_week_is_right_or_doubtful(
    read: tuple[Binder, list], scanned: tuple[Path, SheetTruth]
) -> None:
    _, pages = read
    truth = scanned[1].values
    page = sheet_of(pages)
    assert (page.record.template, page.record.unit, page.record.date) == ("quarry-weekly", UNIT, MONDAY)
    for field in page.record.fields:
        if field.state is State.ACCEPTED and field.kind != "text":
            assert field.value == truth[field.id], field.id
    marks = [f for f in page.record.fields if f.kind == "mark"]
    assert len(marks) == 7 * len(TEMPLATE.items)
    assert np.mean([f.state is State.ACCEPTED for f in marks]) > 0.95
    weekend = [f for f in page.record.fields if parted(f.id)[1] in ("sat", "sun")]
    assert all(f.value in (None, False) for f in weekend)


def test_the_same_paper_scanned_again_is_a_duplicate(read: tuple[Binder, list]) -> None:
    _, pages = read
    assert [page.record.outcome for page in pages] == [Outcome.READ, Outcome.DUPLICATE]


def test_a_sheet_scanned_on_wednesday_and_again_on_friday_counts_once(tmp_path: Path) -> None:
    layout = lay_out(TEMPLATE, Paper.A4)
    (sheet,) = pad_sheets(TEMPLATE, "a4", "F7K2QD", unit=UNIT, days=parse_week(WEEK), copies=1)
    blank = render_pdf(sheets_pdf(layout, [sheet]), 300)[0]
    whole = truth_of_the_week(sheet.code.serial)
    writer = random_writer(np.random.default_rng(8_700_004))
    empty = {f: False if isinstance(v, bool) else None for f, v in whole.values.items()}
    early = {f: v for f, v in whole.values.items() if parted(f)[1] in (None, "mon", "tue") and "defect" not in f}
    late = {f: v for f, v in whole.values.items() if f not in early}
    page, folder = blank, tmp_path / "scans"
    folder.mkdir()
    for number, part in enumerate((early, late)):  # the second time the same paper, with three days more on it
        rng = np.random.default_rng([8_700_004, number])
        page, _ = fill(layout, page, replace(whole, values=empty | part), writer, rng, printed=("unit", "date"))
        (folder / f"scan {number}.jpg").write_bytes(scan(page, Grade.OFFICE, rng).encoded)
    with open_binder(tmp_path / "binder", create=True) as binder:
        first, second = read_stack(gather([folder]), binder, [TEMPLATE], workers=1, today=TODAY).pages
        assert (first.record.outcome, second.record.outcome) == (Outcome.READ, Outcome.READ)
        assert "this week's sheet was also scanned as page 1" in str(second.record.reason)
        found = tables(binder)
        assert len(found["sheets"]) == 2
        assert found["hours"]["sheet"].tolist() == [second.number] * 5
        assert set(found["answers"]["sheet"]) == {second.number}
        assert len(found["defects"]) == 1


def test_a_person_settles_what_is_doubtful_in_the_weeks_own_terms(read: tuple[Binder, list]) -> None:
    binder, pages = read
    number = sheet_of(pages).number
    for day in WORKED:
        hours = f"{Decimal('4510.5') + 9 * DAYS.index(day)}"
        assert binder.confirm(f"{number}.hours.{day}", hours, "AB").value == hours
    assert binder.confirm(f"{number}.defect.1.item", "7", "AB").value == "7"
    assert binder.confirm(f"{number}.defect.1.day", "Wed", "AB").value == "3"
    assert binder.confirm(f"{number}.item.belts.thu", "defect", "AB").state is State.CONFIRMED
    assert binder.confirm(f"{number}.initials.mon", "signed", "AB").value is True
    with pytest.raises(UsageError, match="1 for Monday to 7 for Sunday"):
        binder.confirm(f"{number}.defect.2.day", "9", "AB")
    with pytest.raises(UsageError, match="no meter reading"):
        binder.confirm(f"{number}.hours.sat", "soon", "AB")
    with pytest.raises(UsageError, match="say ok, defect, na"):
        binder.confirm(f"{number}.item.horn.sat", "maybe", "AB")
    for doubt in binder.queue():
        if doubt.field.id.startswith("item."):
            assert doubt.label, doubt.field.id


def test_the_hours_log_has_one_reading_a_day_and_the_defect_its_own_day(read: tuple[Binder, list]) -> None:
    binder, pages = read
    test_a_person_settles_what_is_doubtful_in_the_weeks_own_terms(read)
    found = tables(binder)
    hours = found["hours"]
    assert hours["date"].tolist() == [date(2026, 11, day) for day in range(9, 14)]
    assert hours["hours"].tolist() == [4510.5, 4519.5, 4528.5, 4537.5, 4546.5]
    defects = found["defects"]
    assert len(defects) == 1  # three crosses, one defect
    assert (defects["date"][0], defects["item"][0], defects["item_number"][0]) == (date(2026, 11, 11), "belts", 7)
    answers = found["answers"]
    assert set(answers["date"]) == {date(2026, 11, day) for day in range(9, 14)}
    assert len(answers[answers["item"] == "belts"]) == 5
    assert found["sheets"]["hours"].tolist() == [4546.5]
    # The next sheet of the unit is bound by this one's days.
    known = {(r.on, r.hours) for r in binder.meter_readings(UNIT)}
    assert (date(2026, 11, 13), Decimal("4546.5")) in known
    assert (date(2026, 11, 9), Decimal("4510.5")) in known
    assert sheet_of(pages).record.field("hours") is None


def test_the_week_goes_through_the_commands(
    scanned: tuple[Path, SheetTruth],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    scanform: Run = runner(monkeypatch, capsys)
    ran = scanform("read", scanned[0], "--binder", tmp_path / "b", "--json", tmp_path / "out.json", "--workers", 1)
    assert ran.code == 0, ran.err
    first, second = (json.loads(line) for line in (tmp_path / "out.json").read_text().splitlines())
    assert (first["outcome"], second["outcome"]) == ("read", "duplicate")
    by_id = {f["id"]: f for f in first["fields"]}
    assert by_id["date"]["value"] == "2026-11-09"
    assert by_id["item.horn.mon"]["value"] == "ok"
    assert by_id["item.belts.wed"]["value"] == "defect"
    assert len(by_id["item.horn.sun"]["polygon_px"]) == 4
    assert scanform("doubts", "--binder", tmp_path / "b").code == 0
    assert scanform("verify", "--binder", tmp_path / "b").code == 0
    assert scanform("export", "--binder", tmp_path / "b", "--out", tmp_path / "x").code == 0
    hours = pd.read_csv(tmp_path / "x" / "hours.csv")
    assert len(hours) == 5
