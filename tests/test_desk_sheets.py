"""Looking sheets up at the desk, in a real browser: found, seen beside their ink, corrected, with their past."""

from __future__ import annotations

import re
from dataclasses import replace

import cv2
import numpy as np
import pytest
from desk_axe import serious_faults
from desk_binder import HOURS, NASTY, UNIT
from desk_browser import at_the_desk
from playwright.sync_api import Page, expect

from scanform.batch.duplicates import seen_before
from scanform.binder import PageRecord
from scanform.desk.access import Role
from scanform.form import serial_number
from scanform.settle import Outcome, State

TABLET = {"width": 820, "height": 1180}


@pytest.fixture
def page(desk, browser) -> Page:
    opened = at_the_desk(browser, desk)
    yield opened
    opened.context.close()


@pytest.fixture
def unread(desk) -> int:
    """A page in the binder that no machine could read: the number of its record."""
    binder = desk.app.state.binder
    pixels = cv2.imdecode(
        np.frombuffer(binder.archived(binder.page_numbered(1).record.sha256).read_bytes(), np.uint8), 0
    )
    folded = cv2.GaussianBlur(np.ascontiguousarray(np.rot90(pixels)), (9, 9), 3)
    sha256 = binder.archive(cv2.imencode(".jpg", folded)[1].tobytes(), ".jpg")
    batch = binder.begin_batch(["friday.pdf"])
    record = PageRecord("friday.pdf", "/scans/friday.pdf", 1, sha256, Outcome.UNREADABLE, "The page is folded.")
    number = binder.record_page(
        PageRecord(**{**vars(record), "width_px": folded.shape[1], "height_px": folded.shape[0], "batch_id": batch})
    ).number
    binder.end_batch(batch, [number], 1)
    return number


def line(page: Page, field_id: str):
    return page.locator(f'.line[data-field="{field_id}"]')


def seen_of_page(page: Page) -> list[float]:
    """What the picture shows of the page: x, y, width, height."""
    return [float(n) for n in page.locator("svg.picture").get_attribute("viewBox").split()]


def box_of(page: Page, field_id: str) -> list[float]:
    return [float(n) for n in page.locator(f'polygon[data-field="{field_id}"]').get_attribute("data-box").split()]


def test_a_sheet_is_found_by_unit_and_date(desk, page):
    page.goto(f"{desk.address}/sheets")
    expect(page.locator(".found tbody tr")).to_have_count(4)
    page.get_by_label("Unit").fill("wl-07")
    page.get_by_label("From").fill("2026-11-10")
    page.get_by_label("To").fill("2026-11-10")
    page.get_by_role("button", name="Find").click()
    expect(page.locator(".found tbody tr")).to_have_count(1)
    page.get_by_role("link", name="2026-11-10").click()
    expect(page.get_by_role("heading", name=f"{UNIT}, 2026-11-10")).to_be_visible()


def test_nothing_found_and_a_date_that_is_none_say_what_to_do(desk, page):
    page.goto(f"{desk.address}/sheets?unit=ZZ99")
    expect(page.get_by_role("heading", name="Nothing on record is like that")).to_be_visible()
    page.goto(f"{desk.address}/sheets?first=23.11.2026")
    expect(page.get_by_role("alert")).to_contain_text("'23.11.2026', is none; write it year first")
    assert page.get_by_label("From").input_value() == "23.11.2026", "what was typed stays"


