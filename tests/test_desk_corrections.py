"""Correcting a sheet at the desk, in a real browser: what is kept, asked, taken back, hidden."""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk_binder import HOURS, UNIT
from desk_browser import at_the_desk
from desk_sheet import line, sent
from playwright.sync_api import Page, expect

from scanform.settle import State


@pytest.fixture
def page(desk, browser) -> Page:
    opened = at_the_desk(browser, desk)
    yield opened
    opened.context.close()


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
    said = line(page, "hours").get_by_role("alert")
    expect(said).to_contain_text("KL was first: 1.hours is '4570.5' since")
    expect(said).to_contain_text("You had said: “4511.0”.")
    assert len(desk.app.state.binder.decisions()) == 1
    expect(line(page, "hours").locator(".line-words")).to_have_text("4570.5")
    expect(line(page, "hours").locator(".history li").first).to_contain_text("KL corrected 4510.5 to 4570.5")
    line(page, "hours").get_by_label("What the paper says").fill("4511.0")
    page.keyboard.press("Enter")
    expect(line(page, "hours").locator(".line-words")).to_have_text("4511.0")


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
    expect(page.locator("#all-of")).to_be_hidden()
    assert "2026-11-11" not in page.content()
    line(page, "date").locator(".line-button").click()
    expect(line(page, "date").locator(".line-reasons")).to_contain_text("answered under Settle")
    expect(line(page, "date").locator(".history li")).to_have_count(1)
    expect(line(page, "date").locator(".correct")).to_have_count(0)
    refused = [sent(page, f"/sheets/{checked}/fields/date", value) for value in ("2026-11-11", "2026-11-12")]
    assert refused[0] == refused[1] == 422, "whether it is right or wrong"
    assert desk.app.state.binder.decisions() == []


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
    assert page.title().startswith("ZZ99, 2026-11-09 · ")
    expect(page.get_by_role("link", name="all of ZZ99")).to_have_attribute("href", "/sheets?unit=ZZ99")
    page.reload()
    for _ in range(4):
        page.keyboard.down("z")  # held down, it takes one decision back
    page.keyboard.up("z")
    expect(page.locator("#told")).to_have_text("Taken back: Operator's name is no longer Dora Pell.")
    expect(line(page, "operator").locator(".line-words")).to_have_text("Abel Thorne")
    expect(line(page, "hours").locator(".line-words")).to_have_text("4511.5")
    expect(line(page, "operator").locator(".history li").nth(1)).to_contain_text("(taken back)")
    page.keyboard.press("z")
    expect(line(page, "hours").locator(".line-state")).to_have_text("doubtful")
    expect(line(page, "hours").locator(".line-reasons")).to_contain_text("the ink may also say '4570.5'")
    page.get_by_role("button", name="Take my last back").click()
    expect(line(page, "unit").locator(".line-words")).to_have_text(UNIT)
    expect(page.locator("#heading")).to_have_text(f"{UNIT}, 2026-11-09")
    expect(page.get_by_role("link", name=f"all of {UNIT}")).to_be_visible()
    page.keyboard.press("z")
    expect(page.locator("#told")).to_have_text("AB has no decision left to take back on sheet 1.")
    assert [(d.ref, d.undone_by is None) for d in binder.decisions()] == [
        ("2.hours", True),
        ("1.told", True),
        *[(f"1.{name}", False) for name in ("unit", "hours", "operator")],
    ]
    assert binder.verify().problems == ()
