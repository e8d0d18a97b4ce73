"""A sheet that was crossed out as a whole: nothing on it counts, and the record still knows all about it."""

from __future__ import annotations

import datetime as dt
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from commands import ROOT, run_process
from recorded_sheets import TEMPLATE, a_field, a_page, a_sheet, doubtful, sheet_fields, with_field

from scanform.batch import gather, read_stack, repeated_sheet
from scanform.batch.duplicates import seen_before
from scanform.binder import Binder, RecordedPage, SheetQuery, open_binder
from scanform.cli.summary import show_summary
from scanform.errors import UsageError
from scanform.form import Paper, built_in_templates, lay_out
from scanform.report import batch_summary, coverage, defect_register, settling_pace
from scanform.settle.types import Outcome, SettledField

WHY = "crossed out, new one written"
PAD = "DM47ZF"
DAYS = [dt.date(2026, 11, 23), dt.date(2026, 11, 24)]


@pytest.fixture
def binder(tmp_path):
    """A loader's sheets of two days, each with its hours in doubt; on the second the brakes do not hold."""
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(TEMPLATE)
        batch = opened.begin_batch(["monday.pdf"])
        sha256 = opened.archive(b"two sheets", ".pdf")
        numbers = []
        for n, (day, brakes) in enumerate(zip(DAYS, ("ok", "defect"), strict=True), 1):
            fields = sheet_fields(date=day.isoformat(), hours=f"{1200 + n}.5", brakes=brakes)
            fields = with_field(fields, doubtful(a_field("hours", "comb", f"{1200 + n}.5")))
            numbers.append(opened.record_page(a_sheet(sha256, n, fields, serial=f"{PAD}010{n}")).number)
        opened.end_batch(batch, numbers, 2)
        yield opened


def all_lists(binder: Binder) -> tuple[object, ...]:
    covered = coverage(binder, DAYS[0], DAYS[1])
    return (
        [doubt.ref for doubt in binder.queue()],
        binder.count_waiting(),
        binder.doubt_counts(),
        [(defect.unit, defect.name, defect.state) for defect in defect_register(binder)],
        (covered.in_words(), covered.days),
        binder.sheet_columns()["sheet"].tolist(),
        [reading.hours for reading in binder.meter_readings("LD-01")],
    )


def test_nothing_on_a_void_sheet_counts_and_its_page_is_accounted_for(binder):
    binder.confirm("2.hours", "1202.5", "CD")
    page = binder.void_sheet(2, "ab", WHY)
    assert (page.void, page.record.outcome, page.record.fields) == (True, Outcome.UNREADABLE, ())
    assert page.record.reason == f"void: {WHY} (AB)"
    assert [doubt.ref for doubt in binder.queue()] == ["1.hours"]
    assert binder.count_waiting() == 1
    assert defect_register(binder) == []
    assert binder.sheet_columns()["sheet"].tolist() == [1]
    assert binder.meter_readings("LD-01") == ()
    summary = batch_summary(binder, 1)
    assert (summary.balance[Outcome.READ], summary.balance[Outcome.UNREADABLE], summary.void) == (1, 1, 1)
    assert len(binder.filed_sheets(PAD)) == 2, "the paper came back"
    (found,) = [one for one in binder.find_sheets(SheetQuery()).sheets if one.number == 2]
    assert (found.void, found.doubtful, found.confirmed, found.state) == (True, 0, 0, None)
    assert binder.verify().problems == ()
    assert binder.verify_sheets([1, 2]).problems == ()


def test_a_void_that_is_taken_back_leaves_everything_as_it_was(binder):
    binder.confirm("2.hours", "1202.5", "CD")
    before, page = all_lists(binder), binder.page_numbered(2)
    binder.void_sheet(2, "AB", WHY)
    assert all_lists(binder) != before
    back = binder.take_back_void(2, "CD")
    assert (back.void, back.record) == (False, page.record)
    assert all_lists(binder) == before
    assert [entry.kind for entry in binder.journal()[-2:]] == ["sheet-voided", "void-taken-back"]
    assert binder.verify().problems == ()
    binder.void_sheet(2, "AB", "again")
    assert binder.verify_sheets([2]).problems == ()


