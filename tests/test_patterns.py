"""Patterns worth a talk: told where they are, not told where they are not, and never as an accusation."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest
from made_quarter import MONDAY, Day, TrueDefect, daily, day_fields, doubted
from recorded_sheets import BYTES

from scanform.binder import PageRecord, open_binder
from scanform.report import patterns
from scanform.settle.types import Outcome

DAY = dt.timedelta(days=1)
UNIT = "WL07"
BOXES = 30


def hand(rng, darkness=60.0, form=None, jitter=12.0):
    """An ink signature of 30 boxes: a usual mark, of some darkness, that no box repeats exactly."""
    usual = form if form is not None else np.linspace(0.5, 1.5, 64)
    marks = darkness * usual + rng.normal(0, jitter, (BOXES, 64))
    return np.clip(marks, 0, 255).astype(np.uint8).tobytes()


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        yield opened


def sheet(binder, on, hours, *lines, fit="fit", ink=None, doubt=()):
    said = [(TrueDefect(UNIT, item, words), words, repair) for item, words, repair in lines]
    fields = tuple(doubted(f) if f.id in doubt else f for f in day_fields(Day(UNIT, on, hours, said, fit)))
    place = len(binder.sheet_columns()) + 1
    page = PageRecord(
        *(
            "p.pdf",
            "/p.pdf",
            place,
            binder.archive(BYTES, "pdf"),
            Outcome.READ,
            None,
            "site-machine",
            1,
            None,
            UNIT,
            on,
        ),
        fields=fields,
    )
    ink = ink if ink is not None else hand(np.random.default_rng(8_100_000 + place))
    return binder.record_page(replace(page, ink_signature=ink)).number


def found(binder, until=60):
    return {one.kind: one for one in patterns(binder, MONDAY, MONDAY + until * DAY)}


def test_an_open_defect_that_later_sheets_answer_ok_is_told_with_its_sheets(binder):
    sheet(binder, MONDAY, 100.0, ("horn", "horn dead", None))
    later = [sheet(binder, MONDAY + n * DAY, 100.0 + 8.3 * n * n) for n in (1, 2)]
    one = found(binder)["answered OK"]
    assert one.sheets == tuple(later)
    assert one.sentence == (
        "safety-critical item 20 (Horn) was reported on 2026-06-01 (horn: not working) and is answered OK, "
        "with nothing on record that closed it, on 2026-06-02 to 2026-06-03"
    )


def test_answers_after_the_closing_and_doubtful_answers_are_no_pattern(binder):
    sheet(binder, MONDAY, 100.0, ("horn", "horn dead", "repaired"), ("wipers", "wiper blade torn", None))
    sheet(binder, MONDAY + DAY, 108.3, doubt=("item.wipers",))
    assert "answered OK" not in found(binder)


def test_marks_that_lie_alike_stroke_for_stroke_are_told_and_a_hands_own_likeness_is_not(binder):
    rng = np.random.default_rng(8_100_001)
    copied = hand(rng)
    sheet(binder, MONDAY, 100.0, ink=copied)
    sheet(binder, MONDAY + DAY, 108.3, ink=hand(rng))
    assert "same ink" not in found(binder)
    numbers = [sheet(binder, MONDAY + n * DAY, 100 + 9.1 * n, ink=copied) for n in (4, 5)]
    assert found(binder)["same ink"].sheets == tuple(numbers)


def test_a_meter_that_stands_on_three_sheets_in_a_row_is_told_unless_they_say_parked(binder):
    for n in range(3):
        sheet(binder, MONDAY + n * DAY, 100.0)
    assert "100.0 h on 3 sheets in a row" in found(binder)["meter stands"].sentence
    sheet(binder, MONDAY + 3 * DAY, 100.0, fit="parked")
    assert "meter stands" not in found(binder)


def test_a_meter_that_moves_by_the_very_same_hours_for_five_days_is_told(binder):
    for n in range(5):
        sheet(binder, MONDAY + n * DAY, 100.0 + 8 * n)
    assert "equal steps" not in found(binder)
    sheet(binder, MONDAY + 5 * DAY, 140.0)
    assert "exactly 8.0 h a day on 5 days in a row" in found(binder)["equal steps"].sentence


def weeks(binder, alike_week):
    """Six weeks of five sheets; in one of them hand and ink do not change from day to day."""
    rng = np.random.default_rng(8_100_002)
    for week in range(6):
        for n in range(5):
            on = MONDAY + (7 * week + n) * DAY
            same = week == alike_week
            form = np.linspace(0.5, 1.5, 64) + (0 if same else rng.normal(0, 0.08, 64))
            dark = 60.0 if same else 60.0 + rng.normal(0, 8)
            sheet(binder, on, 100.0 + 9.3 * (7 * week + n) + n * n / 10, ink=hand(rng, dark, form, jitter=4.0))


def test_a_week_in_one_hand_and_one_ink_is_told_with_the_units_other_weeks_beside_it(binder):
    weeks(binder, alike_week=5)
    one = found(binder)["one ink"]
    assert (one.first, len(one.sheets)) == (MONDAY + 35 * DAY, 5)
    assert re.search(r"5 sheets of week 2026-W28 .* in 5 other weeks of the unit they differ by at least", one.sentence)


def test_weeks_that_vary_as_weeks_do_are_no_pattern(binder):
    weeks(binder, alike_week=None)
    assert "one ink" not in found(binder)


def test_the_command_states_facts_and_accuses_nobody(binder, run):
    for n in range(3):
        sheet(binder, MONDAY + n * DAY, 100.0)
    ran = run("patterns", "--binder", binder.folder)
    assert "facts about sheets, not about people" in ran.out
    assert not re.search(r"(?i)fraud|fake|cheat|lied|guilty|falsif", ran.out)
