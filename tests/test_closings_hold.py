"""A closing closes what stood there when it was made, and swallows nothing that was reported after it."""

from __future__ import annotations

import datetime as dt

import pytest
from changed_sheets import UNIT, doubt, sheet, value
from made_quarter import MONDAY, daily, settled
from made_week import week
from recorded_sheets import BYTES, a_page

from scanform.binder import ClosingWish, PageRecord, open_binder
from scanform.errors import UsageError
from scanform.report import close_by_name, defect_register, still_open
from scanform.report.defects import defects_said, marked_again
from scanform.settle.types import Outcome
from scanform.settle.vocabulary import vocabulary_for

DAY = dt.timedelta(days=1)
BRAKE = ("service-brake", "brake pedal goes to the floor")
NUMBERS = {item.name: str(item.number) for item in daily().template.items}


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(daily().template)
        opened.remember_template(week().template)
        yield opened


def close(binder, ref, on):
    return close_by_name(binder, [ClosingWish(ref, "repaired", on, "Otis Granger", "work order 12")], "OG")


def brakes(binder):
    """The defects of the service brake, in the order in which they were first reported."""
    found = [d for d in defect_register(binder) if d.item == "item.service-brake"]
    return sorted(found, key=lambda d: (d.first, d.times))


# What a report is turned into after somebody closed it


def test_a_closing_of_the_wipers_does_not_close_the_brakes_that_the_line_turns_out_to_be_about(binder):
    number = sheet(binder, MONDAY, ("wipers", "wiper blade torn"))
    close(binder, f"{number}.defect.1", MONDAY)
    for field, said in (
        ("defect.1", BRAKE[1]),
        ("defect.1.item", NUMBERS["service-brake"]),
        ("item.service-brake", "defect"),
        ("item.wipers", "ok"),
    ):
        binder.confirm(f"{number}.{field}", said, "CD")
    (brake,) = brakes(binder)
    assert (brake.critical, brake.state, brake.sure) == (True, "open", True)
    assert any("closed by OG" in wait and "changed since" in wait for wait in brake.waits)
    close(binder, f"{number}.defect.1", MONDAY)  # in just the same words: now it is about the brakes
    assert [d.state for d in brakes(binder)] == ["repaired"]
    assert binder.verify().sound


def test_a_closing_holds_when_only_the_spelling_of_what_it_closed_is_corrected(binder):
    number = sheet(binder, MONDAY, ("horn", "horn dead"), changed=[doubt("defect.1"), doubt("hours")])
    close(binder, f"{number}.defect.1", MONDAY)
    binder.confirm(f"{number}.defect.1", "horn is dead", "CD")
    binder.confirm(f"{number}.hours", "1001.0", "CD")
    (defect,) = defect_register(binder)
    assert (defect.state, defect.waits) == ("repaired", ())


def test_a_closing_does_not_go_along_to_the_other_lamp_or_the_other_unit(binder):
    lamp = sheet(binder, MONDAY, ("lights", "left tail light out"))
    horn = sheet(binder, MONDAY, ("horn", "horn dead"))
    for ref in (f"{lamp}.defect.1", f"{horn}.defect.1"):
        close(binder, ref, MONDAY)
    assert still_open(defect_register(binder)) == []
    binder.confirm(f"{lamp}.defect.1", "right tail light out", "CD")
    binder.confirm(f"{horn}.unit", "WL09", "CD")
    assert {d.words for d in still_open(defect_register(binder))} == {
        "right tail light: not working",
        "horn: not working",
    }
    assert all("changed since" in d.waits[0] for d in defect_register(binder))


def test_a_defect_is_not_closed_before_the_day_on_which_it_turns_out_to_have_been_reported(binder):
    number = sheet(binder, MONDAY, BRAKE)
    close(binder, f"{number}.defect.1", MONDAY + 2 * DAY)
    binder.confirm(f"{number}.date", str(MONDAY + 8 * DAY), "CD")
    (brake,) = brakes(binder)
    assert (brake.state, brake.sure) == ("open", True)
    assert f"reported on {MONDAY + 8 * DAY}" in brake.waits[0]
    binder.undo_last("CD")
    assert [d.state for d in brakes(binder)] == ["repaired"]


def by_hand(unit, item, words):
    values = {"unit": unit, "date": str(MONDAY), "hours": "100.0", "fit": "fit", "signature": True}
    values |= {f"item.{i.name}": "ok" for i in daily().template.items}
    return values | {f"item.{item}": "defect", "defect.1.item": NUMBERS[item], "defect.1": words}


