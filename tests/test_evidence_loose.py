"""Sheets of which nobody knows the unit or the day, and void ones, stand in every pack that they may belong to."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import replace

import pdfplumber
import pytest
from made_quarter import MONDAY, Day, TrueDefect, daily, day_fields

from scanform.binder import PageRecord, open_binder
from scanform.report import gather_evidence, write_evidence
from scanform.settle.types import Outcome, State

DAY = dt.timedelta(days=1)
TODAY = dt.date(2026, 7, 1)
STRETCH = (MONDAY, MONDAY + 4 * DAY, TODAY)


def record(binder, unit, on, *lines):
    """A sheet; what of its head is None nobody could read."""
    said = [(TrueDefect("WL07", item, words), words, None) for item, words in lines]
    fields = [
        replace(f, value=None, state=State.DOUBTFUL)
        if f.id in ("unit", "date") and (unit, on)[f.id == "date"] is None
        else f
        for f in day_fields(Day(unit or "?", on or MONDAY, 100.0, said))
    ]
    number = len(binder.pages()) + 1
    sha256 = binder.archive(str(number).encode(), "pdf")
    page = PageRecord(
        f"/{number}.pdf", f"/{number}.pdf", 1, sha256, Outcome.READ, None, "site-machine", 1, None, unit, on
    )
    return binder.record_page(replace(page, fields=tuple(fields))).number


@pytest.fixture(scope="module")
def binder(tmp_path_factory):
    with open_binder(tmp_path_factory.mktemp("loose") / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        record(opened, "WL07", MONDAY)
        record(opened, None, MONDAY + DAY, ("steering", "steering has play"))
        record(opened, "WL07", None)
        record(opened, "FL02", None)
        record(opened, None, MONDAY - 90 * DAY)
        record(opened, None, None)
        for unit in ("WL07", "FL02"):
            opened.void_sheet(record(opened, unit, MONDAY + 2 * DAY), "AB", "crossed out")
        yield opened


def test_a_unit_gets_every_sheet_without_a_unit_or_a_day_that_may_be_its(binder):
    pack = gather_evidence(binder, "WL07", *STRETCH)
    assert (pack.sheets, pack.loose) == ((1,), (2, 3, 6))
    assert [defect.name for defect in pack.defects] == ["2.defect.1"], "bad steering on a sheet of nobody's"
    assert pack.verified.pages == 4


def test_evidence_on_all_units_leaves_no_sheet_out(binder):
    assert gather_evidence(binder, None, *STRETCH).loose == (2, 3, 4, 6)
    assert 5 in gather_evidence(binder, None, MONDAY - 90 * DAY, MONDAY, TODAY).loose


def test_a_void_sheet_is_named_under_its_unit_and_never_as_a_page_of_nobodys(binder, tmp_path):
    pack = gather_evidence(binder, "WL07", *STRETCH)
    assert (list(pack.void["page_id"]), len(pack.unread)) == ([7], 0)
    write_evidence(binder, pack, tmp_path / "pack")
    with pdfplumber.open(tmp_path / "pack" / "evidence.pdf") as pdf:
        said = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    assert "Sheets that were void" in said
    assert "crossed out (AB)" in said
    assert "No page of the whole record is unreadable" in said
    assert "Sheets without a unit or a date" in said
    assert "Sheet 2: unit ?, 2026-06-02" in said
    assert "1 sheet, and 3 without a unit or a date that may be of them" in said
    with (tmp_path / "pack" / "tables" / "sheets.csv").open(encoding="utf-8-sig", newline="") as handle:
        assert [row["sheet"] for row in csv.DictReader(handle)] == ["1", "2", "3", "6"]
    with (tmp_path / "pack" / "tables" / "void.csv").open(encoding="utf-8-sig", newline="") as handle:
        assert [(row["unit"], row["reason"]) for row in csv.DictReader(handle)] == [("WL07", "void: crossed out (AB)")]
