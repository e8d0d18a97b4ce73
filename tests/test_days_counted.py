"""Which days count: none still to come, none before a unit's record begins; and what makes paper a sheet of its day."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pdfplumber
import pytest
from made_quarter import MONDAY, Day, daily, record_day, settled
from made_week import week
from recorded_sheets import BYTES

from scanform.binder import Binder, PageRecord, open_binder
from scanform.report import coverage, gather_evidence, weekly_letter, write_evidence
from scanform.report.calendar_picture import calendar_picture
from scanform.report.letter_html import letter_html
from scanform.settle.types import Outcome, State

DAY = dt.timedelta(days=1)
SUNDAY = MONDAY + 6 * DAY
THURSDAY = MONDAY + 3 * DAY
LATER = MONDAY + 60 * DAY
UNIT = "WL07"


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        opened.remember_template(week().template)
        yield opened


def days(binder: Binder, *meters: float | None, first: dt.date = MONDAY, unit: str = UNIT) -> None:
    for n, hours in enumerate(meters):
        if hours is not None:
            record_day(binder, Day(unit, first + n * DAY, hours), n + 1 + 100 * len(binder.sheet_columns()))


def register(binder: Binder, text: str) -> None:
    path = binder.folder / "units.csv"
    path.write_text(text)
    binder.load_units(path)
    path.unlink()


def put(binder, layout, values, states, unit=UNIT, on=MONDAY) -> int:
    """A sheet with nothing on it but these values; ``states`` of fields that are not accepted."""
    values = {"unit": unit, "date": on.isoformat(), **values}
    fields = tuple(
        replace(settled(f.id, f.kind.value, values.get(f.id), f.critical), state=states.get(f.id, State.ACCEPTED))
        for f in layout.fields
    )
    page = PageRecord(
        *("pad.pdf", "/pad.pdf", 1, binder.archive(BYTES, "pdf"), Outcome.READ, None),
        *(layout.template.name, layout.template.version, None, unit, on),
        fields=fields,
    )
    return binder.record_page(page).number


# Days still to come


def test_days_still_to_come_are_not_missing_and_the_list_says_so(binder):
    days(binder, 100.0, 108.0)
    found = coverage(binder, MONDAY, SUNDAY, today=THURSDAY)
    assert [day.day for day in found.days] == [MONDAY + n * DAY for n in range(4)]
    assert found.in_words() == "50 % (2 of 4 days)"
    assert found.notes == (f"The days after {THURSDAY} are still to come; they are not counted.",)
    assert found.missing[-1].note.startswith("the day is not over")
    over = coverage(binder, MONDAY, SUNDAY, today=LATER)
    assert (len(over.days), over.notes) == (7, ())


def test_a_week_of_which_no_day_has_come_has_no_share(binder):
    days(binder, 100.0, 108.0)
    found = coverage(binder, MONDAY + 14 * DAY, SUNDAY + 14 * DAY, today=THURSDAY)
    assert (found.days, found.in_words()) == ((), "no day is counted")


def test_a_sheet_that_is_filed_under_a_day_still_to_come_is_named(binder):
    days(binder, 100.0, None, None, None, None, 140.0)
    found = coverage(binder, MONDAY, SUNDAY, today=THURSDAY)
    assert f"Filed under days still to come, from {MONDAY + 5 * DAY} on: sheet 2; look at the date." in found.notes


def test_the_letter_of_a_running_week_misses_no_sheet_of_tomorrow(binder):
    days(binder, 100.0, 108.0)
    letter = weekly_letter(binder, MONDAY, THURSDAY)
    assert [day.day for day in letter.coverage.missing] == [MONDAY + 2 * DAY, THURSDAY]
    assert letter.still_to_come == f"Counted to {THURSDAY}."
    assert "are still to come; they are not counted" in letter_html(letter)
    assert weekly_letter(binder, MONDAY, LATER).still_to_come == ""


def test_the_list_of_next_years_week_shows_no_days_and_says_that_they_are_to_come(binder, run):
    days(binder, 100.0)
    ran = run("gaps", "--binder", binder.folder, "--since", "2999-01-07", "--until", "2999-01-13")
    assert ran.code == 0, ran.err
    assert "are still to come; they are not counted" in ran.out
    assert "X" not in ran.out.partition("A machine with")[0]


# What makes a sheet of its day


ASKED = [f.id for f in daily().fields if f.kind.value == "choice"] + ["hours", "fit", "signature"]


def test_a_pads_sheet_that_came_back_empty_fills_no_day_and_is_named(binder):
    number = put(binder, daily(), {"signature": False}, dict.fromkeys(ASKED, State.DOUBTFUL))
    (day,) = coverage(binder, MONDAY, MONDAY).days
    assert day.status == "no sheet"
    assert f"sheet {number}" in day.waits
    for doubt in binder.queue():
        binder.confirm(doubt.ref, False if doubt.field.kind == "signature" else None, "AB")
    (day,) = coverage(binder, MONDAY, MONDAY).days
    assert (day.status, day.is_sure) == ("no sheet", True)
    assert f"sheet {number} came back empty" in day.note
    assert coverage(binder, MONDAY, MONDAY).in_words() == "0 % (0 of 1 days)"


@pytest.mark.parametrize("said", [{"hours": "100.0"}, {"signature": True}, {"item.horn": "ok"}, {"fit": "parked"}])
def test_one_answer_a_meter_reading_or_a_signature_makes_it_the_days_sheet(binder, said):
    put(binder, daily(), said, {})
    (day,) = coverage(binder, MONDAY, MONDAY).days
    assert (day.status, day.is_sure) == ("sheet", True)


def worked(*names: str) -> dict[str, str | bool]:
    marks = {f.id: "ok" for f in week().fields if f.kind.value == "mark" and f.id.rpartition(".")[2] in names}
    return marks | {f"initials.{name}": name in names for name in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")}


def test_one_doubtful_mark_does_not_make_a_day_off_a_day_with_a_sheet(binder):
    smudge = next(f.id for f in week().fields if f.kind.value == "mark" and f.id.endswith(".wed"))
    number = put(binder, week(), worked("mon", "tue") | {smudge: "ok"}, {smudge: State.DOUBTFUL})
    found = coverage(binder, MONDAY, SUNDAY)
    assert [day.status for day in found.days] == ["sheet"] * 2 + ["not in use"] * 5
    (waiting,) = found.waiting
    assert waiting.day == MONDAY + 2 * DAY
    assert f"sheet {number}" in waiting.waits
    binder.confirm(f"{number}.{smudge}", "ok", "AB")
    assert [day.status for day in coverage(binder, MONDAY, SUNDAY).days] == ["sheet"] * 3 + ["not in use"] * 4


def test_a_weeks_sheet_that_came_back_empty_frees_no_day(binder):
    put(binder, week(), worked(), {})
    found = coverage(binder, MONDAY, SUNDAY)
    assert {day.status for day in found.days} == {"no sheet"}
    assert "came back empty" in found.missing[0].note


def test_a_weeks_sheet_that_is_signed_and_has_no_day_frees_them_all(binder):
    put(binder, week(), worked() | {"signature": True}, {})
    assert {day.status for day in coverage(binder, MONDAY, SUNDAY).days} == {"not in use"}


# Long days


def test_one_long_day_on_record_does_not_excuse_every_missing_sheet(binder):
    meters, hours = [], 1000.0
    for n in range(30):
        meters.append(None if n in (20, 23, 26) else hours)
        hours += 20.0 if n == 3 else 10.0
    days(binder, *meters)
    found = coverage(binder, MONDAY, MONDAY + 29 * DAY)
    assert [(day.day - MONDAY).days for day in found.waiting] == [20, 23, 26]
    assert {day.status for day in found.waiting} == {"no sheet"}
    assert "only a day as long as the longest on record, 20.0 h" in found.waiting[0].waits
    assert found.in_words() == "90 % (27 of 30 days, 3 not sure yet)"


def test_a_gap_that_more_than_a_long_day_was_run_in_is_missing_beyond_doubt(binder):
    days(binder, 100.0, 110.0, 130.0, 140.0, 150.0, None, 171.0)
    (gap,) = coverage(binder, MONDAY, SUNDAY).missing
    assert (gap.day, gap.ran_hours) == (MONDAY + 5 * DAY, 11.0)


def test_a_day_that_the_calendar_calls_free_beside_a_long_one_stays_free(binder):
    days(binder, 100.0, 110.0, 130.0, 140.0, 150.0, None, 170.0)
    (waiting,) = coverage(binder, MONDAY, SUNDAY).waiting
    assert waiting.day == MONDAY + 5 * DAY
    path = binder.folder / "free.csv"
    path.write_text(f"unit,day\n{UNIT},{waiting.day}\n")
    binder.load_calendar(path, "AB")
    found = coverage(binder, MONDAY, SUNDAY)
    assert (found.waiting, found.days[5].basis) == ((), "calendar")


# Where a unit's record begins


def test_hours_run_between_the_registers_reading_and_the_first_sheet_are_named(binder):
    register(binder, f"unit,kind,hours,hours_on\n{UNIT},loader,1000,{MONDAY}\n")
    days(binder, 1150.0, 1158.0, first=MONDAY + 20 * DAY)
    found = coverage(binder, MONDAY - 7 * DAY, MONDAY + 21 * DAY)
    assert found.missing[0].day == MONDAY
    assert found.missing[0].ran_hours == 150.0
    assert (found.count("sheet"), found.count("no sheet"), found.not_counted()) == (2, 20, 7)
    # Long after the register's reading too.
    late = coverage(binder, MONDAY + 15 * DAY, MONDAY + 21 * DAY)
    assert {day.basis for day in late.missing} == {"meter"}


def test_days_before_the_first_sheet_on_record_are_said_not_to_count(binder, run, tmp_path):
    days(binder, 100.0, 108.0)
    ran = run("gaps", "--binder", binder.folder, "--since", MONDAY - 70 * DAY, "--until", MONDAY + DAY, "--unit", UNIT)
    assert "100 % (2 of 2 days, 70 not counted)" in ran.out
    assert f"{UNIT}: no sheet before {MONDAY} is on record; those days are not counted." in " ".join(ran.out.split())
    assert "------- ##" in ran.out
    found = coverage(binder, MONDAY - 70 * DAY, MONDAY - DAY)
    assert found.in_words() == f"no day is counted: no sheet before {MONDAY} is on record"
    assert found.units == (UNIT,)
    gathered = gather_evidence(binder, UNIT, MONDAY - 70 * DAY, MONDAY + DAY, LATER)
    write_evidence(binder, gathered, tmp_path / "pack")
    with pdfplumber.open(tmp_path / "pack" / "evidence.pdf") as pdf:
        text = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    assert f"no sheet before {MONDAY} is on record; those days are not counted" in text
    assert "no day that needed a sheet" not in text


def test_the_calendar_draws_days_that_do_not_count_as_such(binder):
    days(binder, 100.0, 108.0)
    words = calendar_picture(coverage(binder, MONDAY - 7 * DAY, MONDAY)).asString("svg")
    assert b"not counted: no sheet before is on record" in (words if isinstance(words, bytes) else words.encode())


def test_a_registered_unit_without_any_sheet_counts_from_the_first_sheet_of_any_and_is_named(binder):
    days(binder, 100.0, 108.0)
    register(binder, "unit\nWL07\nWL09\n")
    found = coverage(binder, MONDAY - 30 * DAY, MONDAY + DAY)
    assert found.count("no sheet", "WL09") == 2
    assert f"WL09: no sheet at all is on record; the days from {MONDAY} on are counted." in found.notes