def test_an_entry_by_hand_is_not_taken_back_from_under_a_closing(binder):
    sha256 = binder.archive(BYTES, "pdf")
    number = binder.record_page(a_page(sha256, 1, Outcome.UNREADABLE, "The page is folded.")).number
    binder.enter_by_hand(number, daily(), by_hand(UNIT, "wipers", "wiper blade torn"), "AB")
    ref = f"{number}.defect.1"
    close(binder, ref, MONDAY + DAY)
    with pytest.raises(UsageError, match=f"OG has closed {ref}; take that back first: scanform reopen {ref}"):
        binder.take_back_entry(number, "AB")
    binder.withdraw_closing(ref, "AB")
    binder.take_back_entry(number, "AB")
    binder.enter_by_hand(number, daily(), by_hand("WL09", *BRAKE), "AB")
    assert [(d.unit, d.state) for d in brakes(binder)] == [("WL09", "open")]
    assert binder.verify().sound


# The day of the closing itself


def test_brakes_that_the_night_shift_reports_after_the_repair_of_that_day_are_open(binder):
    sheet(binder, MONDAY, BRAKE)
    signed = sheet(binder, MONDAY + DAY, (*BRAKE, "repaired"))
    night = sheet(binder, MONDAY + DAY, BRAKE, fit="parked", changed=[value("hours", "1016.0")])
    sheet(binder, MONDAY + 2 * DAY)
    before, again = brakes(binder)
    assert (before.state, len(before.reports), before.waits) == ("repaired", 2, ())
    assert (again.name, again.state, again.recurrence_of) == (f"{night}.defect.1", "open", before.name)
    assert "before or after the repair" in again.waits[0]
    assert f"sheet {signed}" in again.waits[0]
    assert (again.used_on, again.perhaps_used_on) == ((), (MONDAY + 2 * DAY,))
    sheet(binder, MONDAY + 3 * DAY, BRAKE)  # now it has surely come back
    _, again = brakes(binder)
    assert (again.waits, again.used_on, again.perhaps_used_on) == ((), (MONDAY + 3 * DAY,), (MONDAY + 2 * DAY,))


def test_what_the_day_shift_reports_before_the_repair_on_the_night_shifts_sheet_is_closed_with_it(binder):
    sheet(binder, MONDAY, (*BRAKE, "repaired"), changed=[value("hours", "1008.0")])
    sheet(binder, MONDAY, BRAKE)  # scanned later, and filled in earlier by its hour meter
    (brake,) = brakes(binder)
    assert (brake.state, len(brake.reports), brake.waits) == ("repaired", 2, ())


@pytest.mark.parametrize("hours", [value("hours", None), doubt("hours")])
def test_of_two_sheets_of_the_day_without_a_sure_meter_nobody_can_say_which_came_before_the_repair(binder, hours):
    sheet(binder, MONDAY, BRAKE, changed=[hours])
    sheet(binder, MONDAY, (*BRAKE, "repaired"), changed=[value("hours", "1008.0")])
    assert [d.state for d in brakes(binder)].count("open") == 1


def test_a_report_that_nobody_knew_when_the_defect_was_closed_on_its_day_is_open_until_somebody_closes_it_too(binder):
    known = sheet(binder, MONDAY, BRAKE)
    sheet(binder, MONDAY + DAY, BRAKE)
    close(binder, f"{known}.defect.1", MONDAY + DAY)
    assert [(d.state, len(d.reports), d.waits) for d in brakes(binder)] == [("repaired", 2, ())]
    late = sheet(binder, MONDAY + DAY, BRAKE, fit="parked", changed=[value("hours", "1016.0")])
    _, again = brakes(binder)
    assert (again.name, again.state, len(again.waits)) == (f"{late}.defect.1", "open", 1)
    close(binder, again.name, MONDAY + DAY)
    assert [(d.state, d.waits) for d in brakes(binder)] == [("repaired", ()), ("repaired", ())]


def test_an_answer_that_is_corrected_to_defect_after_the_closing_of_its_day_is_open(binder):
    known = sheet(binder, MONDAY, BRAKE)
    other = sheet(binder, MONDAY + DAY)
    close(binder, f"{known}.defect.1", MONDAY + DAY)
    binder.confirm(f"{other}.item.service-brake", "defect", "CD")
    _, again = brakes(binder)
    assert (again.name, again.state) == (f"{other}.item.service-brake", "open")


def test_a_repair_dated_after_the_day_on_which_its_sheet_was_scanned_closes_nothing_and_says_so(binder):
    later = dt.date.today() + dt.timedelta(days=340)
    number = sheet(binder, MONDAY, (*BRAKE, "repaired"), changed=[doubt("workshop.date")])
    binder.confirm(f"{number}.workshop.date", str(later), "AB")
    sheet(binder, MONDAY + 7 * DAY, BRAKE)
    (brake,) = brakes(binder)
    assert (brake.state, len(brake.reports)) == ("open", 2)
    assert f"the date {later}" in brake.waits[0]
    assert "correct the workshop's date" in brake.waits[0]
    binder.confirm(f"{number}.workshop.date", str(MONDAY + DAY), "AB")
    assert [d.state for d in brakes(binder)] == ["repaired", "open"]


# A week's sheet


