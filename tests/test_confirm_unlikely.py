"""What a person types at the command line is asked about as at the desk; one slip of the pen moves no list."""

from __future__ import annotations

import datetime as dt

import pytest
from changed_sheets import sheet
from commands import one_sentence
from made_quarter import MONDAY, daily

from scanform.binder import open_binder
from scanform.report import last_day

DAY = dt.timedelta(days=1)
NEXT_YEAR = dt.date.today() + 365 * DAY


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        register = tmp_path / "units.csv"
        register.write_text("unit\nWL07\nRT11\n")
        opened.load_units(register)
        for n in range(3):  # 1000, 1008 and 1016 h
            sheet(opened, MONDAY + n * DAY, ("horn", "horn dead"))
        yield opened


@pytest.mark.parametrize(
    ("ref", "value", "says"),
    [
        ("3.date", str(NEXT_YEAR), "lies in the future"),
        ("2.unit", "WL70", "not in the register"),
        ("2.hours", "10080.0", "does not run backwards"),  # a point that slipped
        ("2.hours", "--blank", "missing from the hours log"),
        ("2.unit", "--blank", "nobody finds this sheet again"),
        ("1.fit", "fit", "safety-critical"),
    ],
)
def test_an_unlikely_value_is_kept_only_by_who_is_sure(binder, run, ref, value, says):
    number, field_id = ref.split(".", 1)
    before = binder.page_numbered(int(number)).record.field(field_id)
    mine = ("--binder", binder.folder, "--initials", "AB")
    ran = run("confirm", ref, value, *mine)
    assert ran.code == 2
    sentence = one_sentence(ran.err)
    assert says in sentence
    assert "--sure" in sentence
    assert binder.page_numbered(int(number)).record.field(field_id) == before
    ran = run("confirm", ref, value, "--sure", *mine)
    assert ran.code == 0, ran.err
    assert binder.page_numbered(int(number)).record.field(field_id).state == "confirmed"


def test_a_likely_value_needs_no_more_words(binder, run):
    mine = ("--binder", binder.folder, "--initials", "AB")
    for ref, value in (("2.hours", "1009.5"), ("2.unit", "WL07"), ("2.signature", "signed"), ("2.fit", "parked")):
        ran = run("confirm", ref, value, *mine)
        assert ran.code == 0, ran.err
    assert "2.fit is as it was before: fit (accepted)" in run("undo", *mine).out
    assert "2.signature is as it was before: signed (accepted)" in run("undo", *mine).out


def test_a_sheet_of_next_year_does_not_move_the_lists(binder, run):
    mine = ("--binder", binder.folder, "--initials", "AB")
    assert run("confirm", "3.date", str(NEXT_YEAR), "--sure", *mine).code == 0
    assert last_day(binder) == MONDAY + DAY
    assert str(NEXT_YEAR.year) not in run("gaps", "--binder", binder.folder).out
    letter = run("letter", "--binder", binder.folder, "--out", binder.folder.parent / "letter.html")
    assert f"{MONDAY:%G-W%V}" in letter.out or f"week {MONDAY:%V}" in letter.out, letter.out


def test_where_every_sheet_lies_ahead_the_last_of_them_ends_the_lists(tmp_path):
    with open_binder(tmp_path / "ahead", create=True) as binder:
        binder.remember_template(daily().template)
        sheet(binder, NEXT_YEAR)
        sheet(binder, NEXT_YEAR + DAY)
        assert last_day(binder) == NEXT_YEAR + DAY
