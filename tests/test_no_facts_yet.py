"""What rests on a doubt is listed apart, says what to look at, and is a fact only once a person has looked."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from changed_sheets import UNIT, doubt, doubtful_value, sheet, value
from commands import runner
from made_quarter import MONDAY, daily

from scanform.binder import ClosingWish, open_binder
from scanform.form import Paper, find_template, lay_out
from scanform.report import close_by_name, coverage, defect_register, last_day, meter_readings, patterns, still_open
from scanform.report.sheet_days import counted_sheets
from scanform.report.wording import doubt_in_short
from scanform.training.year_rules import broken_rules

DAY = dt.timedelta(days=1)
BRAKE = ("parking-brake", "park brake won't hold on ramp")


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        yield opened


def numbers(item):
    return next(str(i.number) for i in daily().template.items if i.name == item)


# Defects


def test_a_sure_report_makes_a_fact_however_doubtful_its_words_are(binder):
    sheet(binder, MONDAY, BRAKE, changed=[doubt("defect.1")])
    (defect,) = defect_register(binder)
    assert (defect.waits, defect.used_on) == ((), (MONDAY,))
    assert defect.doubts


def test_an_item_number_alone_on_a_sheet_that_answers_ok_may_be_dirt_and_is_still_named(binder):
    number = sheet(binder, MONDAY, changed=[doubtful_value("defect.3.item", numbers("parking-brake"))])
    sheet(binder, MONDAY + DAY, BRAKE)
    fact, perhaps = defect_register(binder)
    assert (fact.first, len(fact.reports), fact.waits) == (MONDAY + DAY, 1, ())
    assert (perhaps.name, perhaps.used_on) == (f"{number}.defect.3", ())
    assert perhaps.perhaps_used_on == (MONDAY, MONDAY + DAY)
    assert "a person must look" in perhaps.waits[0]


def test_an_item_number_that_a_person_confirms_is_a_report(binder):
    number = sheet(binder, MONDAY, changed=[doubtful_value("defect.3.item", numbers("horn"))])
    binder.confirm(f"{number}.defect.3.item", numbers("horn"), "AB")
    binder.confirm(f"{number}.item.horn", "defect", "AB")
    (defect,) = still_open(defect_register(binder))
    assert (defect.item, defect.waits) == ("item.horn", ())


def test_days_after_a_repair_that_nobody_has_confirmed_are_no_facts_until_somebody_does(binder):
    sheet(binder, MONDAY, BRAKE)
    number = sheet(binder, MONDAY + DAY, (*BRAKE, "repaired"), changed=[doubt("workshop.date")])
    sheet(binder, MONDAY + 2 * DAY)
    (defect,) = defect_register(binder)
    assert (defect.used_on, defect.perhaps_used_on) == ((MONDAY,), (MONDAY + DAY, MONDAY + 2 * DAY))
    assert f"sheet {number}" in defect.waits[0]
    binder.confirm(f"{number}.workshop.date", (MONDAY + 2 * DAY).isoformat(), "AB")
    (defect,) = defect_register(binder)
    assert (defect.used_on, defect.perhaps_used_on, defect.waits) == ((MONDAY, MONDAY + DAY), (), ())


def test_a_repair_that_may_be_of_another_defect_leaves_the_first_open_until_the_words_are_confirmed(binder):
    sheet(binder, MONDAY, ("seat-belt", "belt frayed on edge"))
    changed = [doubtful_value("defect.1", "bolt frayed on edge")]
    odd = sheet(binder, MONDAY + DAY, ("seat-belt", "seat belt frayed"), changed=changed)
    repaired = ("seat-belt", "same as yesterday", "repaired")
    signed = sheet(binder, MONDAY + 2 * DAY, repaired)
    sheet(binder, MONDAY + 3 * DAY)
    (defect,) = defect_register(binder)
    assert defect.is_open
    assert (defect.used_on, defect.perhaps_used_on) == (
        (MONDAY, MONDAY + DAY),
        (MONDAY + 2 * DAY, MONDAY + 3 * DAY),
    )
    assert f"sheet {signed}" in defect.waits[0]
    assert f"{odd}.defect.1 must be confirmed" in defect.waits[0]
    binder.confirm(f"{odd}.defect.1", "belt frayed on edge", "AB")
    (defect,) = defect_register(binder)
    assert (defect.closed.on, defect.perhaps_used_on, defect.waits) == (MONDAY + 2 * DAY, (), ())


def test_a_person_who_closes_such_a_defect_closes_all_of_it(binder):
    first = sheet(binder, MONDAY, ("seat-belt", "belt frayed on edge"))
    changed = [doubtful_value("defect.1", "bolt frayed on edge")]
    sheet(binder, MONDAY + DAY, ("seat-belt", "seat belt frayed", "repaired"), changed=changed)
    (defect,) = defect_register(binder)
    assert defect.is_open
    wish = ClosingWish(f"{first}.defect.1", "repaired", MONDAY + DAY, "Otis Granger", "work order 12")
    close_by_name(binder, [wish], "KL")
    (defect,) = defect_register(binder)
    assert (defect.closed.on, defect.closed.initials) == (MONDAY + DAY, "KL")


def test_doubtful_words_between_two_defects_do_not_let_the_repair_of_the_one_close_the_other(binder):
    sheet(binder, MONDAY, ("service-brake", "brake pedal goes to floor"))
    changed = [doubtful_value("defect.1", "brakes pul to left")]
    between = sheet(binder, MONDAY + DAY, ("service-brake", "brakes pull to left"), changed=changed)
    sheet(binder, MONDAY + 2 * DAY, ("service-brake", "brake pulls left", "repaired"))
    sheet(binder, MONDAY + 3 * DAY)
    floor, left = sorted(defect_register(binder), key=lambda defect: defect.first)
    assert (floor.is_open, floor.used_on) == (True, tuple(MONDAY + n * DAY for n in range(4)))
    assert left.closed.on == MONDAY + 2 * DAY
    assert f"{between}.defect.1" in floor.waits[0]
    assert left.waits == (f"{between}.defect.1 may be about it, but its words are doubtful",)
    binder.confirm(f"{between}.defect.1", "brakes pull to left", "AB")
    floor, left = sorted(defect_register(binder), key=lambda defect: defect.first)
    assert (len(floor.reports), len(left.reports), floor.waits, left.waits) == (1, 2, (), ())


def test_sure_words_that_only_illegible_ones_tie_to_an_older_report_of_another_place_wait_with_it(binder):
    sheet(binder, MONDAY, ("tires", "LF tire cut"), changed=[doubtful_value("defect.1", "if tire sidewall cut")])
    sheet(binder, MONDAY + DAY, ("tires", "LF cut"), changed=[doubtful_value("defect.1", "cut on left front fire")])
    sheet(binder, MONDAY + 9 * DAY, ("tires", "flat right rear tire"))
    assert all(defect.waits for defect in defect_register(binder))


def test_a_repair_on_a_line_whose_item_is_not_read_waits_with_the_item_that_has_no_line(binder):
    sheet(binder, MONDAY, BRAKE)
    changed = [doubtful_value("defect.1.item", "97"), doubtful_value("defect.1", "")]
    sheet(binder, MONDAY + DAY, (*BRAKE, "repaired"), changed=changed)
    fact = next(d for d in defect_register(binder) if d.first == MONDAY)
    assert fact.is_open
    assert any("must be confirmed first" in wait for wait in fact.waits)


def test_words_without_a_number_belong_to_the_one_item_that_is_ticked_and_has_no_line(binder):
    sheet(binder, MONDAY, ("horn", "stays silent"))
    sheet(binder, MONDAY + DAY, ("horn", "stays silent"), changed=[doubtful_value("defect.1.item", None)])
    (defect,) = defect_register(binder)
    assert len(defect.reports) == 2


def test_doubtful_words_that_may_be_of_another_defect_of_the_item_say_so_with_both(binder):
    sheet(binder, MONDAY, ("lights", "left tail light out"))
    sheet(binder, MONDAY + DAY, ("lights", "right tail light out"), changed=[doubt("defect.1")])
    names = {defect.name for defect in defect_register(binder)}
    for defect in defect_register(binder):
        (other,) = names - {defect.name}
        assert other in defect.waits[0]


def test_a_recurrence_that_rests_on_doubtful_words_is_no_fact(binder):
    sheet(binder, MONDAY, ("tires", "right rear tire flat", "repaired"))
    sheet(binder, MONDAY + 3 * DAY, ("tires", "night near tire flat"), changed=[doubt("defect.1")])
    again = next(defect for defect in defect_register(binder) if defect.times)
    assert "came back" in again.waits[0]
    sheet(binder, MONDAY + 4 * DAY, ("tires", "right rear tire flat"))
    again = next(defect for defect in defect_register(binder) if defect.times)
    assert again.waits == ()


def test_an_answer_without_words_after_a_repair_came_back_only_if_later_words_say_so(binder):
    sheet(binder, MONDAY, ("lights", "RH headlight broken", "repaired"))
    sheet(binder, MONDAY + 2 * DAY, ("lights", ""))
    later = next(defect for defect in defect_register(binder) if defect.is_open)
    assert "words that are missing" in later.waits[0]
    number = sheet(binder, MONDAY + 2 * DAY, ("lights", "left taillight not working"))
    later = next(defect for defect in defect_register(binder) if defect.is_open)
    assert (later.times, later.waits, len(later.reports)) == (0, (), 2)
    binder.confirm(f"{number}.defect.1", "right headlight broken", "AB")
    later = next(defect for defect in defect_register(binder) if defect.is_open)
    assert (later.times, later.waits) == (1, ())


def test_a_report_on_a_sheet_of_a_doubtful_unit_waits_with_the_unit_whose_meter_it_fits(binder):
    sheet(binder, MONDAY, BRAKE)
    sheet(binder, MONDAY, BRAKE, unit="WL09", changed=[value("hours", "5000.0")])
    number = sheet(binder, MONDAY + DAY, BRAKE, unit="WL03", changed=[doubt("unit")])
    sheet(binder, MONDAY + 2 * DAY)
    sheet(binder, MONDAY + 2 * DAY, unit="WL09", changed=[value("hours", "5016.0")])
    waits = {defect.unit: defect.waits for defect in defect_register(binder)}
    assert f"sheet {number}" in waits[UNIT][0]
    assert waits["WL09"] == ()


def test_a_report_of_a_doubtful_date_waits_with_the_units_defect_though_a_new_version_words_the_item_anew(binder):
    sheet(binder, MONDAY, ("horn", "horn dead", "repaired"))
    number = sheet(binder, MONDAY + 3 * DAY, ("horn", "horn dead"), changed=[doubt("date")])
    (first,) = [defect for defect in defect_register(binder) if defect.first == MONDAY]
    assert f"{number}.defect.1 may be about it" in first.waits[-1]
    template = daily().template
    items = tuple(replace(i, text=f"{i.text}, loud") if i.name == "horn" else i for i in template.items)
    binder.remember_template(template.model_copy(update={"version": 2, "items": items}))
    page = binder.page_numbered(number).record
    again = binder.record_page(replace(page, page_number=9, version=2)).number
    (first,) = [defect for defect in defect_register(binder) if defect.first == MONDAY]
    assert f"{again}.defect.1 may be about it" in first.waits[-1]


def test_the_list_keeps_what_is_no_fact_in_a_table_of_its_own(binder, tmp_path, monkeypatch, capsys):
    sheet(binder, MONDAY, BRAKE)
    sheet(binder, MONDAY + DAY, changed=[doubtful_value("defect.3.item", numbers("horn"))])
    said = runner(monkeypatch, capsys)("defects", "--binder", tmp_path / "binder").out
    facts, _, waiting = said.partition("No facts yet")
    assert "1.defect.1" in facts
    assert "PERHAPS USED WITH AN OPEN SAFETY DEFECT" in facts
    assert "2.defect.3 is no fact yet" in waiting


def test_nobody_is_said_to_have_answered_ok_to_what_may_be_dirt(binder):
    sheet(binder, MONDAY, changed=[doubtful_value("defect.3.item", numbers("horn"))])
    for n in range(1, 4):
        sheet(binder, MONDAY + n * DAY)
    assert [p for p in patterns(binder, MONDAY, MONDAY + 3 * DAY) if p.kind == "answered OK"] == []


def test_a_defect_that_a_sure_report_names_is_a_fact_whatever_else_may_be_of_it(binder):
    sheet(binder, MONDAY, BRAKE)
    sheet(binder, MONDAY + DAY, BRAKE, changed=[doubt("date")])
    (defect,) = defect_register(binder)
    assert (defect.sure, bool(defect.waits)) == (True, True)
    assert doubt_in_short(defect) == "not settled"


# Days and meters


def test_a_day_that_a_sheet_of_doubtful_date_may_be_of_is_not_said_to_be_without_one(binder):
    sheet(binder, MONDAY)
    number = sheet(binder, MONDAY + DAY, changed=[doubtful_value("date", (MONDAY + 9 * DAY).isoformat())])
    sheet(binder, MONDAY + 2 * DAY)
    found = coverage(binder, MONDAY, MONDAY + 2 * DAY)
    assert found.missing == ()
    (day,) = found.waiting
    assert (day.day, day.status) == (MONDAY + DAY, "no sheet")
    assert f"sheet {number}" in day.waits


def test_a_doubtful_date_does_not_say_what_the_last_weeks_are(binder):
    sheet(binder, MONDAY)
    sheet(binder, MONDAY + DAY, changed=[doubtful_value("date", "4026-06-02")])
    assert last_day(binder) == MONDAY


def test_a_doubtful_reading_that_cannot_be_is_no_fault_yet(binder):
    for n in range(4):
        changed = [doubtful_value("hours", "9000.0")] if n == 2 else []
        sheet(binder, MONDAY + n * DAY, changed=changed)
    found = meter_readings(binder, counted_sheets(binder))
    (wrong,) = found[found["why"] != ""].itertuples()
    assert wrong.waits
    binder.confirm("3.hours", "9000.0", "AB")
    found = meter_readings(binder, counted_sheets(binder))
    assert not found["waits"].any()


def test_a_new_meter_is_a_fact_once_one_reading_on_it_is_confirmed(binder):
    for n in range(8):
        changed = [doubtful_value("hours", f"{10 + 8 * n}.0")] if n > 2 else []
        sheet(binder, MONDAY + n * DAY, changed=changed)
    found = meter_readings(binder, counted_sheets(binder))
    assert list(found["waits"]) == [False, False, False, True, *[False] * 4]
    binder.confirm("6.hours", "50.0", "AB")
    found = meter_readings(binder, counted_sheets(binder))
    assert (found["why"].str.startswith("a new meter").sum(), found["waits"].any()) == (1, False)


# The made year


def test_a_tick_without_words_is_doubted_in_the_made_year_as_it_is_when_read():
    layout = lay_out(find_template("site-machine"), Paper.A4)
    values = {f"item.{item.name}": "ok" for item in layout.template.items} | {"fit": "fit", "signature": True}
    assert broken_rules(layout, values, None, MONDAY) == {}
    broken = broken_rules(layout, values | {"item.horn": "defect"}, None, MONDAY)
    assert set(broken) == {"item.horn", "fit"}
