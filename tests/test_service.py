"""When service is due: the step, the date, and its range."""

from __future__ import annotations

import datetime as dt

import pytest
from commands import one_sentence
from made_quarter import MONDAY, Day, daily, record_day

from scanform.binder import open_binder
from scanform.errors import UsageError
from scanform.report import service_due

DAY = dt.timedelta(days=1)
UNIT = "WL07"


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        yield opened


def days(binder, *meters, unit=UNIT):
    for n, hours in enumerate(meters):
        if hours is not None:
            record_day(binder, Day(unit, MONDAY + n * DAY, hours), 1 + n)


def due(binder, on=MONDAY + 60 * DAY):
    (one,) = service_due(binder, on)
    return one


def test_a_machine_that_runs_eight_hours_every_day_reaches_its_step_on_the_day_that_arithmetic_says(binder):
    days(binder, *(300.0 + 8 * n for n in range(8)))  # 356 h on the eighth day, a Monday
    one = due(binder)
    assert (one.due_at, one.step, one.hours_left, one.a_day) == (500, 500, 144.0, 8.0)
    assert one.about == one.earliest == one.latest == MONDAY + (7 + 18) * DAY  # 144 h / 8 h a day = 18 days


def test_uneven_weeks_give_a_range_around_the_date(binder):
    meters = [1000.0]
    for n in range(20):
        meters.append(meters[-1] + (4.0 if n < 10 else 10.0))
    days(binder, *meters)
    one = due(binder)
    assert one.earliest < one.about < one.latest
    # 1140 h; 110 h to 1,250 h; the fastest stretch runs 10 h a day, the slowest 4.
    assert (one.earliest - one.read_on, one.latest - one.read_on) == (11 * DAY, 28 * DAY)


def test_idle_days_slow_the_projection_down(binder):
    days(binder, 300.0, 308.0, None, None, 316.0, 324.0, None, None, 332.0)
    assert due(binder).a_day == 4.0


def test_the_last_step_passed_is_named_with_its_day(binder):
    days(binder, 236.0, 244.0, 252.0, 260.0)
    one = due(binder)
    assert (one.passed, one.passed_on, one.due_at) == (250, MONDAY + 2 * DAY, 500)


@pytest.mark.parametrize(("hours", "step"), [(240.0, 250), (490.0, 500), (990.0, 1000), (1990.0, 2000), (3740.0, 250)])
def test_the_largest_step_that_falls_on_the_hours_is_named(binder, hours, step):
    days(binder, hours)
    assert due(binder).step == step


@pytest.mark.parametrize(
    ("hours", "due_at", "step", "passed"),
    [(790.0, 800, 400, 400), (989.0, 1000, 1000, 800), (1001.0, 1200, 400, 1000), (1990.0, 2000, 1000, 1600)],
)
def test_steps_that_do_not_divide_each_other_are_each_named_in_their_turn(binder, hours, due_at, step, passed):
    binder.set_service_steps({"": [400, 1000]}, "AB")
    days(binder, hours)
    one = due(binder)
    assert (one.due_at, one.step, one.passed) == (due_at, step, passed)


def test_with_one_reading_there_is_no_date(binder):
    days(binder, 300.0)
    one = due(binder)
    assert (one.about, one.earliest, one.latest) == (None, None, None)


def test_steps_can_be_set_by_kind_of_unit_and_stand_in_the_journal(binder, tmp_path):
    (tmp_path / "units.csv").write_text(f"unit,kind\n{UNIT},forklift\n")
    binder.load_units(tmp_path / "units.csv")
    days(binder, 300.0)
    binder.set_service_steps({"forklift": [400, 200]}, "AB")
    assert (due(binder).due_at, due(binder).step) == (400, 400)
    assert binder.verify().sound
    assert binder.settings().service_steps == {"forklift": [200, 400]}
    with pytest.raises(UsageError, match="no service steps"):
        binder.set_service_steps({"": [0]}, "AB")


def test_a_reading_that_cannot_be_does_not_move_the_date(binder):
    days(binder, 300.0, 308.0, 316.0, 916.0, 332.0)
    assert due(binder).hours == 332.0


def test_the_command_explains_readings_that_cannot_be_and_says_how_dates_are_told(binder, run, tmp_path):
    days(binder, 300.0, 308.0, 316.0, 916.0, 332.0)
    ran = run("hours", "--binder", binder.folder, "--unit", UNIT.lower(), "--picture", tmp_path / "log.pdf")
    assert ran.code == 0, ran.err
    assert "916.0 h is more than 316.0 h of 2026-06-03 + 2 x 24 h" in ran.out
    assert "doubtful, cannot be" not in ran.out
    assert "Projected from the last eight weeks" in ran.out
    assert (tmp_path / "log.pdf").read_bytes().startswith(b"%PDF")
    assert "no sheet and no entry of the register names it" in one_sentence(
        run("hours", "--binder", binder.folder, "--unit", "ZZ9").err
    )


def test_the_command_sets_steps_and_months_and_takes_them_back(binder, run):
    to = ("settings", "--binder", binder.folder, "--initials", "AB")
    said = run(*to, "--service-steps", "forklift=200,400", "--keep-months", "24").out
    assert "Service steps of forklift: every 200, 400 h" in said
    assert "kept 24 months" in said
    register = binder.folder.parent / "kinds.csv"
    register.write_text("unit,kind\nFL01,forklift\n")
    binder.load_units(register)
    refused = one_sentence(run(*to, "--service-steps", "spaceship=200").err)
    assert "--service-steps spaceship: no unit of the register is of this kind; there are forklift." in refused
    back = run(*to, "--service-steps", "usual", "--keep-months", "none").out
    assert "every 250, 500, 1,000, 2,000 h" in back
    assert "'many' is no whole number" in one_sentence(run(*to, "--keep-months", "many").err)