def test_a_value_shows_its_ink_and_ink_shows_its_value(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    before = seen_of_page(page)
    line(page, "hours").locator(".line-button").click()
    x, y, w, h = seen_of_page(page)
    left, top, wide, high = box_of(page, "hours")
    assert w < before[2] / 2, "closer than before"
    assert x <= left
    assert y <= top
    assert left + wide <= x + w
    assert top + high <= y + h
    expect(page.locator('polygon[data-field="hours"]')).to_have_class(re.compile("chosen"))
    page.keyboard.press("w")
    assert seen_of_page(page) == before
    page.locator('polygon[data-field="fit"]').click()
    expect(line(page, "fit")).to_have_class(re.compile("chosen"))
    expect(line(page, "fit").locator(".line-button")).to_be_focused()
    expect(line(page, "hours").locator(".line-open")).to_be_hidden()


def test_a_sheet_that_was_fed_upside_down_is_shown_upright_with_its_ink_in_place(desk, page):
    # By its layout, the hour meter is in the upper half of a sheet, the fitness for use in the lower.
    page.goto(f"{desk.address}/sheets/3")
    height = seen_of_page(page)[3]
    assert box_of(page, "hours")[1] < height / 4 < height * 0.7 < box_of(page, "fit")[1]


def test_an_accepted_value_is_corrected_by_keyboard_and_the_old_one_stays_in_its_history(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    line(page, "unit").locator(".line-button").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(line(page, "operator").locator(".line-button")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(line(page, "operator").get_by_label("What the paper says")).to_be_focused()
    page.keyboard.press("Control+A")
    page.keyboard.type("Dora Pell")
    page.keyboard.press("Enter")
    expect(line(page, "operator").locator(".line-words")).to_have_text("Dora Pell")
    expect(line(page, "operator").locator(".line-state")).to_have_text("confirmed by a person")
    past = line(page, "operator").locator(".history li")
    expect(past).to_have_count(2)
    expect(past.nth(0)).to_contain_text("AB corrected Abel Thorne to Dora Pell")
    expect(past.nth(1)).to_contain_text("the machine read Abel Thorne (accepted)")
    binder = desk.app.state.binder
    field = binder.page_numbered(1).record.field("operator")
    assert (field.value, field.state) == ("Dora Pell", State.CONFIRMED)
    assert binder.verify().problems == ()
    page.reload()
    expect(line(page, "operator").locator(".line-words")).to_have_text("Dora Pell")


def test_an_answer_is_chosen_and_a_doubt_confirmed_as_it_stands(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    first = page.locator('.line[data-field^="item."]').first
    first.locator(".line-button").click()
    first.get_by_label("Defect").check()
    first.get_by_role("button", name="Save").click()
    expect(first.locator(".line-words")).to_have_text("Defect")
    line(page, "hours").locator(".line-button").click()
    line(page, "hours").get_by_role("button", name="It is right as it stands").click()
    expect(line(page, "hours").locator(".line-state")).to_have_text("confirmed by a person")
    binder = desk.app.state.binder
    assert [(d.initials, d.new_value) for d in binder.decisions()] == [("AB", "defect"), ("AB", HOURS[0])]


def test_what_does_not_fit_a_field_is_refused_in_a_sentence_and_kept_in_the_box(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    line(page, "date").locator(".line-button").click()
    line(page, "date").get_by_label("What the paper says").fill("Monday")
    line(page, "date").get_by_role("button", name="Save").click()
    expect(line(page, "date").get_by_role("alert")).to_contain_text("'Monday' is no date")
    assert line(page, "date").get_by_label("What the paper says").input_value() == "Monday"
    assert desk.app.state.binder.decisions() == []


def test_a_correction_that_meets_no_desk_is_not_saved_and_not_lost_from_the_box(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    line(page, "hours").locator(".line-button").click()
    box = line(page, "hours").get_by_label("What the paper says")
    box.fill("4511.5")
    page.context.set_offline(True)
    box.press("Enter")
    expect(line(page, "hours").get_by_role("alert")).to_contain_text("The desk does not answer, so this was not saved.")
    page.context.set_offline(False)
    assert (box.input_value(), desk.app.state.binder.decisions()) == ("4511.5", [])
    desk.app.state.sessions.end_all()
    box.press("Enter")
    expect(line(page, "hours").get_by_role("alert")).to_contain_text("You are signed out, and this was not saved.")
    assert (box.input_value(), desk.app.state.binder.decisions()) == ("4511.5", [])


def test_nobody_overrules_what_they_have_not_seen(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    line(page, "hours").locator(".line-button").click()
    desk.app.state.binder.confirm("1.hours", "4570.5", "KL")
    line(page, "hours").get_by_label("What the paper says").fill("4511.0")
    line(page, "hours").get_by_role("button", name="Save").click()
    expect(line(page, "hours").get_by_role("alert")).to_contain_text("KL was first: 1.hours is '4570.5' since")
    assert len(desk.app.state.binder.decisions()) == 1


def test_an_unlikely_correction_is_asked_about_once(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    line(page, "unit").locator(".line-button").click()
    line(page, "unit").get_by_label("What the paper says").fill("zz99")
    line(page, "unit").get_by_role("button", name="Save").click()
    expect(line(page, "unit").get_by_role("alert")).to_contain_text("Unit ZZ99 is not in the register.")
    assert desk.app.state.binder.decisions() == []
    line(page, "unit").get_by_role("button", name="Save").click()
    expect(line(page, "unit").locator(".line-words")).to_have_text("ZZ99")
    assert desk.app.state.binder.page_numbered(1).record.unit == "ZZ99", "and the sheet is filed under it"


@pytest.fixture
def checked(desk) -> int:
    """A sheet of which every field that the machine was sure of is a spot check: the number of its record."""
    binder = desk.app.state.binder
    third = binder.page_numbered(3).record
    # Bytes behind a picture's end are none of it, and make another file of it.
    sha256 = binder.archive(binder.archived(third.sha256).read_bytes() + b"again", ".png")
    binder.set_spot_check_share(1.0, "AB")
    return binder.record_page(replace(third, sha256=sha256, source_path="/scans/again.png", serial=None)).number


def test_a_spot_check_is_not_shown_with_its_reading_before_it_is_answered(desk, page, checked):
    binder = desk.app.state.binder
    item = next(field.id for field in binder.page_numbered(checked).record.fields if field.kind == "choice")
    page.goto(f"{desk.address}/sheets/{checked}")
    asked = line(page, item)
    expect(asked.locator(".line-words")).to_have_text("not shown yet")
    expect(asked.locator(".line-state")).to_have_text("spot check")
    expect(asked.locator(".line-reasons")).to_contain_text("once somebody has said what the paper says")
    asked.locator(".line-button").click()
    expect(asked.locator(".history li")).to_contain_text("the machine read it")
    expect(asked.locator(".history")).not_to_contain_text("ok")
    assert (asked.get_attribute("data-typed"), asked.locator(":checked").count()) == ("", 0)
    expect(asked.get_by_role("button", name="It is right as it stands")).to_have_count(0)
    asked.get_by_role("button", name="Save").click()
    expect(asked.get_by_role("alert")).to_have_text("Say what the paper says first.")
    assert binder.decisions() == []
    asked.get_by_label("Defect").check()
    asked.get_by_role("button", name="Save").click()
    expect(page.locator("#told")).to_contain_text(
        "Spot check: the machine had read 'OK'. It is corrected, and counted."
    )
    expect(asked.locator(".line-words")).to_have_text("Defect")
    expect(asked.locator(".history li").last).to_contain_text("the machine read ok (accepted)")
    assert item not in binder.checks_on(checked)
    (answered,) = [field for field in binder.spot_checked() if field.right is not None]
    assert (answered.ref, answered.right) == (f"{checked}.{item}", False)
    page.keyboard.press("z")
    expect(asked.locator(".line-words")).to_have_text("not shown yet")
    assert binder.verify().problems == ()


def test_a_spot_check_of_what_lists_tell_is_answered_under_settle_alone(desk, page, checked):
    page.goto(f"{desk.address}/sheets/{checked}")
    expect(page.locator("#heading")).to_have_text("unit not shown yet, date not shown yet")
    assert "2026-11-11" not in page.content()
    line(page, "date").locator(".line-button").click()
    expect(line(page, "date").locator(".line-reasons")).to_contain_text("answered under Settle")
    expect(line(page, "date").locator(".history li")).to_have_count(1)
    expect(line(page, "date").locator(".correct")).to_have_count(0)
    refused = [sent(page, f"/sheets/{checked}/fields/date", value) for value in ("2026-11-11", "2026-11-12")]
    assert refused[0] == refused[1] == 422, "whether it is right or wrong"
    assert desk.app.state.binder.decisions() == []


def sent(page: Page, path: str, value: str) -> int:
    """The status that the desk answers with when a page says that a field is ``value``."""
    return page.evaluate(
        """async ([path, value]) => (await fetch(path, {
            method: "POST", body: JSON.stringify({value, seen: 0}),
            headers: {"Content-Type": "application/json", "X-Desk-Token": document.body.dataset.token},
        })).status""",
        [path, value],
    )


def test_corrections_are_taken_back_on_the_sheet_one_by_one_by_keyboard(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    binder = desk.app.state.binder
    binder.confirm("2.hours", "4519.5", "AB")  # on another sheet, so not meant
    binder.confirm("1.told", "Bess Calloway", "KL")  # by somebody else, so not either
    for field_id, value in (("unit", "ZZ99"), ("hours", "4511.5"), ("operator", "Dora Pell")):
        line(page, field_id).locator(".line-button").click()
        line(page, field_id).get_by_label("What the paper says").fill(value)
        page.keyboard.press("Enter")
        if field_id == "unit":
            expect(line(page, field_id).get_by_role("alert")).to_contain_text("not in the register")
            page.keyboard.press("Enter")
        expect(line(page, field_id).locator(".line-words")).to_have_text(value)
    expect(page.locator("#heading")).to_have_text("ZZ99, 2026-11-09")
    page.reload()
    page.keyboard.press("z")
    expect(page.locator("#told")).to_have_text("Taken back: Operator's name is no longer Dora Pell.")
    expect(line(page, "operator").locator(".line-words")).to_have_text("Abel Thorne")
    expect(line(page, "operator").locator(".history li").nth(1)).to_contain_text("(taken back)")
    page.keyboard.press("z")
    expect(line(page, "hours").locator(".line-state")).to_have_text("doubtful")
    expect(line(page, "hours").locator(".line-reasons")).to_contain_text("the ink may also say '4570.5'")
    page.get_by_role("button", name="Take my last back").click()
    expect(line(page, "unit").locator(".line-words")).to_have_text(UNIT)
    expect(page.locator("#heading")).to_have_text(f"{UNIT}, 2026-11-09")
    page.keyboard.press("z")
    expect(page.locator("#told")).to_have_text("AB has no decision left to take back on sheet 1.")
    assert [(d.ref, d.undone_by is None) for d in binder.decisions()] == [
        ("2.hours", True),
        ("1.told", True),
        *[(f"1.{name}", False) for name in ("unit", "hours", "operator")],
    ]
    assert binder.verify().problems == ()


@pytest.fixture
def repeated(desk) -> int:
    """The first sheet's file again, under another name: the number of its record."""
    binder = desk.app.state.binder
    first = binder.page_numbered(1).record
    again = replace(first, source="again.png", source_path="/scans/again.png", fields=(), unit=None, date=None)
    return binder.record_page(seen_before(again, first.fields, (), binder)).number


def test_a_duplicate_is_looked_at_beside_its_twin_and_entered_by_hand_when_it_is_none(desk, page, repeated):
    page.goto(f"{desk.address}/sheets?outcome=duplicate")
    page.get_by_role("link", name="no date").click()
    expect(page.get_by_role("heading", name="Is it the same sheet?")).to_be_visible()
    expect(page.get_by_role("link", name=f"sheet 1: {UNIT}, 2026-11-09")).to_be_visible()
    pictures = page.locator("svg.picture image")
    assert [picture.get_attribute("href").split("?")[0] for picture in pictures.all()] == [
        f"/pages/{repeated}/picture",
        "/pages/1/picture",
    ]
    before = page.locator("svg.picture").last.get_attribute("viewBox")
    page.locator("[data-view=closer]").last.click()
    assert page.locator("svg.picture").last.get_attribute("viewBox") != before
    assert serious_faults(page) == []
    page.get_by_role("link", name="Enter it by hand").click()
    expect(page.get_by_label("Which sheet is it?")).to_have_value("site-machine~1")
    page.get_by_label("Unit", exact=True).fill("WL03")
    page.get_by_label("Date", exact=True).fill("2026-11-09")
    page.get_by_role("button", name="Put it on record").click()
    expect(page.locator("#entry-asks")).to_contain_text("items have no answer")
    page.get_by_role("button", name="Put it on record").click()
    expect(page.get_by_role("heading", name="WL03, 2026-11-09")).to_be_visible()
    binder = desk.app.state.binder
    assert binder.page_numbered(repeated).record.outcome is Outcome.READ
    assert binder.verify().problems == ()
    page.get_by_role("button", name="Take the whole entry back").click()
    page.get_by_role("button", name="Press once more").click()
    expect(page.get_by_role("heading", name="Is it the same sheet?")).to_be_visible()
    assert binder.verify().problems == ()


def test_words_from_paper_stay_words(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    expect(line(page, "defect.1").locator(".line-words")).to_have_text(NASTY)
    line(page, "defect.1").locator(".line-button").click()
    line(page, "defect.1").get_by_role("button", name="It is right as it stands").click()
    expect(line(page, "defect.1").locator(".history li")).to_have_count(2)
    expect(line(page, "defect.1").locator(".history li").first).to_contain_text(NASTY)
    expect(page).to_have_title(re.compile("^WL07, 2026-11-09"))


def test_a_reader_looks_and_cannot_correct(desk, browser):
    sessions = desk.app.state.sessions
    context = browser.new_context()
    context.add_cookies([{"name": sessions.cookie, "value": sessions.begin("RD", Role.READER), "url": desk.address}])
    page = context.new_page()
    page.goto(f"{desk.address}/sheets/1")
    line(page, "hours").locator(".line-button").click()
    expect(line(page, "hours").locator(".history li")).to_have_count(1)
    expect(line(page, "hours").locator(".correct")).to_have_count(0)
    assert sent(page, "/sheets/1/fields/hours", "1.0") == 403
    assert desk.app.state.binder.decisions() == []
    context.close()


def test_a_sheet_that_no_machine_could_read_is_entered_by_hand_beside_its_picture(desk, page, unread):
    page.goto(f"{desk.address}/batches/1")
    page.get_by_role("link", name="Enter by hand").click()
    page.get_by_label("Which sheet is it?").select_option(label="Daily machine check (site-machine, version 1)")
    page.get_by_role("button", name="Take this one").click()
    wide = seen_of_page(page)
    page.get_by_role("button", name="Turn").click()
    assert seen_of_page(page) != wide, "a page that lies on its side is turned"
    page.get_by_label("Serial").fill(serial_number("F7K2QD", 5, 7))
    page.get_by_label("Unit", exact=True).fill(UNIT.lower())
    page.keyboard.press("Enter")
    page.keyboard.type("2026-11-13")
    page.keyboard.press("Enter")
    page.keyboard.type("4546.5")
    page.keyboard.press("Enter")
    page.keyboard.type("Bess Calloway")
    page.keyboard.press("Enter")
    items = page.locator('fieldset[data-field^="item."]').count()
    page.keyboard.type("D" + "o" * (items - 2))
    page.get_by_label("Defect line 1: words").fill("left tail light out")
    page.get_by_label("Defect line 1: item number").fill("1")
    page.get_by_role("button", name="Put it on record").click()
    expect(page.locator("#entry-asks")).to_contain_text(f"1 of {items} items have no answer.")
    assert desk.app.state.binder.page_numbered(unread).record.outcome is Outcome.UNREADABLE, "asked first"
    page.get_by_role("button", name="Put it on record").click()
    expect(page.get_by_role("heading", name=f"{UNIT}, 2026-11-13")).to_be_visible()
    expect(page.locator(".sheet-head")).to_contain_text("the machine said unreadable: The page is folded.")
    record = desk.app.state.binder.page_numbered(unread).record
    assert (record.outcome, record.unit, record.field("hours").value) == (Outcome.READ, UNIT, "4546.5")
    answers = [field.value for field in record.fields if field.kind == "choice"]
    assert answers == ["defect", *["ok"] * (items - 2), None]
    assert {field.state for field in record.fields} == {State.CONFIRMED}
    assert desk.app.state.binder.verify().problems == ()
    page.get_by_role("button", name="Take the whole entry back").click()
    page.get_by_role("button", name="Press once more").click()
    expect(page.get_by_role("heading", name="not readable")).to_be_visible()
    assert desk.app.state.binder.page_numbered(unread).record.outcome is Outcome.UNREADABLE


@pytest.mark.parametrize("size", [None, TABLET])
def test_axe_finds_no_serious_fault_on_any_page_of_the_record(desk, page, unread, size):
    if size:
        page.set_viewport_size(size)
    for path in (
        "/sheets",
        "/sheets?unit=ZZ",
        "/sheets/1",
        f"/sheets/{unread}",
        f"/sheets/{unread}/enter?form=forklift~1",
    ):
        page.goto(desk.address + path)
        assert serious_faults(page) == [], path
    page.goto(f"{desk.address}/sheets/1")
    line(page, "hours").locator(".line-button").click()
    expect(line(page, "hours").locator(".history li")).to_have_count(1)
    assert serious_faults(page) == []
