"""A sheet that no machine could read, entered by a person; and what the record tells of a field's past."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from recorded_sheets import TEMPLATE, a_page, a_sheet, record_sheets

from scanform.binder import Objection, SheetQuery, SheetState, open_binder
from scanform.errors import UsageError
from scanform.form import Paper, lay_out, serial_number
from scanform.report import batch_summary
from scanform.settle.types import Outcome, State

LAYOUT = lay_out(TEMPLATE, Paper.A4)
VALUES = {
    "unit": "ld-01",
    "date": "2026-11-24",
    "hours": "1301,5",
    "item.tires": "ok",
    "item.brakes": "defect",
    "defect.1": "pedal goes to the floor",
    "defect.1.item": "2",
    "fit": "parked",
    "signature": "signed",
}


@pytest.fixture
def binder(tmp_path):
    """A batch of one sheet and two pages that no machine could read."""
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(TEMPLATE)
        batch = opened.begin_batch(["monday.pdf"])
        pages = record_sheets(opened, 1)
        sha256 = pages[0].record.sha256
        pages.append(opened.record_page(a_page(sha256, 2, Outcome.UNREADABLE, "The page is folded.")))
        pages.append(opened.record_page(a_page(sha256, 3, Outcome.UNKNOWN_FORM, "It is other paper.")))
        opened.end_batch(batch, [p.number for p in pages], 3)
        yield opened


def test_a_sheet_entered_by_hand_counts_as_one_that_was_read_with_every_field_confirmed(binder):
    entered = binder.enter_by_hand(2, LAYOUT, VALUES, "ab").record
    assert (entered.outcome, entered.unit, entered.date.isoformat()) == (Outcome.READ, "LD-01", "2026-11-24")
    assert entered.reason == "entered by hand; the machine said unreadable: The page is folded."
    assert {field.state for field in entered.fields} == {State.CONFIRMED}
    assert [field.id for field in entered.fields] == [spec.id for spec in LAYOUT.fields]
    assert (entered.field("hours").value, entered.field("item.horn").value) == ("1301.5", None)
    assert (entered.field("signature").value, entered.field("workshop.signature").value) == (True, False)
    assert binder.verify().problems == ()
    (found,) = binder.find_sheets(SheetQuery(unit="LD-01", state=SheetState.CONFIRMED)).sheets
    assert (found.number, found.confirmed) == (2, len(LAYOUT.fields))
    assert binder.queue()[0].number == 1, "nothing of it waits for a person"
    assert [reading.hours for reading in binder.meter_readings("LD-01")][-1] == 1301.5


def test_the_batch_still_balances_once_a_page_of_it_was_entered(binder):
    binder.enter_by_hand(2, LAYOUT, VALUES, "AB")
    summary = batch_summary(binder, 1)
    assert (summary.balance[Outcome.READ], summary.balance[Outcome.UNREADABLE]) == (2, 0)
    assert [entry.words for entry in summary.critical_defects] == ["pedal goes to the floor"]


def test_what_a_person_read_is_nothing_that_the_machine_is_judged_by(binder):
    before = {field.ref for field in binder.judged_fields()}
    binder.enter_by_hand(2, LAYOUT, VALUES, "AB")
    assert {field.ref for field in binder.judged_fields()} == before
    assert binder.spot_checked() == []


def test_the_journal_says_who_entered_it_and_notices_any_change(binder):
    binder.enter_by_hand(2, LAYOUT, VALUES, "AB")
    entry = binder.journal()[-1]
    assert (entry.kind, entry.body["initials"], entry.body["page"]) == ("page-entered-by-hand", "AB", 2)
    assert entry.body["before"] == {"outcome": "unreadable", "reason": "The page is folded."}
    with closing(sqlite3.connect(binder.folder / "record.sqlite")) as raw:
        raw.execute("UPDATE field SET value = '1401.5', read_value = '1401.5' WHERE page_id = 2 AND field_id = 'hours'")
        raw.execute("UPDATE page SET unit = 'LD-02' WHERE id = 2")
        raw.commit()
    problems = " ".join(binder.verify().problems)
    assert "hours is '1401.5'" in problems
    assert "unit is 'LD-02'" in problems


@pytest.mark.parametrize(
    ("number", "changed", "serial", "said"),
    [
        (1, {}, None, "on record as read"),
        (9, {}, None, "no page 9"),
        (2, {"unit": " "}, None, "filed under its unit"),
        (2, {"date": None}, None, "filed under its unit and its date"),
        (2, {"date": "24 November"}, None, "is no date"),
        (2, {"hours": "many"}, None, "no meter reading"),
        (2, {"item.brakes": "maybe"}, None, "not one of its answers"),
        (2, {"defect.1.item": "77"}, None, "no item 77"),
        (2, {"item.wings": "ok"}, None, "no field 'item.wings'"),
        (2, {}, "F7K2QD", "is no serial"),
        (2, {}, "F7K2QD0902", "is no serial"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence_and_changes_nothing(binder, number, changed, serial, said):
    entries = len(binder.journal())
    with pytest.raises(UsageError, match=said):
        binder.enter_by_hand(number, LAYOUT, VALUES | changed, "AB", serial)
    assert len(binder.journal()) == entries
    assert binder.page_numbered(2).record.outcome is Outcome.UNREADABLE


def test_a_serial_is_taken_once(binder):
    serial = serial_number("F7K2QD", 3, 7)
    assert binder.enter_by_hand(2, LAYOUT, VALUES, "AB", f" {serial.lower()} ").record.serial == serial
    with pytest.raises(UsageError, match="on record as sheet 2"):
        binder.enter_by_hand(3, LAYOUT, VALUES, "AB", serial)


def test_an_entry_can_be_taken_back_and_entered_as_what_it_really_is(binder):
    before = binder.page_numbered(3).record
    binder.enter_by_hand(3, LAYOUT, VALUES, "AB")
    assert binder.take_back_entry(3, "KL").record == before
    assert binder.verify().problems == ()
    with pytest.raises(UsageError, match="not entered by hand"):
        binder.take_back_entry(3, "KL")
    binder.enter_by_hand(3, LAYOUT, VALUES | {"unit": "LD-07"}, "KL")
    binder.confirm("3.hours", "1302.5", "KL")
    with pytest.raises(UsageError, match="KL has corrected hours of sheet 3"):
        binder.take_back_entry(3, "AB")
    binder.undo_last("KL")
    assert binder.take_back_entry(3, "AB").record == before
    assert [d.undone_by is not None for d in binder.decisions()] == [True], "what was said stays on record"
    assert binder.verify().problems == ()
    told = [(e.what, e.initials, e.new_value) for e in binder.field_history(3, "unit")]
    assert told == [
        ("entered", "AB", "LD-01"),
        ("entry-taken-back", "KL", None),
        ("entered", "KL", "LD-07"),
        ("entry-taken-back", "AB", None),
    ]


def test_an_accepted_value_is_corrected_with_the_old_one_kept_and_its_history_told(binder):
    binder.confirm("1.unit", "LD-02", "AB")
    binder.confirm("1.unit", "LD-03", "KL")
    binder.undo_last("KL")
    assert binder.page_numbered(1).record.unit == "LD-02"
    history = binder.field_history(1, "unit")
    assert [(e.what, e.initials, e.old_value, e.new_value, e.new_state) for e in history] == [
        ("read", None, None, "LD-01", State.ACCEPTED),
        ("confirmed", "AB", "LD-01", "LD-02", State.CONFIRMED),
        ("confirmed", "KL", "LD-02", "LD-03", State.CONFIRMED),
        ("taken-back", "KL", "LD-03", "LD-02", State.CONFIRMED),
    ]
    assert [e.undone_by for e in history] == [None, None, history[3].seq, None]
    assert [e.at for e in history] == sorted(e.at for e in history)
    assert binder.field_history(1, "no-such-field") == []
    assert binder.field_history(77, "unit") == []


def test_the_history_says_that_another_scan_spoke_against_a_value(binder):
    said = "page 1 of tuesday.pdf, another scan of this sheet, says LD-07"
    binder.record_page(a_sheet("d" * 64, objections=(Objection(1, "unit", said),)))
    event = binder.field_history(1, "unit")[-1]
    assert (event.what, event.initials, event.new_value, event.new_state) == ("doubted", None, "LD-01", State.DOUBTFUL)
    assert event.reason == said
    assert "1.unit" in [doubt.ref for doubt in binder.queue()], "and it waits for a person"
