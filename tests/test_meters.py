"""Hour meters: readings that cannot be are explained, and what is run is told from the others."""

from __future__ import annotations

import datetime as dt

import pytest
from made_quarter import MONDAY, Day, daily, record_day

from scanform.binder import open_binder
from scanform.report import daily_use, meter_readings, service_due
from scanform.report.sheet_days import counted_sheets

DAY = dt.timedelta(days=1)
UNIT = "WL07"


def readings(binder):
    return meter_readings(binder, counted_sheets(binder))


def test_every_wrong_reading_of_a_made_quarter_is_found_and_no_other(quarter):
    binder, truth = quarter
    found = readings(binder)
    wrong = found[~found["believed"]]
    assert {
        (u, dt.date.fromisoformat(d)) for u, d in zip(wrong["unit"], wrong["date"], strict=True)
    } == truth.wrong_hours
    assert len(truth.wrong_hours) > 3
    assert set(wrong["why"].str.partition(":")[0]) <= {"runs backwards", "runs faster than the clock"} | {
        "does not fit what follows"
    }


def test_every_new_meter_is_told_from_a_wrong_reading(quarter):
    binder, truth = quarter
    found = readings(binder)
    new = found[found["why"].str.startswith("a new meter begins")]
    assert {(u, dt.date.fromisoformat(d)) for u, d in zip(new["unit"], new["date"], strict=True)} == truth.new_meters


def test_no_day_of_a_made_quarter_runs_less_than_nothing_or_more_than_the_clock(quarter):
    use = daily_use(readings(quarter[0]))
    assert (use["hours"] >= 0).all()
    assert (use["hours"] <= 24 * use["days"]).all()


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        yield opened


def days(binder, *meters):
    return [record_day(binder, Day(UNIT, MONDAY + n * DAY, hours), n + 1) for n, hours in enumerate(meters)]


def told(binder):
    return [(row.hours, row.believed, row.why) for row in readings(binder).itertuples(index=False)]


def test_a_lone_low_reading_is_wrong_and_is_explained_by_the_one_before(binder):
    days(binder, 100.0, 108.0, 16.0, 124.0)
    assert told(binder)[2] == (16.0, False, "runs backwards: 16.0 h is less than the 108.0 h of 2026-06-02")


def test_a_reading_faster_than_the_clock_is_explained_with_its_arithmetic(binder):
    days(binder, 100.0, 108.0, 216.0, 124.0)
    why = "runs faster than the clock: 216.0 h is more than 108.0 h of 2026-06-02 + 2 x 24 h = 156.0 h"
    assert told(binder)[2] == (216.0, False, why)


def test_three_low_readings_in_a_row_are_a_new_meter(binder):
    days(binder, 884.0, 892.0, 900.0, 908.0, 2.0, 10.0, 18.0)
    assert told(binder)[4] == (2.0, True, "a new meter begins: 2.0 h does not follow 908.0 h of 2026-06-04")
    use = daily_use(readings(binder))
    assert list(use["hours"]) == [8.0] * 5  # nothing is run between two meters


def test_a_machine_that_two_shifts_run_has_the_whole_days_hours(binder):
    for n in range(4):
        record_day(binder, Day(UNIT, MONDAY + n * DAY, 100.0 + 16 * n), 2 * n + 1)
        record_day(binder, Day(UNIT, MONDAY + n * DAY, 108.0 + 16 * n), 2 * n + 2)
    use = daily_use(readings(binder))
    assert [(row.hours, row.days) for row in use.itertuples(index=False)] == [(16.0, 1)] * 3
    (due,) = service_due(binder, MONDAY + 3 * DAY)
    assert due.a_day is None  # three days say too little
    for n in range(4, 9):
        record_day(binder, Day(UNIT, MONDAY + n * DAY, 100.0 + 16 * n), 2 * n + 1)
        record_day(binder, Day(UNIT, MONDAY + n * DAY, 108.0 + 16 * n), 2 * n + 2)
    (due,) = service_due(binder, MONDAY + 8 * DAY)
    assert due.a_day == 16.0


def test_a_meter_that_was_replaced_between_two_shifts_of_a_day_is_a_new_one_from_its_first_reading(binder):
    days(binder, 884.0, 892.0, 900.0, 908.0, 11.0, 19.0, 27.0, 35.0)
    record_day(binder, Day(UNIT, MONDAY + 3 * DAY, 3.0), 90)
    found = readings(binder)
    assert found["believed"].all()
    (new,) = found[found["why"] != ""].itertuples()
    assert (new.date, new.hours, new.why) == (
        *("2026-06-04", 3.0),
        "a new meter begins: 3.0 h does not follow 908.0 h of 2026-06-04",
    )
    assert list(daily_use(found)["hours"]) == [8.0] * 7


def test_a_slip_of_the_pen_by_the_second_shift_is_no_new_meter(binder):
    days(binder, 884.0, 892.0, 900.0, 908.0, 916.0)
    record_day(binder, Day(UNIT, MONDAY + 3 * DAY, 90.0), 90)
    assert [row[:2] for row in told(binder) if row[2]] == [(90.0, False)]


def test_a_low_reading_that_a_person_has_confirmed_is_a_new_meter_at_once(binder):
    numbers = days(binder, 900.0, 908.0, 2.0)
    assert told(binder)[2][1] is False
    binder.confirm(f"{numbers[2]}.hours", "2.0", "AB")
    assert told(binder)[2][1] is True


def test_the_registers_reading_is_the_first_of_a_units_log(binder, tmp_path):
    (tmp_path / "units.csv").write_text(f"unit,hours,hours_on\n{UNIT},95.0,2026-05-31\n")
    binder.load_units(tmp_path / "units.csv")
    days(binder, 100.0)
    assert list(daily_use(readings(binder))["hours"]) == [5.0]
