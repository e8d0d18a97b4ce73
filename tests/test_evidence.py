"""The evidence pack: complete, readable without scanform, and checkable by anybody with standard tools."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
import sqlite3
import subprocess
from contextlib import closing as shut
from dataclasses import replace

import cv2
import numpy as np
import pdfplumber
import pytest
from commands import one_sentence
from made_quarter import MONDAY, Day, TrueDefect, daily, day_fields, doubted
from recorded_sheets import a_page

from scanform.binder import PageRecord, open_binder
from scanform.errors import UsageError
from scanform.report import gather_evidence, write_evidence
from scanform.settle.types import Outcome

DAY = dt.timedelta(days=1)
UNIT = "WL07"
TODAY = dt.date(2026, 7, 1)
CORNERS = ((200.0, 300.0), (600.0, 300.0), (600.0, 380.0), (200.0, 380.0))


def scan(number):
    """A page with a dark bar where the hours stand."""
    pixels = np.full((1200, 900), 250, np.uint8)
    pixels[320:360, 250 : 300 + 10 * number] = 20
    return cv2.imencode(".png", pixels)[1].tobytes()


@pytest.fixture(scope="module")
def binder(tmp_path_factory):
    """Four days of a unit: a doubt, a correction, a defect, a gap; another unit's sheet and an unreadable page."""
    with open_binder(tmp_path_factory.mktemp("evidence") / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        horn = TrueDefect(UNIT, "horn", "horn dead")
        for n, (unit, lines) in enumerate([(UNIT, []), (UNIT, [(horn, "horn dead", None)]), (UNIT, []), ("FL02", [])]):
            on = MONDAY + (n if n < 2 else 3) * DAY
            fields = day_fields(Day(unit, on, 100.0 + 8 * n + (8 if n == 2 else 0), lines))
            fields = tuple(replace(f, polygon_px=CORNERS) if f.id == "hours" else f for f in fields)
            if n in (0, 2):
                fields = tuple(doubted(f, "the ink may also say '1<8'") if f.id == "hours" else f for f in fields)
            page = PageRecord(
                *("mon.png", "/mon.png", 1, opened.archive(scan(n), "png"), Outcome.READ, None),
                *("site-machine", 1, f"S{n}", unit, on),
                fields=fields,
            )
            opened.record_page(replace(page, source=f"/scans/day{n}.png", source_path=f"/scans/day{n}.png"))
        opened.confirm("1.hours", "101.0", "AB")
        opened.record_page(a_page(opened.archive(b"torn", "png"), 1, Outcome.UNREADABLE, "torn in half"))
        yield opened


@pytest.fixture(scope="module")
def pack(binder, tmp_path_factory):
    folder = tmp_path_factory.mktemp("pack") / "wl07"
    write_evidence(binder, gather_evidence(binder, UNIT, MONDAY, MONDAY + 4 * DAY, TODAY), folder)
    return folder


def table(pack, name):
    with (pack / "tables" / f"{name}.csv").open(encoding="utf-8-sig", newline="") as handle:
        return list(csv.DictReader(handle))


@pytest.fixture(scope="module")
def text(pack):
    with pdfplumber.open(pack / "evidence.pdf") as pdf:
        return " ".join(" ".join(page.extract_text() for page in pdf.pages).split())


def test_the_pdf_says_all_that_an_inspector_asks_for(text):
    for said in (
        "Unit WL07, 2026-06-01 to 2026-06-05",
        "The record was checked: sound",
        "60 % (3 of 5 days)",
        "ran 9.0 h without a sheet",
        "2.defect.1: SAFETY-CRITICAL. WL07, item 20 Horn: horn: not working",
        "Used with it open on 2026-06-02",
        "Sheet 1: WL07, 2026-06-01",
        "101.0 (confirmed)",
        "the ink may also say '1<8'",
        "torn in half",
        "none spot-checked yet",
        "30 CFR 56.14100(d)",
        "stays parked until a competent person",
    ):
        assert said in text, said
    assert "FL02" not in text


def test_one_units_hours_are_its_own_and_no_other_units(binder, tmp_path):
    path = tmp_path / "units.csv"
    path.write_text(f"unit,hours,hours_on\n{UNIT},95.0,{MONDAY}\nFL02,50.0,{MONDAY}\nWL09,60.0,{MONDAY}\n")
    shutil.copytree(binder.folder, tmp_path / "copy")
    with open_binder(tmp_path / "copy") as copy:
        copy.load_units(path)
        gathered = gather_evidence(copy, UNIT, MONDAY, MONDAY + 4 * DAY, TODAY)
        assert set(gathered.readings["unit"]) == {UNIT}
        assert set(gathered.use["unit"]) == {UNIT}
        every = gather_evidence(copy, None, MONDAY, MONDAY + 4 * DAY, TODAY)
        assert set(every.readings["unit"]) == {UNIT, "FL02", "WL09"}


def test_the_pdfs_text_can_be_selected_by_another_reader(pack):
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    said = subprocess.run(
        ["pdftotext", str(pack / "evidence.pdf"), "-"], capture_output=True, text=True, check=True
    ).stdout
    assert "Defects and their lives" in said


def test_every_figure_names_its_file_its_page_and_its_place(pack, text):
    sheets, fields = table(pack, "sheets"), table(pack, "fields")
    assert [row["sheet"] for row in sheets] == ["1", "2", "3"]
    assert all(row["sha256"] in text for row in sheets)
    hours = next(row for row in fields if row["field"] == "1.hours")
    assert [float(hours[name]) for name in ("x1", "y1", "x3", "y3")] == [200.0, 300.0, 600.0, 380.0]
    # The place times the picture's scale is where the ink is on the picture.
    picture = cv2.imread(str(pack / "pages" / sheets[0]["picture"]), cv2.IMREAD_GRAYSCALE)
    scale = float(sheets[0]["scale"])
    x1, y1, x3, y3 = (round(float(hours[name]) * scale) for name in ("x1", "y1", "x3", "y3"))
    assert picture[y1:y3, x1:x3].min() < 60
    assert picture[y3 + 5 :, :].min() > 200


def test_the_ink_of_what_was_doubtful_or_confirmed_lies_in_the_pack(pack):
    assert sorted(path.name for path in (pack / "ink").iterdir()) == ["1.hours.png", "3.hours.png"]
    assert cv2.imread(str(pack / "ink" / "3.hours.png"), cv2.IMREAD_GRAYSCALE).min() < 60


def test_who_confirmed_what_stands_with_the_journals_entry(pack, binder):
    (decision,) = table(pack, "decisions")
    entry = next(e for e in binder.journal() if e.kind == "field-confirmed")
    assert (decision["entry"], decision["who"], decision["before"], decision["after"]) == (
        *(str(entry.seq), "AB", "100.0", "101.0"),
    )
    assert table(pack, "journal")[-1]["hash"] == binder.verify().head_hash


def check(pack):
    return subprocess.run(["sha256sum", "-c", "--quiet", "SHA256SUMS"], cwd=pack, capture_output=True, text=True)


def test_the_manifest_is_checked_by_sha256sum_and_finds_a_changed_file(pack, tmp_path):
    # GNU coreutils' own tool reads the manifest.
    if shutil.which("sha256sum") is None:
        pytest.skip("sha256sum is not installed")
    assert check(pack).returncode == 0
    listed = {line.split("  ")[1] for line in (pack / "SHA256SUMS").read_text().splitlines()}
    every = {path.relative_to(pack).as_posix() for path in pack.rglob("*") if path.is_file()}
    assert listed == every - {"SHA256SUMS"}
    copy = tmp_path / "copy"
    shutil.copytree(pack, copy)
    (copy / "tables" / "sheets.csv").write_text("nothing")
    assert check(copy).returncode != 0


def test_a_record_changed_behind_its_journal_is_called_unsound_in_the_pdf(binder, tmp_path):
    shutil.copytree(binder.folder, tmp_path / "binder")
    with shut(sqlite3.connect(tmp_path / "binder" / "record.sqlite")) as behind:
        behind.execute("UPDATE field SET value = '9.9' WHERE page_id = 2 AND field_id = 'hours'")
        behind.commit()
    with open_binder(tmp_path / "binder") as changed:
        write_evidence(changed, gather_evidence(changed, UNIT, MONDAY, MONDAY + 4 * DAY, TODAY), tmp_path / "out")
    with pdfplumber.open(tmp_path / "out" / "evidence.pdf") as pdf:
        said = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    assert "NOT SOUND: 1 problem" in said
    assert "field hours is '9.9' (accepted) in the tables, but '108.0' (accepted) by the journal" in said


def test_the_check_of_some_sheets_finds_a_changed_journal_entry_and_a_changed_file(binder, tmp_path):
    shutil.copytree(binder.folder, tmp_path / "binder")
    with shut(sqlite3.connect(tmp_path / "binder" / "record.sqlite")) as behind:
        behind.execute("DROP TRIGGER journal_keeps_words")
        behind.execute("UPDATE journal SET body = replace(body, '\"AB\"', '\"XY\"') WHERE kind = 'field-confirmed'")
        behind.commit()
    with open_binder(tmp_path / "binder") as changed:
        archived = changed.archived(changed.page_numbered(1).record.sha256)
        archived.write_bytes(b"other")
        problems = changed.verify_sheets([1]).problems
    assert any("does not match its hash" in said for said in problems)
    assert any("does not hold the bytes" in said for said in problems)


def test_nothing_to_show_is_no_evidence(binder):
    with pytest.raises(UsageError, match="No sheet of ZZ9"):
        gather_evidence(binder, "ZZ9", MONDAY, MONDAY + DAY, TODAY)


def test_the_command_takes_all_units_and_refuses_a_folder_with_other_things_in_it(binder, run, tmp_path):
    to = ("evidence", "--binder", binder.folder, "--since", "2026-06-01", "--until", "2026-06-05", "--out")
    ran = run(*to, tmp_path / "all")
    assert ran.code == 0, ran.err
    assert "All units, 2026-06-01 to 2026-06-05: 4 sheets" in ran.out
    assert "is not empty" in one_sentence(run(*to, tmp_path / "all").err)
