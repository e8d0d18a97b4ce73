"""A record that was changed behind its journal's back: evidence on one unit finds that as the full check does."""

from __future__ import annotations

import datetime as dt
import shutil
import sqlite3
from contextlib import closing as shut

import pytest
from made_quarter import MONDAY, Day, TrueDefect, daily, record_day
from recorded_sheets import BYTES

from scanform.binder import ClosingWish, open_binder
from scanform.report import gather_evidence

UNIT = "WL07"
DAY = dt.timedelta(days=1)

FORGERIES = {
    "a closing that nobody made": (
        "INSERT INTO closing SELECT 999, page_id, field_id, at, initials, 'repaired', closed_on, closed_by, paper, "
        "NULL FROM closing",
        "The tables hold closing 999, but no journal entry records it",
    ),
    "a closing that was taken back": (
        "UPDATE closing SET undone_by = NULL",
        "undone_by of closing",
    ),
    "a day off that the office never gave": (
        "INSERT INTO calendar VALUES ('WL07', '2026-06-03', 0, 'stood')",
        "The tables hold calendar WL07 2026-06-03, but no journal entry records it",
    ),
    "an item that is safety-critical no more": (
        "UPDATE template_item SET critical = 0 WHERE item = 'item.service-brake'",
        "critical of template_item site-machine 1 item.service-brake is 'False' in the tables, but 'True'",
    ),
    "a spot check that is gone": (
        "DELETE FROM spot_check WHERE page_id = 1 AND field_id = 'hours'",
        "The journal records spot_check 1 hours, but it is gone from the tables",
    ),
    "a decision in other initials": (
        "UPDATE decision SET initials = 'XY'",
        "initials of decision",
    ),
    "a sheet that is another unit's now": (
        "UPDATE page SET unit = 'FL02' WHERE id = 2",
        "unit is 'FL02' in the tables, but 'WL07' by the journal",
    ),
    "a sheet that was never read": (
        "UPDATE page SET outcome = 'unreadable' WHERE id = 2",
        "outcome is 'unreadable' in the tables, but 'read' by the journal",
    ),
    "a sheet that is gone": (
        "DELETE FROM page WHERE id = 2",
        "Page 2 was recorded by journal entry",
    ),
}


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """Three days of a unit with a brake defect whose closing was taken back, a correction, a void sheet."""
    with open_binder(tmp_path_factory.mktemp("forged") / "binder", create=True) as binder:
        binder.set_spot_check_share(1, "AB")
        binder.remember_template(daily().template)
        binder.archive(BYTES, "pdf")
        brake = TrueDefect(UNIT, "service-brake", "brake pedal goes to the floor")
        for n, lines in enumerate(([(brake, brake.words, None)], [], [], [])):
            record_day(binder, Day(UNIT, MONDAY + n * DAY, 100.0 + 8 * n, lines), n + 1)
        binder.close_defects([ClosingWish("1.defect.1", "repaired", MONDAY + DAY, "Otis Granger", "WO 1")], "OG")
        binder.withdraw_closing("1.defect.1", "OG")
        binder.confirm("1.operator", "Abel Thorn", "AB")
        binder.confirm("3.date", str(MONDAY + 2 * DAY), "AB")
        binder.void_sheet(4, "AB", "crossed out")
        yield binder.folder


def evidence(binder):
    return gather_evidence(binder, UNIT, MONDAY, MONDAY + 4 * DAY, MONDAY + 9 * DAY).verified


def test_a_record_that_nobody_changed_is_sound_for_both_checks(kept):
    with open_binder(kept) as binder:
        assert (evidence(binder).problems, binder.verify().problems) == ((), ())
        assert binder.verify_sheets([1]).problems == (), "the others are filed as the journal tells"


@pytest.mark.parametrize("forgery", FORGERIES)
def test_both_checks_name_what_was_changed(kept, tmp_path, forgery):
    statement, problem = FORGERIES[forgery]
    shutil.copytree(kept, tmp_path / "binder")
    with shut(sqlite3.connect(tmp_path / "binder" / "record.sqlite")) as behind:
        behind.execute(statement)
        behind.commit()
    with open_binder(tmp_path / "binder") as changed:
        for problems in (evidence(changed).problems, changed.verify().problems):
            assert any(problem in said for said in problems), problems


def test_evidence_checks_every_sheet_that_a_defect_in_it_was_reported_on(kept, tmp_path):
    shutil.copytree(kept, tmp_path / "binder")
    with shut(sqlite3.connect(tmp_path / "binder" / "record.sqlite")) as behind:
        behind.execute("UPDATE field SET value = 'horn dead' WHERE page_id = 1 AND field_id = 'defect.1'")
        behind.commit()
    with open_binder(tmp_path / "binder") as changed:
        after = gather_evidence(changed, UNIT, MONDAY + 2 * DAY, MONDAY + 4 * DAY, MONDAY + 9 * DAY)
    assert after.sheets == (3,)
    assert any("field defect.1 is 'horn dead'" in said for said in after.verified.problems)
