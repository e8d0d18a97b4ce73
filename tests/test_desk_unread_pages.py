"""Pages that are no sheets on record, at the desk: looked at, entered by hand, and held beside their twin."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from desk_axe import serious_faults
from desk_binder import UNIT
from desk_browser import at_the_desk
from desk_sheet import line, seen_of_page
from playwright.sync_api import Page, expect

from scanform.batch.duplicates import seen_before
from scanform.binder import PageRecord
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


def test_a_sheet_that_no_machine_could_read_is_entered_by_hand_beside_its_picture(desk, page, unread):
    page.goto(f"{desk.address}/batches/1")
    page.get_by_role("link", name="Enter by hand").click()
    page.get_by_label("Which sheet is it?").select_option(label="Daily machine check (site-machine, version 1)")
    page.get_by_role("button", name="Take this one").click()
    page.wait_for_url("**/enter?form=*")
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
