"""What people decide about doubtful fields: checked, kept beside what was read, and taken back without a trace lost."""

from __future__ import annotations

import datetime as dt

import pytest
from recorded_sheets import (
    TEMPLATE,
    a_field,
    a_page,
    a_sheet,
    doubtful,
    record_sheets,
    sheet_fields,
    with_field,
)

from scanform.binder import open_binder
from scanform.errors import UsageError
from scanform.settle.types import Outcome, State


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        yield opened


def test_the_queue_puts_danger_first_and_like_fields_together(binder):
    binder.remember_template(TEMPLATE)
    brakes = doubtful(a_field("item.brakes", "choice", None, critical=True), "Both OK and Defect are marked.")
    for number in (1, 2):
        fields = with_field(sheet_fields(), doubtful(a_field("hours", "comb", "1234.5")))
        fields = with_field(fields, doubtful(a_field("date", "comb", "2026-11-23")))
        fields = with_field(fields, doubtful(a_field("defect.1", "text", "leaks")))
        binder.record_page(a_sheet("a" * 64, number, with_field(fields, brakes) if number == 2 else fields))
    queue = binder.queue()
    assert [d.ref for d in queue] == [
        "2.item.brakes",
        "1.date",
        "2.date",
        "1.hours",
        "2.hours",
        "1.defect.1",
        "2.defect.1",
    ]
    assert queue[0].label == "Service brake holds"
    assert queue[0].field.reasons == ("Both OK and Defect are marked.",)
    assert (queue[0].source, queue[0].page_number, queue[0].unit) == ("monday.pdf", 2, "LD-01")
    assert len(queue[0].field.polygon_px) == 4
    assert queue[0].field.alternatives


def test_confirming_settles_a_field_and_keeps_what_was_read(binder):
    record_sheets(binder, 1)
    settled = binder.confirm("1.hours", " 1281,5 ", "ab")
    assert (settled.value, settled.state, settled.reasons) == ("1281.5", State.CONFIRMED, ())
    assert binder.queue() == []
    (said,) = binder.decisions()
    assert (said.old_value, said.old_state, said.new_value, said.initials) == (
        "1201.5",
        State.DOUBTFUL,
        "1281.5",
        "AB",
    )
    entry = binder.journal()[-1]
    assert entry.kind == "field-confirmed"
    assert entry.body["old"] == {"value": "1201.5", "state": "doubtful"}
    assert binder.verify().sound


def test_an_accepted_value_can_be_put_right(binder):
    record_sheets(binder, 1)
    assert binder.confirm("1.item.brakes", "DEFECT", "AB").value == "defect"
    assert binder.confirm("1.item.horn", "", "AB").value is None
    assert binder.confirm("1.signature", "unsigned", "AB").value is False


def test_saying_the_same_again_writes_nothing_but_a_second_person_does(binder):
    record_sheets(binder, 1)
    binder.confirm("1.hours", "1281.5", "AB")
    binder.confirm("1.hours", "1281.5", "AB")
    assert len(binder.decisions()) == 1
    binder.confirm("1.hours", "1281.5", "CD")
    assert len(binder.decisions()) == 2


def test_a_confirmed_unit_or_date_files_the_sheet_anew_and_undo_files_it_back(binder):
    record_sheets(binder, 1)
    binder.confirm("1.unit", "ld-02", "AB")
    binder.confirm("1.date", "20261124", "AB")
    record = binder.page_numbered(1).record
    assert (record.unit, record.date) == ("LD-02", dt.date(2026, 11, 24))
    binder.undo_last("AB")
    assert binder.undo_last("AB").ref == "1.unit"
    record = binder.page_numbered(1).record
    assert (record.unit, record.date) == ("LD-01", dt.date(2026, 11, 23))
    assert record.field("unit").state == State.ACCEPTED
    assert binder.verify().sound


def test_undo_restores_the_doubt_and_the_history_keeps_both(binder):
    record_sheets(binder, 1)
    before = binder.page_numbered(1)
    binder.confirm("1.hours", "1281.5", "AB")
    taken = binder.undo_last("ab")
    assert binder.page_numbered(1) == before
    assert [e.kind for e in binder.journal()][-2:] == ["field-confirmed", "decision-undone"]
    assert taken.undone_by == binder.journal()[-1].seq
    with pytest.raises(UsageError, match="AB has no decision left"):
        binder.undo_last("AB")


def test_nobody_takes_back_what_somebody_else_has_decided_since(binder):
    record_sheets(binder, 1)
    binder.confirm("1.hours", "1281.5", "AB")
    binder.confirm("1.hours", "1231.5", "CD")
    with pytest.raises(UsageError, match=r"CD has decided 1\.hours since"):
        binder.undo_last("AB")
    assert binder.page_numbered(1).record.field("hours").value == "1231.5"
    binder.undo_last("CD")
    binder.undo_last("AB")
    assert binder.page_numbered(1).record.field("hours").value == "1201.5"
    assert binder.verify().sound


@pytest.mark.parametrize(
    ("ref", "value", "sentence"),
    [
        ("1.date", "23.11.2026", "is no date"),
        ("1.date", "2026-02-30", "is no date"),
        ("1.hours", "12O4", "no meter reading"),
        ("1.hours", "1234.55", "more than one decimal place"),
        ("1.hours", "-3", "no meter reading"),
        ("1.item.brakes", "good", "say ok, defect, na"),
        ("1.fit", "maybe", "say fit, parked"),
        ("1.defect.1.repair", "later", "say repaired, not-needed"),
        ("1.defect.1.item", "7", "its items are 1 to 3"),
        ("1.unit", "LD_01!", "no cell takes"),
        ("1.signature", "scribble", "signed or unsigned"),
        ("1.mileage", "3", "has no field 'mileage'"),
        ("7.hours", "3", "no sheet 7"),
        ("hours", "3", "names no field"),
    ],
)
def test_a_value_that_does_not_fit_its_field_is_refused(binder, ref, value, sentence):
    binder.remember_template(TEMPLATE)
    record_sheets(binder, 1)
    before = binder.journal()
    with pytest.raises(UsageError, match=sentence):
        binder.confirm(ref, value, "AB")
    assert binder.journal() == before


@pytest.mark.parametrize("initials", ["", "ABCDE", "A1", "  "])
def test_a_decision_needs_initials(binder, initials):
    record_sheets(binder, 1)
    with pytest.raises(UsageError, match="1 to 4 letters"):
        binder.confirm("1.hours", "1234.5", initials)


def test_a_page_that_was_not_read_has_nothing_to_confirm(binder):
    binder.record_page(a_page("a" * 64, 1, Outcome.BLANK))
    with pytest.raises(UsageError, match=r"was not read as a sheet \(blank\)"):
        binder.confirm("1.hours", "1234.5", "AB")
