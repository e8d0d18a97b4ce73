"""Doubts on loan: one person sees each, it comes back when they leave, and nobody decides what another has decided."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor

import pytest
from recorded_sheets import TEMPLATE, a_field, a_sheet, doubtful, record_sheets, sheet_fields, with_field

from scanform.binder import Person, lending, open_binder, password_fits
from scanform.binder.schema import waiting
from scanform.binder.store import writing
from scanform.errors import FieldTaken, UsageError
from scanform.settle.types import State


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(TEMPLATE)
        yield opened


def refs(lent):
    return [one.doubt.ref for one in lent]


def test_two_people_never_have_the_same_doubt_before_them(binder):
    record_sheets(binder, 5)
    assert refs(binder.lend("ann", 2)) == ["1.hours", "2.hours"]
    assert refs(binder.lend("ben", 2)) == ["3.hours", "4.hours"]
    assert refs(binder.lend("ann", 2)) == ["1.hours", "2.hours"], "what is before a person stays there"
    assert binder.count_on_loan("ann") == 2
    assert refs(binder.lend("ann", 9)) == ["1.hours", "2.hours", "5.hours"]


def test_two_programs_that_lend_at_once_never_lend_the_same(tmp_path, binder):
    record_sheets(binder, 24)

    def one(holder):
        with open_binder(tmp_path / "binder") as other:
            return refs(other.lend(holder, 3))

    with ThreadPoolExecutor(8) as people:
        lent = [ref for found in people.map(one, "abcdefgh") for ref in found]
    assert len(lent) == len(set(lent)) == 24


def test_what_a_person_leaves_comes_back(binder, monkeypatch):
    record_sheets(binder, 2)
    binder.lend("ann", 2)
    assert refs(binder.lend("ben", 2)) == []
    binder.hand_back("ann", ["2.hours"])
    assert refs(binder.lend("ben", 2)) == ["2.hours"]
    left = lending.time.time() + lending.LOAN_S + 1
    monkeypatch.setattr(lending.time, "time", lambda: left)
    assert refs(binder.lend("ben", 2)) == ["1.hours", "2.hours"]


def test_a_doubt_put_off_is_left_out_and_one_sort_can_be_had_alone(binder):
    binder.set_spot_check_share(0, "AB")
    for number in (1, 2):
        fields = with_field(sheet_fields(), doubtful(a_field("hours", "comb", "1234.5")))
        binder.record_page(
            a_sheet("a" * 64, number, with_field(fields, doubtful(a_field("date", "comb", "2026-11-23"))))
        )
    assert refs(binder.lend("ann", 9, without={"1.date"})) == ["2.date", "1.hours", "2.hours"]
    assert refs(binder.lend("ann", 9, sort="hours")) == ["1.hours", "2.hours"]
    assert [(w.sort, w.fields) for w in binder.waiting_sorts()] == [("date", 2), ("hours", 2)]


def test_a_spot_check_on_loan_does_not_tell_what_was_read(binder):
    binder.set_spot_check_share(1.0, "AB")
    binder.record_page(a_sheet("a" * 64, 1))
    lent = binder.lend("ann", 50)
    assert len(lent) == len(sheet_fields())
    assert all(one.spot_check and one.doubt.field.value is None and not one.doubt.field.alternatives for one in lent)
    assert next(one for one in lent if one.doubt.field.id == "unit").doubt.unit is None


def test_a_decision_about_what_somebody_else_has_decided_is_refused(binder):
    record_sheets(binder, 1)
    (seen,) = (one.seen for one in binder.lend("ann", 1))
    binder.confirm("1.hours", "1281.5", "BC", seen=seen)
    with pytest.raises(FieldTaken, match=r"^BC was first: 1\.hours is '1281\.5' since"):
        binder.confirm("1.hours", "1201.5", "AB", seen=seen)
    assert binder.page_numbered(1).record.field("hours").value == "1281.5"
    binder.undo_last("BC")
    with pytest.raises(FieldTaken, match="taken back"):
        binder.confirm("1.hours", "1201.5", "AB", seen=seen)


def test_saying_the_same_again_after_a_lost_answer_is_no_quarrel(binder):
    record_sheets(binder, 1)
    binder.confirm("1.hours", "1281.5", "AB", seen=0)
    entries = len(binder.journal())
    assert binder.confirm("1.hours", "1281.5", "AB", seen=0).value == "1281.5"
    assert len(binder.journal()) == entries


def test_what_waits_follows_every_decision(binder):
    record_sheets(binder, 2)
    binder.confirm("1.hours", "1281.5", "AB")
    assert binder.count_waiting() == 1
    assert binder.doubt_at("1.hours") is None
    binder.undo_last("AB")
    again = binder.lend_this("ann", "1.hours")
    assert again is not None
    assert again.doubt.field.state is State.DOUBTFUL
    assert again.seen > 0
    assert binder.lend_this("ben", "1.hours") is None
    assert binder.verify().sound


def test_a_doubt_that_no_desk_would_show_is_found_by_the_check(binder):
    record_sheets(binder, 2)
    with writing(binder._engine, binder.folder) as connection:
        connection.execute(waiting.delete().where(waiting.c.page_id == 2))
    assert binder.verify().problems == ("Field hours of page 2 waits for a person, but no desk would show it.",)


def test_only_a_person_who_was_let_in_has_a_password_that_fits(binder):
    binder.let_in(Person("jh", " June  Hale ", "clerk"), "four words with spaces", "AB")
    june = binder.person_with("jh")
    assert (june.initials, june.name, june.role) == ("JH", "June Hale", "clerk")
    assert password_fits(june, "four words with spaces")
    assert not password_fits(june, "four words with space")
    assert not password_fits(None, "nobody has this password")
    binder.shut_out("JH", "AB")
    assert not password_fits(binder.person_with("JH"), "four words with spaces")
    with pytest.raises(UsageError, match="JH is June Hale"):
        binder.let_in(Person("JH", "Jack Hill", "clerk"), "four words with spaces", "AB")
    with pytest.raises(UsageError, match="15 to 256 characters"):
        binder.let_in(Person("KL", "Kit Low", "clerk"), "too short", "AB")
    assert "argon2" not in str([entry.body for entry in binder.journal()])
    assert binder.verify().sound


def test_a_binder_of_before_gets_its_queue_when_it_is_opened(tmp_path, binder):
    record_sheets(binder, 3)
    binder.confirm("2.hours", "1202.5", "AB")
    before = [doubt.ref for doubt in binder.queue()]
    binder.close()
    with sqlite3.connect(tmp_path / "binder" / "record.sqlite") as older:
        for table in ("waiting", "password", "person"):
            older.execute(f"DROP TABLE {table}")
        older.execute("UPDATE meta SET value = '2' WHERE key = 'schema'")
    older.close()
    with open_binder(tmp_path / "binder") as opened:
        assert [doubt.ref for doubt in opened.queue()] == before == ["1.hours", "3.hours"]
        assert opened.verify().sound
