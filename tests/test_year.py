"""A made year, in small: every list must say what was, exactly once people have confirmed what stands on the sheets."""

from __future__ import annotations

import pytest

from scanform.binder import open_binder
from scanform.training.year import made_year
from scanform.training.year_check import scores
from scanform.training.year_record import confirm_all, leave_as_read, write_year

SEED = 8_740_003
UNITS, WEEKS = 4, 8
# Of what a reader alone makes of some sixty reports and two hundred days. The whole year is measured by
# ``python -m scanform.training.year_check``; so few cases can only show that nothing is badly wrong.
LEAST_AS_READ = 0.9


@pytest.fixture(scope="module")
def confirmed(tmp_path_factory):
    year = made_year(UNITS, WEEKS, SEED)
    folder = tmp_path_factory.mktemp("year") / "binder"
    lost = write_year(folder, year, SEED, confirm_all)
    with open_binder(folder) as binder:
        yield binder, year, lost


def test_confirmed_fields_give_every_defect_gap_and_meter_fault_exactly(confirmed):
    binder, year, lost = confirmed
    assert lost == 0
    assert {name: score for name, score in scores(binder, year).items() if not score.exact} == {}


def test_the_year_holds_what_the_lists_are_there_for(confirmed):
    _, year, _ = confirmed
    assert {episode.how for episode in year.episodes} >= {"paper", "desk", "csv"}
    for kind in (year.missing, year.idle, year.calendar, year.faults):
        assert kind
    said = {words for episode in year.episodes for *_, words in episode.reports}
    assert {"", "same as yesterday"} <= said


def test_the_record_of_a_year_verifies(confirmed):
    binder, _, _ = confirmed
    report = binder.verify()
    assert report.sound, report.problems


def test_fields_as_read_name_nearly_all_reports_and_days_and_little_else(tmp_path):
    year = made_year(UNITS, WEEKS, SEED)
    write_year(tmp_path / "binder", year, SEED, leave_as_read)
    with open_binder(tmp_path / "binder") as binder:
        found = scores(binder, year)
    for name in ("reports of defects", "pairs of reports of one defect", "days without a sheet", "days not in use"):
        assert min(found[name].precision, found[name].recall) >= LEAST_AS_READ, (name, found[name])
