"""Looking sheets up at the desk, in a real browser: found, seen beside their ink, corrected, with their past."""

from __future__ import annotations

import re
import time

import pytest
from desk_binder import NASTY, UNIT
from desk_browser import at_the_desk
from desk_sheet import box_of, line, seen_of_page, sent
from playwright.sync_api import Page, expect

from scanform.desk.access import Role


@pytest.fixture
def page(desk, browser) -> Page:
    opened = at_the_desk(browser, desk)
    yield opened
    opened.context.close()


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


def test_words_from_paper_stay_words(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    expect(line(page, "defect.1").locator(".line-words")).to_have_text(NASTY)
    line(page, "defect.1").locator(".line-button").click()
    line(page, "defect.1").get_by_role("button", name="It is right as it stands").click()
    expect(line(page, "defect.1").locator(".history li")).to_have_count(2)
    expect(line(page, "defect.1").locator(".history li").first).to_contain_text(NASTY)
    expect(page).to_have_title(re.compile("^WL07, 2026-11-09"))


def test_a_void_sheet_says_who_voided_it_and_why_and_counts_again_when_that_is_taken_back(desk, page):
    page.goto(f"{desk.address}/sheets/1")
    page.locator(".sheet-void summary").click()
    page.get_by_label("What is wrong with it").fill("filled in for another loader")
    page.get_by_role("button", name="It is void").click()
    expect(page.get_by_role("heading", name="Sheet 1: void")).to_be_visible()
    expect(page.get_by_text("void: filled in for another loader (AB)")).to_be_visible()
    expect(page.get_by_role("link", name="Enter it by hand")).to_have_count(0)
    page.goto(f"{desk.address}/sheets")
    expect(page.locator(".found tbody tr")).to_have_count(3)
    page.goto(f"{desk.address}/sheets/1")
    page.get_by_role("button", name="Let it count again").click()
    page.get_by_role("button", name="Press once more: let it count again").click()
    expect(line(page, "hours")).to_be_visible()
    assert desk.app.state.binder.verify().sound


def test_no_press_is_lost_though_a_page_s_script_comes_late(desk, page):
    def late(route):
        time.sleep(1.0)
        route.continue_()

    page.route("**/static/sheet.js", late)
    page.goto(f"{desk.address}/sheets/1", wait_until="commit")
    line(page, "hours").locator(".line-button").click()
    expect(line(page, "hours").locator(".line-open")).to_be_visible()


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
