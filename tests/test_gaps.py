"""Which days have a sheet, which have none, and which need none; and what the meters say of the days between."""

from __future__ import annotations

import datetime as dt

import pytest
from commands import one_sentence
from made_quarter import MONDAY, Day, daily, day_fields, doubted, record_day
from recorded_sheets import BYTES

from scanform.binder import PageRecord, open_binder
from scanform.errors import UsageError
from scanform.form import find_template
from scanform.report import coverage, days_asked, save_drawing, week_of
from scanform.report.calendar_picture import calendar_picture
from scanform.settle.types import Outcome, SettledField, State

DAY = dt.timedelta(days=1)
UNIT = "WL07"


def test_every_missing_day_of_a_made_quarter_is_found_and_no_other(quarter):
    binder, truth = quarter
    last = max(sheet.on for sheet in truth.sheets)
    found = coverage(binder, MONDAY, last)
    assert {(day.unit, day.day) for day in found.missing} == truth.missing
    assert len(truth.missing) >= 8
    idle = {day.day.isoweekday() for day in found.days if day.status == "not in use"}
    assert idle == {7}  # Sundays, by the meter


def test_the_hours_run_without_a_sheet_are_near_a_days_work_and_come_first(quarter):
    binder, truth = quarter
    missing = coverage(binder, MONDAY, max(sheet.on for sheet in truth.sheets)).missing
    ran = [day.ran_hours for day in missing if day.ran_hours is not None]
    assert ran == sorted(ran, reverse=True)
    assert all(4 < hours < 13 for hours in ran)  # days of 7 to 10 h, less the spread of the day before


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        yield opened


def days(binder, *meters, unit=UNIT):
    """A sheet a day from Monday on with these meter readings; None for a day without a sheet."""
    for n, hours in enumerate(meters):
        if hours is not None:
            record_day(binder, Day(unit, MONDAY + n * DAY, hours), n + 1 + 100 * len(binder.sheet_columns()))


def statuses(binder, until=6):
    return [day.status for day in coverage(binder, MONDAY, MONDAY + until * DAY).days]


def test_a_day_on_which_the_meter_stood_still_needs_no_sheet(binder):
    days(binder, 100.0, 108.0, 116.0, None, 116.0, 124.0)
    assert statuses(binder, 5) == ["sheet", "sheet", "sheet", "not in use", "sheet", "sheet"]


def test_a_day_on_which_the_meter_moved_is_missing_with_its_hours_and_their_arithmetic(binder):
    days(binder, 100.0, 108.0, 116.0, None, 133.4)
    (gap,) = coverage(binder, MONDAY, MONDAY + 4 * DAY).missing
    assert (gap.day, gap.ran_hours) == (MONDAY + 3 * DAY, 9.4)
    assert gap.note == (
        "ran 9.4 h without a sheet "
        "(17.4 h from 2026-06-03 to 2026-06-05, 1 day of it with a sheet; a usual day is 8.0 h)"
    )


def test_days_after_the_last_sheet_are_missing_and_say_that_nothing_is_known(binder):
    days(binder, 100.0, 108.0)
    gaps = coverage(binder, MONDAY, MONDAY + 3 * DAY).missing
    assert [(gap.status, gap.ran_hours, gap.note) for gap in gaps] == [
        *[("no sheet", None, "the meter says nothing of this day")] * 2
    ]


def test_days_before_a_units_first_sheet_are_no_gaps_but_a_registered_unit_without_any_sheet_is_one(binder, tmp_path):
    days(binder, None, None, 100.0, 108.0)
    days(binder, 100.0, 108.0, unit="FL02")
    (tmp_path / "units.csv").write_text("unit\nWL07\nWL09\n")
    binder.load_units(tmp_path / "units.csv")
    found = coverage(binder, MONDAY, MONDAY + 3 * DAY)
    assert (found.count("sheet", "WL07"), found.count("no sheet", "WL07")) == (2, 0)
    assert found.count("no sheet", "WL09") == 4


def test_coverage_is_a_share_with_its_counts_and_never_rounded_up(binder):
    days(binder, 100.0, 108.0, None, 124.0)
    found = coverage(binder, MONDAY, MONDAY + 3 * DAY)
    assert found.in_words() == "75 % (3 of 4 days)"
    for n in range(1, 2000):
        with_one_gap = int((n / (n + 1)) * 1000) / 10
        assert with_one_gap < 100


def load(binder, tmp_path, text):
    path = tmp_path / "calendar.csv"
    path.write_text(text)
    return binder.load_calendar(path, "AB")


def test_the_calendar_frees_days_and_demands_sheets_and_survives_the_check(binder, tmp_path):
    days(binder, 100.0, 108.0, 116.0, None, 124.0)
    load(
        binder,
        tmp_path,
        f"unit,day,until,in_use,note\n{UNIT},2026-06-04,,yes,half a shift\n*,2026-06-06,2026-06-07,no,\n",
    )
    found = coverage(binder, MONDAY, MONDAY + 6 * DAY)
    assert [(day.status, day.basis) for day in found.days[3:]] == [
        *[("no sheet", "calendar"), ("sheet", "sheet"), ("not in use", "calendar"), ("not in use", "calendar")]
    ]
    assert binder.verify().sound


def test_a_day_that_the_calendar_calls_free_and_the_meter_does_not_is_said(binder, tmp_path):
    days(binder, 100.0, 108.0, 116.0, None, 133.4)
    load(binder, tmp_path, f"unit,day\n{UNIT},2026-06-04\n")
    (gap,) = coverage(binder, MONDAY, MONDAY + 4 * DAY).missing
    assert "the calendar calls it not in use" in gap.note
    assert gap.ran_hours == 9.4


