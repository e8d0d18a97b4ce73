"""What a week's sheet settles to: signs by day, days without work, each day's hours, and the rules between them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from made_readings import reasons_of
from made_week import KNOWN, WORKED, meter, settle_week, sign, there, week, written

from scanform.form import DAYS, FieldKind, parted
from scanform.settle import SettledField, State, calibration

HORN = "item.horn"  # item 11, safety-critical
BELTS = "item.belts"  # item 7


def doubts(fields: dict[str, SettledField]) -> dict[str, str]:
    return {f.id: reasons_of(f) for f in fields.values() if f.state is State.DOUBTFUL}


def test_a_clean_week_is_accepted_in_every_field_and_its_weekend_is_blank() -> None:
    fields = settle_week()
    assert doubts(fields) == {}
    assert list(fields) == [spec.id for spec in week().fields]
    assert fields["date"].value == "2026-11-23"
    assert fields[f"{HORN}.mon"].value == "ok"
    assert fields[f"{HORN}.sun"].value is None
    assert fields["hours.tue"].value == "4509.5"
    assert fields["hours.sat"].value is None
    assert fields["initials.fri"].value is True


@pytest.mark.parametrize("value", ["ok", "defect", "na"])
def test_a_sign_becomes_the_answer_that_it_stands_for(value: str) -> None:
    field = settle_week(sign(f"{BELTS}.wed", value))[f"{BELTS}.wed"]
    assert (field.value, field.kind) == (value, "mark")


def test_an_unclear_sign_is_doubted_and_names_the_other_reading() -> None:
    field = settle_week(sign(f"{BELTS}.wed", "ok", 0.8))[f"{BELTS}.wed"]
    assert field.state is State.DOUBTFUL
    assert "may also say" in reasons_of(field)


def test_a_sign_that_was_struck_out_is_doubted_with_the_reason() -> None:
    said = "the sign is struck out or written over"
    assert said in doubts(settle_week(sign(f"{HORN}.tue", "ok", 0.2, (said,))))[f"{HORN}.tue"]


def test_an_item_left_out_on_a_day_with_other_entries_is_doubted() -> None:
    found = doubts(settle_week(sign(f"{HORN}.tue", None)))
    assert list(found) == [f"{HORN}.tue"]
    assert "no answer is marked for Tue" in found[f"{HORN}.tue"]


def test_a_day_with_nothing_at_all_was_no_working_day() -> None:
    fields = settle_week(worked=("mon", "wed"))
    assert doubts(fields) == {}
    for spec in week().fields:
        if parted(spec.id)[1] == "tue":
            assert fields[spec.id].value in (None, False)


@pytest.mark.parametrize("entry", [written("hours.sat", "4560.0"), there("initials.sat", True)])
def test_hours_or_initials_without_any_sign_leave_the_days_items_unanswered(entry) -> None:
    found = doubts(settle_week(entry))
    unanswered = {f"item.{item.name}.sat" for item in week().template.items}
    assert unanswered <= set(found)
    assert all("no answer is marked for Sat" in found[field_id] for field_id in unanswered)


def test_dirt_alone_makes_no_working_day() -> None:
    speck = sign(f"{HORN}.sat", None, 0.02, ("the sign is none of tick, cross, dash and N/A",))
    assert list(doubts(settle_week(speck))) == [f"{HORN}.sat"]
    assert list(doubts(settle_week(written("hours.sat", "7")))) == ["hours.sat"]


def test_one_clear_sign_makes_a_working_day() -> None:
    found = doubts(settle_week(sign(f"{HORN}.sat", "defect"), worked=WORKED))
    assert {f"{BELTS}.sat", "hours.sat", "initials.sat"} <= set(found)


def test_a_day_with_signs_asks_for_hours_and_initials() -> None:
    found = doubts(settle_week(written("hours.thu", None), there("initials.thu", False)))
    assert set(found) == {"hours.thu", "initials.thu"}
    assert "no hours are written" in found["hours.thu"]
    assert "initials" in found["initials.thu"]


def test_each_days_hours_must_lie_within_24_h_a_day_of_the_day_before() -> None:
    # An hour meter runs at most 24 h a day and never backwards (common practice).
    found = doubts(settle_week(written("hours.wed", "9518.5")))
    assert "hours.wed" in found
    assert "4509.5 h + 2 x 24 h = 4557.5 h" in found["hours.wed"]
    assert "does not run backwards" in doubts(settle_week(written("hours.wed", "4411.0")))["hours.wed"]


def test_monday_is_bound_by_the_last_sheet_and_a_doubtful_day_binds_nobody() -> None:
    assert doubts(settle_week(known=meter(date(2026, 11, 20), "4480.0"))) == {}
    found = doubts(settle_week(known=meter(date(2026, 11, 20), "2480.0")))
    assert "hours.mon" in found
    found = doubts(settle_week(written("hours.wed", "9518.5")))
    assert set(found) == {"hours.wed"}  # Thursday goes by Tuesday


def test_the_days_of_one_sheet_bind_each_other_whatever_its_unit_may_be() -> None:
    doubtful = written("unit", "HT29")
    found = doubts(settle_week(doubtful, written("hours.wed", "9518.5")))
    assert set(found) >= {"unit", "hours.wed"}
    assert "4509.5 h + 2 x 24 h = 4557.5 h" in found["hours.wed"]
    # What other sheets say may be another unit's.
    alone = doubts(settle_week(doubtful, known=meter(date(2026, 11, 20), "2480.0")))
    assert not any(field.startswith("hours") for field in alone)


def test_the_week_must_begin_on_a_monday() -> None:
    found = doubts(settle_week(written("date", "20261124")))
    assert "2026-11-24 is a Tuesday; a week's sheet begins on a Monday" in found["date"]


def test_entries_for_a_day_that_has_not_come_yet_are_doubted() -> None:
    found = doubts(settle_week(known=replace(KNOWN, today=date(2026, 11, 26))))
    assert list(found) == ["initials.fri"]
    assert "2026-11-27, which lies in the future" in found["initials.fri"]


def defect_line(n: int, item: str, day: str | None, words: str = "worn through"):
    return written(f"defect.{n}.item", item), written(f"defect.{n}.day", day), there(f"defect.{n}", words)


def test_a_defect_with_its_line_item_and_day_is_accepted() -> None:
    fields = settle_week(sign(f"{BELTS}.wed", "defect"), *defect_line(1, "7", "3"))
    assert not [f for f in doubts(fields) if not f.startswith("defect.1") or f.count(".") > 1]
    assert (fields["defect.1.item"].value, fields["defect.1.day"].value) == ("7", "3")


def test_a_cross_without_words_and_words_without_a_cross_are_doubted() -> None:
    found = doubts(settle_week(sign(f"{BELTS}.wed", "defect")))
    assert "marked as a defect on Wed, and no defect line says what is wrong with item 7" in found[f"{BELTS}.wed"]
    found = doubts(settle_week(*defect_line(1, "7", "3")))
    assert "names item 7 on Wed, where it is answered OK" in found["defect.1.item"]
    assert f"{BELTS}.wed" in found


def test_a_defect_that_stands_for_days_is_written_down_once() -> None:
    crosses = [sign(f"{BELTS}.{day}", "defect") for day in ("wed", "thu", "fri")]
    assert not [f for f in doubts(settle_week(*crosses, *defect_line(1, "7", "3"))) if f.startswith("item.")]
    # A line from Thursday on says nothing of Wednesday.
    assert [f for f in doubts(settle_week(*crosses, *defect_line(1, "7", "4"))) if f.startswith("item.")] == [
        f"{BELTS}.wed"
    ]


def test_a_line_without_a_day_is_enough_for_one_bad_day_and_doubted_for_several() -> None:
    one = settle_week(sign(f"{BELTS}.wed", "defect"), *defect_line(1, "7", None))
    assert one["defect.1.day"].state is State.ACCEPTED
    crosses = [sign(f"{BELTS}.{day}", "defect") for day in ("wed", "thu")]
    assert "this line names no day" in doubts(settle_week(*crosses, *defect_line(1, "7", None)))["defect.1.day"]


@pytest.mark.parametrize("day", ["8", "9", "0"])
def test_a_day_that_the_week_does_not_have_is_doubted(day: str) -> None:
    found = doubts(settle_week(sign(f"{BELTS}.wed", "defect"), *defect_line(1, "7", day)))
    assert "no day's number" in found["defect.1.day"]


def test_a_day_alone_on_a_line_is_doubted() -> None:
    found = doubts(settle_week(written("defect.4.day", "5")))
    assert list(found) == ["defect.4.day"]
    assert "neither words nor an item's number" in found["defect.4.day"]


def test_fit_for_use_is_about_the_last_day_and_about_what_is_still_open() -> None:
    monday = [sign(f"{HORN}.mon", "defect"), *defect_line(1, "11", "1")]
    assert "fit" not in doubts(settle_week(*monday))
    friday = [sign(f"{HORN}.fri", "defect"), *defect_line(1, "11", "5")]
    assert "fit to use with a defect on safety-critical item 11 on Fri" in doubts(settle_week(*friday))["fit"]
    closed = [there("defect.1.repair", "repaired"), written("workshop.date", "20261128")]
    assert "fit" not in doubts(settle_week(*friday, *closed, there("workshop.signature", True)))


def test_a_sheet_with_nothing_for_any_day_is_doubted_once() -> None:
    found = doubts(settle_week(worked=()))
    assert "nothing is entered on this sheet for any day" in found["signature"]
    assert not [f for f in found if f.startswith(("item.", "hours.", "initials."))]


def test_signs_are_held_to_a_threshold_no_lower_than_tick_boxes() -> None:
    assert calibration().threshold("mark") >= calibration().threshold("choice")
    assert {f.kind for f in week().fields} >= {FieldKind.MARK}
    assert DAYS[:5] == WORKED
