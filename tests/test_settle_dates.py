"""Dates: a day of the calendar or a doubt that names the nearest one."""

from __future__ import annotations

import calendar
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_readings import KNOWN, TODAY, comb, readings, reasons_of, settle, sheet, unit_cells, verdicts

from scanform.settle import Known, SettledField, State, settle_sheet


def settled_on(today: date, digits: str) -> SettledField:
    return settle(comb("date", digits), known=Known(today=today))["date"]


def test_a_clear_day_is_accepted_as_iso_8601() -> None:
    field = settle(comb("date", "20261123"))["date"]
    assert (field.value, field.state, field.reasons) == ("2026-11-23", State.ACCEPTED, ())


def test_a_month_that_there_is_not_is_doubted_and_the_nearest_day_named() -> None:
    field = settle(comb("date", "20261323"))["date"]
    assert field.state is State.DOUBTFUL
    assert field.value is None, "a value that is no date would be taken for one further on"
    assert "2026-13-23" in reasons_of(field)
    # Four days differ by one digit; the one that the sheets' age makes likeliest is named.
    assert "2026-11-23" in reasons_of(field)


@pytest.mark.parametrize("digits", ["20261131", "20260931", "20260230", "20260100", "20260001", "00000000"])
def test_days_that_no_month_has_are_doubted(digits: str) -> None:
    field = settle(comb("date", digits))["date"]
    assert field.state is State.DOUBTFUL
    assert field.value is None


def test_the_29th_of_february_is_a_day_in_leap_years_only() -> None:
    # ISO 8601 counts by the Gregorian calendar; the standard library's calendar is the second derivation.
    for year in range(2019, 2027):
        field = settled_on(TODAY, f"{year}0229")
        if calendar.isleap(year):
            assert (field.value, field.state) == (f"{year}-02-29", State.ACCEPTED)
        else:
            assert field.state is State.DOUBTFUL
            assert field.value is None
            assert f"{year}-02-2" in reasons_of(field)


def test_the_batchs_other_sheets_speak_for_a_day_that_the_ink_allows() -> None:
    unclear = comb("date", unit_cells("202611_3", c6={"0": 0.5, "2": 0.5}))
    week = tuple(date(2026, 11, day) for day in (23, 23, 24, 24, 25, 26))
    alone = verdicts(unclear, known=Known(today=TODAY))["date"]
    among = verdicts(unclear, known=Known(today=TODAY, days=week))["date"]
    assert among.value == "2026-11-23"
    assert among.raw > alone.raw
    month_ago = tuple(day - timedelta(days=21) for day in week)
    assert verdicts(unclear, known=Known(today=TODAY, days=month_ago))["date"].value == "2026-11-03"


def test_the_batch_never_overrules_the_ink() -> None:
    week = tuple(date(2026, 11, day) for day in (23, 23, 24, 24, 25, 26))
    field = settle(comb("date", "20260311"), known=Known(today=TODAY, days=week))["date"]
    assert (field.value, field.state) == ("2026-03-11", State.ACCEPTED)
    nearly = comb("date", unit_cells("2026_123", c4={"1": 0.001, "0": 0.999}))
    assert verdicts(nearly, known=Known(today=TODAY, days=week))["date"].value != "2026-11-23"


def test_a_few_sheets_or_one_old_one_make_no_week() -> None:
    unclear = comb("date", unit_cells("202611_3", c6={"0": 0.5, "2": 0.5}))
    few = verdicts(unclear, known=Known(today=TODAY, days=(date(2026, 11, 23),) * 4))["date"]
    assert few.raw == verdicts(unclear, known=Known(today=TODAY))["date"].raw
    week = tuple(date(2026, 11, 23) for _ in range(20))
    with_old_one = verdicts(unclear, known=Known(today=TODAY, days=(date(2026, 11, 1), *week)))["date"]
    assert with_old_one.raw == verdicts(unclear, known=Known(today=TODAY, days=week))["date"].raw