def test_hours_run_in_a_stretch_are_of_the_day_that_the_calendar_does_not_excuse(binder, tmp_path):
    days(binder, 100.0, 108.0, 116.0, None, None, 133.4)
    load(binder, tmp_path, f"unit,day\n{UNIT},2026-06-05\n")
    found = coverage(binder, MONDAY, MONDAY + 5 * DAY)
    assert [day.status for day in found.days[3:5]] == ["no sheet", "not in use"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("unit,day\nWL07,soon\n", "line 2, column day"),
        ("unit,day,in_use\nWL07,2026-06-05,maybe\n", "line 2, column in_use"),
        ("unit,day,until\nWL07,2026-06-05,2026-06-01\n", "line 2, column until"),
        ("unit,day,in_use\nWL07,2026-06-05,no\nWL07,2026-06-05,yes\n", "line 3: WL07 2026-06-05 stands in line 2"),
    ],
)
def test_a_calendar_that_makes_no_sense_is_refused_with_its_line(binder, tmp_path, text, why):
    with pytest.raises(UsageError, match=why):
        load(binder, tmp_path, text)
    assert binder.calendar() == []


def test_a_sheet_whose_date_is_doubtful_fills_its_day_and_is_shown_as_doubtful(binder):
    fields = tuple(doubted(f) if f.id == "date" else f for f in day_fields(Day(UNIT, MONDAY, 100.0)))
    page = PageRecord(
        *(
            "a.pdf",
            "/a.pdf",
            1,
            binder.archive(BYTES, "pdf"),
            Outcome.READ,
            None,
            "site-machine",
            1,
            None,
            UNIT,
            MONDAY,
        ),
        fields=fields,
    )
    number = binder.record_page(page).number
    found = coverage(binder, MONDAY, MONDAY)
    (day,) = found.days
    assert (day.status, day.unsure, day.note) == ("sheet", "date", f"the date of sheet {number} is doubtful")
    assert found.in_words() == "100 % (1 of 1 days, 1 not sure yet)"


def test_a_weeks_sheet_fills_the_days_with_entries_and_frees_the_others(binder):
    binder.remember_template(find_template("quarry-weekly"))
    place = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))

    def said(field_id, kind, value):
        return SettledField(field_id, kind, value, State.ACCEPTED, 0.999, (), place)

    fields = [said("unit", "comb", "HT21"), said("date", "comb", MONDAY.isoformat())]
    for n, name in enumerate(("mon", "tue", "wed", "thu", "fri", "sat", "sun")):
        fields.append(said(f"initials.{name}", "signature", name in ("mon", "tue")))
        fields.append(said(f"hours.{name}", "comb", f"{100 + 8 * n}.0" if name in ("mon", "tue") else None))
        fields.append(said(f"item.horn.{name}", "mark", "ok" if name in ("mon", "tue", "wed") else None))
    page = PageRecord(
        *("w.pdf", "/w.pdf", 1, binder.archive(BYTES, "pdf"), Outcome.READ, None),
        *("quarry-weekly", 1, None, "HT21", MONDAY),
        fields=tuple(fields),
    )
    binder.record_page(page)
    assert statuses(binder) == ["sheet"] * 3 + ["not in use"] * 4


def test_weeks_are_those_of_iso_8601():
    # ISO 8601: 2026 has 53 weeks, and its last one ends on 3 January 2027.
    assert week_of(dt.date(2027, 1, 1)) == (dt.date(2026, 12, 28), dt.date(2027, 1, 3))


def test_without_dates_the_list_ends_with_the_week_of_the_last_sheet(binder):
    with pytest.raises(UsageError, match="No sheet with a date"):
        days_asked(binder, None, None)
    days(binder, 100.0, 108.0)
    assert days_asked(binder, None, None) == (MONDAY - 21 * DAY, MONDAY + 6 * DAY)


@pytest.mark.parametrize(("name", "begins"), [("c.pdf", b"%PDF"), ("c.png", b"\x89PNG"), ("c.svg", b"<?xml")])
def test_the_calendar_is_drawn_as_pdf_png_and_svg(binder, tmp_path, name, begins):
    days(binder, 100.0, None, 116.0)
    picture = calendar_picture(coverage(binder, MONDAY, MONDAY + 6 * DAY))
    assert save_drawing(picture, tmp_path / name).read_bytes().startswith(begins)


def test_the_command_shows_gaps_with_hours_first_then_the_calendar(binder, run, tmp_path):
    days(binder, 100.0, 108.0, 116.0, None, 133.4)
    ran = run("gaps", "--binder", binder.folder, "--week", "2026-W23", "--picture", tmp_path / "c.pdf")
    assert ran.code == 0, ran.err
    assert ran.out.startswith(f"{UNIT}, 2026-06-04: ran 9.4 h without a sheet")
    assert "###!#XX" in ran.out
    assert "57.1 % (4 of 7 days)" in ran.out
    assert "ends in .pdf" in one_sentence(run("gaps", "--binder", binder.folder, "--picture", "c.txt").err)


def test_the_command_loads_a_calendar(binder, run, tmp_path):
    days(binder, 100.0)
    (tmp_path / "free.csv").write_text("unit,day,until\n*,2026-06-06,2026-06-07\n")
    ran = run("calendar", tmp_path / "free.csv", "--binder", binder.folder, "--initials", "AB")
    assert "2 days added" in ran.out
    assert ran.err == ""
    (tmp_path / "free.csv").write_text("unit,day\nWL70,2026-06-06\n")
    ran = run("calendar", tmp_path / "free.csv", "--binder", binder.folder, "--initials", "AB")
    assert "1 day added" in ran.out
    assert "No sheet and no entry of the register names WL70: check the number" in ran.err
