"""Finding sheets by unit, dates, template, state, outcome and serial, with counts that agree with the record itself."""

from __future__ import annotations

import datetime as dt
import sqlite3
from contextlib import closing

import pytest
from recorded_sheets import a_field, a_page, a_sheet, doubtful, record_sheets, sheet_fields, with_field

from scanform.binder import SheetQuery, SheetState, open_binder
from scanform.errors import UsageError
from scanform.settle.types import Outcome, State
from scanform.training.large_record import NEWEST_DAY, write_large_record

SEED = 8_300_000


@pytest.fixture(scope="module")
def binder(tmp_path_factory):
    """Two weeks of a quarry's sheets; the doubts of the first are settled."""
    folder = tmp_path_factory.mktemp("years") / "binder"
    write_large_record(folder, sheets=420, open_sheets=120, seed=SEED)
    with open_binder(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def pages(binder):
    return [p for p in binder.pages() if p.record.outcome is Outcome.READ]


def state_of(page) -> SheetState:
    states = {field.state for field in page.record.fields}
    if State.DOUBTFUL in states:
        return SheetState.DOUBTFUL
    return SheetState.CONFIRMED if State.CONFIRMED in states else SheetState.ACCEPTED


def numbers(binder, **wanted) -> set[int]:
    found = binder.find_sheets(SheetQuery(**wanted), at_most=500)
    assert found.total == len(found.sheets)
    return {sheet.number for sheet in found.sheets}


def test_a_record_made_for_measuring_is_one_that_the_binder_itself_finds_sound(binder):
    report = binder.verify()
    assert report.problems == ()
    assert report.pages == len(binder.pages())


@pytest.mark.parametrize("state", list(SheetState))
def test_every_sheet_is_in_one_state_and_is_found_by_it(binder, pages, state):
    expected = {p.number for p in pages if state_of(p) is state}
    assert expected, f"no sheet is {state}, so this shows nothing"
    assert numbers(binder, state=state) == expected


def test_sheets_are_found_by_everything_together(binder, pages):
    last = NEWEST_DAY - dt.timedelta(days=3)
    wanted = {"unit": "WL-03", "last": last, "template": "site-machine"}
    expected = {p.number for p in pages if p.record.unit == "WL-03" and p.record.date <= last}
    assert len(expected) > 2
    assert numbers(binder, **wanted) == expected
    both = numbers(binder, state=SheetState.DOUBTFUL, **wanted) | numbers(binder, state=SheetState.ACCEPTED, **wanted)
    assert both | numbers(binder, state=SheetState.CONFIRMED, **wanted) == expected


@pytest.mark.parametrize("typed", ["WL-03", "wl03", " wl 03 "])
def test_a_unit_is_found_however_it_is_typed(binder, pages, typed):
    assert numbers(binder, unit=typed) == {p.number for p in pages if p.record.unit == "WL-03"}


def test_the_beginning_of_a_unit_finds_all_that_begin_so(binder, pages):
    assert numbers(binder, unit="rt") == {p.number for p in pages if p.record.unit.startswith("RT-")}
    assert numbers(binder, unit="ZZ") == set()


def test_a_serial_finds_its_sheet_and_a_pads_name_all_of_its_sheets(binder, pages):
    serial = pages[7].record.serial
    assert numbers(binder, serial=serial.lower()) == {pages[7].number}
    pad = {p.number for p in pages if p.record.serial.startswith(serial[:6])}
    assert len(pad) > 1
    assert numbers(binder, serial=serial[:6]) == pad


def test_pages_that_are_no_sheets_are_found_by_their_outcome_and_have_no_state(binder):
    blank = binder.find_sheets(SheetQuery(outcome=Outcome.BLANK), at_most=500)
    assert blank.total == sum(p.record.outcome is Outcome.BLANK for p in binder.pages()) > 0
    assert {sheet.state for sheet in blank.sheets} == {None}
    assert numbers(binder, outcome=Outcome.BLANK, state=SheetState.ACCEPTED) == set()


def test_the_newest_come_first_and_every_page_of_the_answer_fits_on_the_last(binder, pages):
    query = SheetQuery(outcome=Outcome.READ)
    whole = [s.number for start in range(0, 500, 90) for s in binder.find_sheets(query, start, 90).sheets]
    in_order = sorted(pages, key=lambda p: (p.record.date, p.number), reverse=True)
    assert whole == [p.number for p in in_order]
    assert binder.find_sheets(query, 400, 90).total == len(pages)
    with pytest.raises(UsageError, match="ask for 1 to 500"):
        binder.find_sheets(query, 0, 501)


def test_what_is_filed_can_be_chosen_from(binder):
    filed = binder.filings()
    assert filed.units[:2] == ("DZ-01", "DZ-02")
    assert filed.templates == ("forklift", "road-truck", "site-machine")


def test_a_found_sheet_counts_what_waits_and_what_people_said(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as binder:
        record_sheets(binder, 1)
        fields = with_field(sheet_fields(), doubtful(a_field("date", "comb", "2026-11-23")))
        binder.record_page(a_sheet("b" * 64, 2, with_field(fields, doubtful(a_field("hours", "comb", "1.0")))))
        binder.record_page(a_page("c" * 64, 3, Outcome.UNREADABLE, "cut short"))
        binder.confirm("2.hours", "1282.5", "AB")
        found = {s.number: s for s in binder.find_sheets(SheetQuery()).sheets}
        assert [(n, s.doubtful, s.confirmed, s.state) for n, s in sorted(found.items())] == [
            (1, 1, 0, SheetState.DOUBTFUL),
            (2, 1, 1, SheetState.DOUBTFUL),
            (3, 0, 0, None),
        ]


def test_an_older_binder_gets_the_indexes_that_finding_needs(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as binder:
        record_sheets(binder, 2)
    record = tmp_path / "binder" / "record.sqlite"
    with closing(sqlite3.connect(record)) as raw:
        for name in ("journal_page", "page_found", "field_state_page"):
            raw.execute(f"DROP INDEX {name}")
        raw.execute("CREATE INDEX field_state ON field (state)")
        raw.execute("UPDATE meta SET value = '2' WHERE key = 'schema'")
        raw.commit()
    with open_binder(tmp_path / "binder") as binder:
        assert len(binder.field_history(2, "hours")) == 1
        assert binder.verify().problems == ()
    with closing(sqlite3.connect(record)) as raw:
        names = {row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type = 'index'")}
        (plan,) = raw.execute(
            "EXPLAIN QUERY PLAN SELECT seq FROM journal WHERE "
            "CASE WHEN json_valid(body) THEN json_extract(body, '$.page') END = 2"
        )
    assert {"journal_page", "page_found", "field_state_page"} <= names
    assert "field_state" not in names
    assert "journal_page" in plan[-1]