def test_what_is_not_in_the_journal_is_noticed_on_a_void_sheet_too(binder):
    binder.void_sheet(2, "AB", WHY)
    with closing(sqlite3.connect(binder.folder / "record.sqlite")) as raw:
        raw.execute("UPDATE page SET outcome = 'read', reason = NULL WHERE id = 2")
        raw.commit()
    told = " ".join(binder.verify().problems)
    assert "outcome is 'read' in the tables, but 'unreadable' by the journal" in told


def test_on_a_void_sheet_nothing_is_settled_entered_or_voided_again(binder):
    with pytest.raises(UsageError, match="not void"):
        binder.take_back_void(2, "AB")
    with pytest.raises(UsageError, match="why sheet 2 is void"):
        binder.void_sheet(2, "AB", "  ")
    with pytest.raises(UsageError, match="no sheet 9"):
        binder.void_sheet(9, "AB", WHY)
    binder.void_sheet(2, "AB", WHY)
    for wrong in (
        lambda: binder.confirm("2.hours", "1202.5", "AB"),
        lambda: binder.enter_by_hand(2, lay_out(TEMPLATE, Paper.A4), {"unit": "LD-01", "date": "2026-11-24"}, "AB"),
    ):
        with pytest.raises(UsageError, match="Sheet 2 is void"):
            wrong()
    with pytest.raises(UsageError, match="only a sheet that was read"):
        binder.void_sheet(2, "AB", WHY)


def test_a_void_is_what_a_person_did_last_until_it_is_taken_back_or_they_decide_something(binder):
    assert binder.void_last_said("AB") is None
    binder.void_sheet(1, "AB", WHY)
    binder.confirm("2.hours", "1202.5", "CD")
    assert binder.void_last_said("ab") == 1
    assert binder.void_last_said("CD") is None
    binder.confirm("2.hours", "1202.6", "AB")
    assert binder.void_last_said("AB") is None
    binder.undo_last("AB")
    assert binder.void_last_said("AB") == 1
    binder.take_back_void(1, "CD")
    assert binder.void_last_said("AB") is None
    binder.void_sheet(1, "CD", WHY)
    assert (binder.void_last_said("AB"), binder.void_last_said("CD")) == (None, 1)


def test_by_command_a_sheet_is_voided_with_a_word_on_its_defects_and_counts_again(binder):
    options = ("--binder", binder.folder, "--initials", "AB")
    said = run_process("void", "2", "--why", WHY, *options)
    assert said.code == 0
    assert "Sheet 2 is void (LD-01, 2026-11-24); nothing on it counts." in said.out
    assert "It named 1 defect: see that they stand on another sheet." in said.out
    assert "Sheet 2 counts again" in run_process("void", "2", "--take-back", *options).out
    neither = run_process("void", "2", *options)
    assert (neither.code, "Give one of --why and --take-back" in neither.err) == (2, True)


def test_a_void_sheet_that_is_fed_again_stays_void_under_whatever_name(tmp_path: Path):
    scan = tmp_path / "monday.jpg"
    shutil.copy(ROOT / "demo_scans" / "phone_1.jpg", scan)
    with open_binder(tmp_path / "binder", create=True) as binder:

        def feed(path: Path) -> list[Outcome]:
            read_stack(gather([path]), binder, built_in_templates())
            return [page.record.outcome for page in binder.pages()]

        assert feed(scan) == [Outcome.READ]
        binder.void_sheet(1, "AB", WHY)
        assert feed(scan) == [Outcome.UNREADABLE]
        assert feed(scan.rename(tmp_path / "again.jpg")) == [Outcome.UNREADABLE, Outcome.DUPLICATE]
        assert binder.verify().problems == ()


def test_the_balance_on_the_terminal_says_how_many_unreadable_pages_are_void(binder, capsys):
    binder.void_sheet(2, "AB", WHY)
    show_summary(batch_summary(binder, 1), settling_pace(binder), binder.folder, to_stderr=False)
    said = "Pages in: 2 = 1 read + 0 blank + 0 duplicate + 0 unknown-form + 1 unreadable (1 of these void)"
    assert said in capsys.readouterr().out


