"""What a person has typed at the desk is neither passed over nor lost: while settling, entering by hand, closing."""

from __future__ import annotations

import pytest
from desk_binder import UNIT
from desk_browser import RunningDesk, at_the_desk
from playwright.sync_api import Page, expect

from scanform.binder import Binder, PageRecord
from scanform.settle import Outcome

DEFECT = "1.defect.1"


@pytest.fixture
def page(desk, browser) -> Page:
    opened = at_the_desk(browser, desk)
    yield opened
    opened.context.close()


@pytest.fixture
def binder(desk) -> Binder:
    return desk.app.state.binder


@pytest.fixture
def unread(binder) -> int:
    """A file that could not be opened: the number of its page."""
    sha256 = binder.archive(b"no picture", ".jpg")
    record = PageRecord("friday.jpg", "/scans/friday.jpg", 1, sha256, Outcome.UNREADABLE, "It is cut short.")
    return binder.record_page(record).number


def type_hours(desk: RunningDesk, page: Page, hours: str) -> None:
    page.goto(f"{desk.address}/settle/doubts?sort=hours")
    expect(page.locator("#title")).to_be_visible()
    page.keyboard.press("t")
    page.keyboard.type(hours)


def look_at_the_whole_page(page: Page, opener: str) -> None:
    page.locator(opener).click()
    expect(page.locator("#large")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#large")).to_be_hidden()


def come_in_again(desk: RunningDesk, page: Page, initials: str) -> None:
    """Come in by a new link, in another tab of the same browser."""
    other = page.context.new_page()
    other.goto(desk.link())
    other.get_by_label("Your initials").fill(initials)
    other.get_by_role("button", name="Begin").click()
    other.wait_for_url(lambda url: "/open/" not in url)
    other.close()


def test_enter_saves_what_was_typed_though_the_entry_was_left_in_between(desk, page, binder):
    type_hours(desk, page, "4512.5")
    look_at_the_whole_page(page, "#page")
    page.keyboard.press("Enter")
    expect(page.locator("#news")).to_contain_text("4512.5")
    type_hours(desk, page, "4520.5")
    page.keyboard.press("Escape")
    page.keyboard.press("Enter")
    expect(page.locator("#news")).to_contain_text("4520.5")
    assert [(d.ref, d.new_value) for d in binder.decisions()] == [("1.hours", "4512.5"), ("2.hours", "4520.5")]


def test_a_number_is_typed_on_after_a_look_at_the_page_and_no_digit_decides(desk, page, binder):
    type_hours(desk, page, "45")
    look_at_the_whole_page(page, "#whole")
    expect(page.locator("#typed")).to_be_focused()
    page.keyboard.type("12.5")
    expect(page.locator("#typed")).to_have_value("4512.5")
    page.keyboard.press("Escape")
    for key in "1blvz":
        page.keyboard.press(key)
        expect(page.locator("#news")).to_contain_text("“4512.5” is typed")
        expect(page.locator("#question")).to_be_hidden()
    assert binder.decisions() == []
    expect(page.locator(".doubt")).to_have_attribute("data-ref", "1.hours")


def test_that_is_right_asks_when_something_else_is_typed(desk, page, binder):
    type_hours(desk, page, "4512.5")
    page.locator("#accept").click()
    expect(page.locator("#asked")).to_contain_text("You have typed “4512.5”")
    page.keyboard.press("1")
    page.keyboard.press("Escape")
    expect(page.locator("#typed")).to_have_value("4512.5")
    page.locator("#blank").click()
    expect(page.locator("#asked")).to_contain_text("You have typed “4512.5”")
    assert binder.decisions() == []
    page.keyboard.press("Enter")
    expect(page.locator("#news")).to_contain_text("4512.5")
    assert [d.new_value for d in binder.decisions()] == ["4512.5"]


def begin_entry(desk: RunningDesk, page: Page, number: int) -> None:
    page.goto(f"{desk.address}/sheets/{number}/enter?form=site-machine~1")
    page.get_by_label("Unit", exact=True).fill(UNIT)
    page.get_by_label("Date", exact=True).fill("2026-11-20")


def put_on_record(page: Page) -> None:
    page.get_by_role("button", name="Put it on record").click()


def test_a_sheet_entered_by_hand_is_kept_while_its_person_signs_in_again(desk, page, binder, unread):
    begin_entry(desk, page, unread)
    desk.app.state.sessions.end_all()
    put_on_record(page)
    expect(page.locator("#entry-asks")).to_contain_text("You are signed out, and this was not saved.")
    link = page.get_by_role("link", name="Sign in in a new tab")
    assert (link.get_attribute("href"), link.get_attribute("target")) == ("/sign-in", "_blank")
    come_in_again(desk, page, "KL")
    put_on_record(page)
    expect(page.locator("#entry-asks")).to_contain_text("KL is signed in here by now, and this page is AB's")
    assert binder.page_numbered(unread).record.outcome is Outcome.UNREADABLE
    come_in_again(desk, page, "AB")
    put_on_record(page)
    expect(page.locator("#entry-asks")).to_contain_text("items have no answer")
    put_on_record(page)
    expect(page.get_by_role("heading", name=f"{UNIT}, 2026-11-20")).to_be_visible()
    assert binder.page_numbered(unread).record.unit == UNIT


def test_nobody_leaves_a_half_entered_sheet_unasked(desk, page, unread):
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    begin_entry(desk, page, unread)
    for leave in (
        page.get_by_role("button", name="Take another"),
        page.get_by_role("link", name="Leave without saving"),
        page.get_by_role("link", name="Sheets", exact=True),
    ):
        before = len(asked)
        leave.click(no_wait_after=True)
        page.wait_for_timeout(100)
        assert asked[before:] == ["beforeunload"]
        assert page.get_by_label("Unit", exact=True).input_value() == UNIT


def test_a_key_held_down_answers_one_item(desk, page, unread):
    begin_entry(desk, page, unread)
    page.locator('fieldset[data-field^="item."] input').first.focus()
    for _ in range(4):
        page.keyboard.down("o")
    page.keyboard.up("o")
    expect(page.locator('fieldset[data-field^="item."] input[value=ok]:checked')).to_have_count(1)


def test_the_closing_of_a_defect_keeps_what_was_filled_in_whatever_goes_wrong(desk, page, binder):
    page.goto(f"{desk.address}/defects/{DEFECT}")
    page.get_by_label("repaired", exact=True).check()
    page.get_by_label("On which day").fill("2026-11-12")
    page.get_by_label("By whom").fill("Otis Granger")
    page.get_by_label("On what paper").fill("   ")
    close, said = page.get_by_role("button", name="Close this defect"), page.locator("#closing-said")
    close.click()
    expect(said).to_contain_text("name the competent person, and the paper")
    page.get_by_label("On what paper").fill("work order 4711")
    desk.app.state.sessions.end_all()
    close.click()
    expect(said).to_contain_text("You are signed out, and this was not saved.")
    expect(page.get_by_role("link", name="Sign in in a new tab")).to_be_visible()
    assert page.get_by_label("By whom").input_value() == "Otis Granger"
    assert binder.closings() == []
    come_in_again(desk, page, "AB")
    close.click()
    expect(page.locator("main")).to_contain_text("Repaired on 2026-11-12 by Otis Granger, work order 4711")
    assert [(c.closed_by, c.initials) for c in binder.closings()] == [("Otis Granger", "AB")]