def week_sheet(binder, days, **said):
    """A week's sheet of five days with the service brake answered Defect on some; ``said``: other fields."""
    values = {"unit": UNIT, "date": str(MONDAY), "operator": "Dora Pell", "fit": "fit", "signature": True}
    values |= {"workshop.signature": False}
    for day in ("mon", "tue", "wed", "thu", "fri"):
        values |= {f"item.{item.name}.{day}": "ok" for item in week().template.items} | {f"initials.{day}": True}
    values |= {f"item.service-brake.{day}": "defect" for day in days} | said
    fields = tuple(settled(f.id, f.kind.value, values.get(f.id), f.critical) for f in week().fields)
    place = len(binder.sheet_columns()) + 1
    page = PageRecord(
        *("week.pdf", "/scans/week.pdf", place, binder.archive(BYTES, "pdf"), Outcome.READ, None),
        *(week().template.name, 1, None, UNIT, MONDAY),
        fields=fields,
    )
    return binder.record_page(page).number


LINE = {"defect.1": BRAKE[1], "defect.1.day": "1"}


def line():
    number = next(str(item.number) for item in week().template.items if item.name == "service-brake")
    return LINE | {"defect.1.item": number}


def test_a_week_of_one_defect_begins_on_its_first_day_and_every_day_of_it_is_a_day_in_use(binder):
    number = week_sheet(binder, ("mon", "tue", "wed", "thu", "fri"))
    (brake,) = brakes(binder)
    assert brake.name == f"{number}.item.service-brake.mon"
    assert (brake.first, brake.last, len(brake.reports)) == (MONDAY, MONDAY + 4 * DAY, 5)
    assert brake.used_on == tuple(MONDAY + n * DAY for n in (1, 2, 3, 4))


def test_a_month_of_one_defect_begins_on_its_lowest_day_whatever_order_its_fields_come_in():
    said = [settled(f"item.brakes.{day}", "mark", "defect", critical=True) for day in ("10", "11", "2")]
    labels, words = {}, vocabulary_for((), ())
    (first,) = entries = defects_said(1, UNIT, MONDAY, said, labels, words)
    again = marked_again(1, UNIT, MONDAY, said, labels, entries, words)
    assert [e.date.day for e in (first, *again)] == [2, 10, 11]


def test_a_line_without_its_day_is_of_the_first_day_marked(binder):
    number = week_sheet(binder, ("tue", "fri"), **(line() | {"defect.1.day": None}))
    (brake,) = brakes(binder)
    assert (brake.name, brake.first, brake.last) == (f"{number}.defect.1", MONDAY + DAY, MONDAY + 4 * DAY)


@pytest.mark.parametrize("day", ["thu", "fri"])
def test_a_defect_on_the_weeks_sheet_after_the_repair_of_wednesday_has_come_back(binder, day):
    repaired = {"defect.1.repair": "repaired", "workshop.date": str(MONDAY + 2 * DAY), "workshop.signature": True}
    week_sheet(binder, ("mon", "tue", day), **(line() | repaired))
    before, again = brakes(binder)
    assert (before.state, before.last) == ("repaired", MONDAY + DAY)
    assert (again.state, again.sure, again.times, again.reports[0].field) == (
        *("open", True, 1),
        f"item.service-brake.{day}",
    )


def test_a_defect_on_the_weeks_sheet_after_a_closing_by_command_has_come_back(binder):
    number = week_sheet(binder, ("mon",))
    close(binder, f"{number}.item.service-brake.mon", MONDAY + 2 * DAY)
    binder.confirm(f"{number}.item.service-brake.fri", "defect", "CD")
    before, again = brakes(binder)
    assert (before.state, again.state, again.first, again.times) == ("repaired", "open", MONDAY + 4 * DAY, 1)


def test_a_defect_that_is_marked_again_later_cannot_be_closed_for_good_before_that(binder):
    number = week_sheet(binder, ("mon", "thu"))
    with pytest.raises(UsageError, match=f"reported again on {MONDAY + 3 * DAY}"):
        close(binder, f"{number}.item.service-brake.mon", MONDAY + 2 * DAY)


# What a sheet that is not sure says of fit or parked


@pytest.mark.parametrize("fit", ["fit", "parked"])
def test_a_day_of_which_it_is_doubtful_whether_the_machine_was_parked_is_perhaps_one_of_use(binder, fit):
    sheet(binder, MONDAY, BRAKE, fit="parked")
    number = sheet(binder, MONDAY + DAY, fit=fit, changed=[doubt("fit")])
    (brake,) = brakes(binder)
    assert (brake.used_on, brake.perhaps_used_on) == ((), (MONDAY + DAY,))
    binder.confirm(f"{number}.fit", fit, "AB")
    (brake,) = brakes(binder)
    assert (brake.used_on, brake.perhaps_used_on) == (((MONDAY + DAY,) if fit == "fit" else ()), ())