INK = bytes(np.random.default_rng(1).integers(0, 256, 64 * 12, np.uint8))
OTHER_INK = bytes(np.random.default_rng(2).integers(0, 256, 64 * 12, np.uint8))
TOO_LITTLE_INK = bytes(64 * 12)


def scanned_anew(
    binder: Binder, *changed: SettledField, ink: bytes = INK, serial: str | None = "F7K2QD0101"
) -> RecordedPage:
    """One more scan of one paper, other bytes every time, seen and recorded as a batch does."""
    n, fields = len(binder.pages()) + 1, sheet_fields()
    for field in changed:
        fields = with_field(fields, field)
    paths = {"source": f"{n}.pdf", "source_path": f"/scans/{n}.pdf"}
    scan = a_sheet(binder.archive(b"scan %d" % n, ".pdf"), serial=serial, ink_signature=ink, **paths)
    return binder.record_page(seen_before(replace(scan, fields=(), unit=None, date=None), fields, (), binder))


@pytest.fixture
def voided(tmp_path):
    with open_binder(tmp_path / "voided", create=True) as opened:
        opened.remember_template(TEMPLATE)
        scanned_anew(opened)
        opened.void_sheet(1, "AB", WHY)
        yield opened


@pytest.mark.parametrize(("ink", "serial"), [(INK, "F7K2QD0101"), (TOO_LITTLE_INK, "F7K2QD0101"), (INK, None)])
def test_the_paper_of_a_void_sheet_scanned_anew_is_void_still_and_says_how_it_may_count(tmp_path, ink, serial):
    with open_binder(tmp_path / "binder", create=True) as binder:
        scanned_anew(binder, ink=ink, serial=serial)
        binder.void_sheet(1, "AB", WHY)
        again = scanned_anew(binder, ink=ink, serial=serial)
        assert again.record.outcome is Outcome.DUPLICATE
        assert "page 1 of 1.pdf, which is void" in again.record.reason
        assert "take the void of sheet 1 back if it is to count" in again.record.reason
        assert [day.status for day in coverage(binder, DAYS[0], DAYS[0]).days if day.status == "sheet"] == []
        assert repeated_sheet(binder, again) is None
        binder.take_back_void(1, "AB")
        assert repeated_sheet(binder, again).number == 1
        assert binder.verify().problems == ()


def test_the_very_file_of_a_void_sheet_says_so_too(voided):
    scan = replace(voided.page_numbered(1).record, source="copy.pdf", source_path="/scans/copy.pdf")
    assert "which is void" in seen_before(scan, sheet_fields(), (), voided).reason


@pytest.mark.parametrize(
    "changed", [a_field("hours", "comb", "1242.0"), a_field("defect.1", "text", "no brakes at all")]
)
def test_the_paper_of_a_void_sheet_that_says_something_else_now_waits_with_one_question(voided, changed):
    again = scanned_anew(voided, changed)
    assert again.record.outcome is Outcome.READ
    assert "which is void" in again.record.reason
    assert [doubt.ref for doubt in voided.queue()] == ["2.date"]
    assert "confirm this if it counts, or void this scan too" in voided.queue()[0].field.reasons[-1]
    assert voided.verify().problems == ()


def test_a_new_sheet_on_a_photocopied_blank_of_a_void_one_counts(voided):
    again = scanned_anew(voided, ink=OTHER_INK)
    assert (again.record.outcome, voided.queue()) == (Outcome.READ, [])
    assert "photocopied" in again.record.reason


def test_a_scan_that_counts_is_named_before_a_void_one_of_the_same_paper(voided):
    scanned_anew(voided, a_field("hours", "comb", "1242.0"))
    third = scanned_anew(voided, a_field("hours", "comb", "1242.0"))
    assert third.record.reason == "the same sheet, scanned again as page 1 of 2.pdf."


def test_a_page_that_was_laid_aside_unread_does_not_stand_in_the_way_of_a_better_scan(binder):
    unread = a_page(binder.archive(b"a blur", ".pdf"), 1, Outcome.UNREADABLE, "a blur")
    number = binder.record_page(replace(unread, serial="F7K2QD0101")).number
    binder.void_sheet(number, "AB", "nothing to enter")
    again = scanned_anew(binder)
    assert (again.record.outcome, again.record.reason) == (Outcome.READ, None)