def test_tomorrow_is_doubted_and_today_is_not() -> None:
    tomorrow = TODAY + timedelta(days=1)
    assert settled_on(TODAY, TODAY.strftime("%Y%m%d")).state is State.ACCEPTED
    field = settled_on(TODAY, tomorrow.strftime("%Y%m%d"))
    assert field.value == tomorrow.isoformat()
    assert field.state is State.DOUBTFUL
    assert "future" in reasons_of(field)
    assert TODAY.isoformat() in reasons_of(field)


def test_a_year_far_off_is_doubted_as_read_and_never_moved_into_reach() -> None:
    for digits in ("20361123", "19981123"):
        field = settled_on(TODAY, digits)
        assert field.state is State.DOUBTFUL
        assert field.value == f"{digits[:4]}-{digits[4:6]}-{digits[6:]}"


def test_the_calendar_chooses_where_the_ink_allows_two_digits() -> None:
    # A month's first digit is a nought or a one; 7 and 1 are easily mixed up.
    found = verdicts(comb("date", unit_cells("2026_123", c4={"1": 0.5, "7": 0.5})))["date"]
    assert found.value == "2026-11-23"
    assert found.reasons == []


def test_a_digit_that_no_day_has_there_does_not_stand_against_one_that_has() -> None:
    # The year's first digit is a two, even if it is written like a nine.
    field = settle(comb("date", unit_cells("_0261123", c0={"9": 0.8, "2": 0.2})))["date"]
    assert (field.value, field.state) == ("2026-11-23", State.ACCEPTED)


def test_a_sheet_of_this_week_is_likelier_than_one_of_last_year() -> None:
    day = verdicts(comb("date", unit_cells("202_1123", c3={"6": 0.5, "5": 0.5})))["date"]
    assert (day.value, day.reasons) == ("2026-11-23", [])
    assert day.raw > 0.9


def test_ink_that_clearly_prefers_an_impossible_day_is_not_overruled_in_silence() -> None:
    field = settle(comb("date", unit_cells("2026_123", c4={"1": 0.01, "7": 0.99})))["date"]
    assert field.state is State.DOUBTFUL


def test_two_days_that_the_ink_allows_alike_are_a_doubt() -> None:
    field = settle(comb("date", unit_cells("2026112_", c7={"3": 0.55, "5": 0.45})))["date"]
    assert field.state is State.DOUBTFUL
    assert {"2026-11-23", "2026-11-25"} <= {str(a.value) for a in field.alternatives}


def test_of_two_equal_readings_the_one_in_the_future_comes_second() -> None:
    day = settle(comb("date", unit_cells("202611__", c6="2", c7={"3": 0.5, "8": 0.5})))["date"]
    assert day.value == "2026-11-23"


def test_an_empty_comb_is_no_date_and_one_with_a_gap_is_none_either() -> None:
    empty = settle(comb("date", ""))["date"]
    assert (empty.value, empty.reasons) == (None, ("no date is written",))
    for cells in ("2026 123", " 0261123", "202611 3", "20261123"[:6]):
        field = settle(comb("date", cells))["date"]
        assert field.state is State.DOUBTFUL
        assert field.value is None


@settings(deadline=None)
@given(st.dates(TODAY - timedelta(days=3000), TODAY))
def test_every_past_day_written_clearly_is_read_as_itself(day: date) -> None:
    field = settled_on(TODAY, day.strftime("%Y%m%d"))
    assert (field.value, field.state) == (day.isoformat(), State.ACCEPTED)


@settings(deadline=None)
@given(st.text("0123456789 ", min_size=8, max_size=8))
def test_whatever_stands_in_the_cells_a_date_is_a_day_or_nothing(cells: str) -> None:
    field = next(f for f in settle_sheet(sheet(), readings(comb("date", cells)), KNOWN) if f.id == "date")
    if field.value is not None:
        assert date.fromisoformat(str(field.value)).isoformat().replace("-", "") == cells
    if field.state is State.ACCEPTED:
        assert field.value is not None
        assert str(field.value) <= TODAY.isoformat()
