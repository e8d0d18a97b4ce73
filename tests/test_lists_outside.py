"""The lists as other people's programs open them: qpdf, LibreOffice, duckdb, SQLite, C's calendar."""

from __future__ import annotations

import csv
import datetime as dt
import re
import shutil
import sqlite3
import subprocess
import time
from contextlib import closing
from pathlib import Path

import duckdb
import pytest
from made_quarter import MONDAY

from scanform.binder.views import VIEWS
from scanform.report import gather_evidence, week_of, weekly_letter, write_evidence
from scanform.report.export import export
from scanform.report.letter_pdf import letter_pdf
from scanform.report.lists import lists

UNIT = "WL07"
TODAY = dt.date(2026, 8, 3)


@pytest.fixture(scope="module")
def exported(quarter, tmp_path_factory):
    folder = tmp_path_factory.mktemp("lists")
    export(quarter[0], folder, {"xlsx", "parquet", "sqlite"})
    return folder


def test_qpdf_finds_nothing_wrong_with_the_evidence_and_the_letter(quarter, tmp_path):
    if shutil.which("qpdf") is None:
        pytest.skip("qpdf is not installed")
    binder = quarter[0]
    write_evidence(binder, gather_evidence(binder, UNIT, MONDAY, MONDAY + dt.timedelta(6), TODAY), tmp_path / "pack")
    (tmp_path / "letter.pdf").write_bytes(letter_pdf(weekly_letter(binder, MONDAY, TODAY)))
    for path in (tmp_path / "pack" / "evidence.pdf", tmp_path / "letter.pdf"):
        checked = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True, check=False)
        assert checked.returncode == 0, checked.stderr
        assert "No syntax or stream encoding errors" in checked.stdout


def test_libreoffice_reads_the_workbook_as_it_was_written(quarter, exported, tmp_path):
    if shutil.which("soffice") is None:
        pytest.skip("LibreOffice is not installed")
    # All sheets, as CSV in UTF-8 (LibreOffice's own filter options: comma, quotes, UTF-8, from line 1, every sheet).
    kind = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    made = subprocess.run(
        ["soffice", profile, "--headless", "--convert-to", kind, "--outdir", tmp_path, exported / "record.xlsx"],
        capture_output=True,
        text=True,
        check=False,
    )
    if "no suitable" in made.stderr.casefold() or not list(tmp_path.glob("*register.csv")):
        pytest.skip("LibreOffice is installed without Calc")
    with (tmp_path / "record-register.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    register = lists(quarter[0])["register"]
    assert [row["defect"] for row in rows] == list(register["defect"])
    assert [row["first"] for row in rows] == [str(day) for day in register["first"]]
    assert [int(row["reports"]) for row in rows] == list(register["reports"])


def test_duckdb_counts_in_the_parquet_files_what_the_lists_say(quarter, exported):
    register = lists(quarter[0])["register"]
    query = "SELECT unit, count(*) FROM read_parquet(?) WHERE state = 'open' GROUP BY unit ORDER BY unit"
    found = duckdb.execute(query, [str(exported / "register.parquet")]).fetchall()
    still = register[register["state"] == "open"]
    assert found == sorted(still.groupby("unit").size().items())
    (first,) = duckdb.execute("SELECT min(date) FROM read_parquet(?)", [str(exported / "meters.parquet")]).fetchone()
    assert first == MONDAY  # a date, and no text


def test_a_view_of_the_record_itself_gives_a_units_hours_day_by_day(quarter):
    binder, truth = quarter
    with closing(sqlite3.connect(f"file:{binder.folder / 'record.sqlite'}?mode=ro", uri=True)) as opened:
        told = opened.execute("SELECT date, hours FROM list_hours WHERE unit = ? ORDER BY date", [UNIT]).fetchall()
    assert told == [(str(sheet.on), sheet.hours) for sheet in truth.sheets if sheet.unit == UNIT]


def documented(beginning):
    """The SQL in DEVELOPERS.md that begins with this comment."""
    text = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    (query,) = re.findall(rf"```sql\n-- {re.escape(beginning)}[^\n]*\n(.*?)```", text, re.DOTALL)
    return query


def test_the_documented_queries_answer(quarter, exported, monkeypatch):
    binder = quarter[0]
    with closing(sqlite3.connect(f"file:{binder.folder / 'record.sqlite'}?mode=ro", uri=True)) as opened:
        ran = opened.execute(documented("sqlite3")).fetchall()
    assert {row[0] for row in ran} == {"WL03", "WL07", "RT11", "FL02"}
    assert all(hours > 0 for *_, hours in ran)
    monkeypatch.chdir(exported)
    register = lists(binder)["register"]
    assert sum(row[1] for row in duckdb.execute(documented("duckdb")).fetchall()) == (register["state"] == "open").sum()


def test_every_view_is_documented_with_its_columns(quarter):
    text = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = {
        name: columns.split(", ") for name, columns in re.findall(r"^\| `(list_\w+)` \| (.+) \|$", text, re.MULTILINE)
    }
    with closing(sqlite3.connect(f"file:{quarter[0].folder / 'record.sqlite'}?mode=ro", uri=True)) as opened:
        made = {name: [row[1] for row in opened.execute(f"PRAGMA table_info({name})")] for name in VIEWS}
    assert told == made


def test_weeks_are_those_of_the_c_library():
    # C's strftime: %G-%V are year and week of ISO 8601 (ISO/IEC 9899, 7.29.3.5).
    for n in range(0, 366 * 30, 5):
        day = dt.date(2010, 1, 1) + dt.timedelta(days=n)
        monday, sunday = week_of(day)
        names = {time.strftime("%G-%V", one.timetuple()) for one in (monday, day, sunday)}
        assert len(names) == 1
        assert time.strftime("%u", monday.timetuple()) == "1"
