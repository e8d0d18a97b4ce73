"""The desk's pages for everybody: axe-core finds no serious fault, on the office screen and on a tablet."""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk_axe import serious_faults
from desk_browser import at_the_desk
from playwright.sync_api import expect
from pypdfium2 import PdfDocument

from scanform.binder import PageRecord
from scanform.settle import Outcome

TABLET = {"width": 820, "height": 1180}
TELEPHONE = {"width": 360, "height": 740}
PAGES = ("/settle", "/settle/doubts", "/settle/doubts?sort=hours", "/sign-in", "/nowhere")


@pytest.mark.parametrize("screen", [None, TABLET], ids=["office", "tablet"])
def test_no_page_has_a_serious_fault(desk, browser, screen):
    page = at_the_desk(browser, desk)
    if screen:
        page.set_viewport_size(screen)
    for path in PAGES:
        page.goto(desk.address + path)
        if "doubts" in path:
            expect(page.locator(".ink img")).to_be_visible()
        assert serious_faults(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{path} is wider than the screen"


def test_on_the_office_screen_a_doubt_and_all_its_keys_are_seen_at_once(desk, browser):
    page = at_the_desk(browser, desk)
    for sort in ("hours", "date", "defect.%23", "signature"):
        page.goto(f"{desk.address}/settle/doubts?sort={sort}")
        expect(page.locator(".ink img")).to_be_visible()
        pages = page.get_by_role("navigation", name="The desk's pages").get_by_role("link").all()
        assert len({link.bounding_box()["y"] for link in pages}) == 1, "one row of pages"
        for part in ("#title", ".ink", "#why", "#reading-row", ".tools", ".place .page"):
            box = page.locator(part).bounding_box()
            assert box["y"] >= 0, (sort, part)
            assert box["y"] + box["height"] <= 720, (sort, part)


def test_on_a_telephone_nothing_scrolls_sideways_and_a_reading_stays_in_one_piece(desk, browser):
    page = at_the_desk(browser, desk)
    page.set_viewport_size(TELEPHONE)
    for path in ("/settle", "/letter", "/missing", "/defects", "/settle/doubts?sort=defect.%23"):
        page.goto(desk.address + path)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
    page.goto(f"{desk.address}/settle/doubts?sort=unit")
    expect(page.locator("#reading")).to_have_text("WL03")
    assert page.locator("#reading").evaluate("reading => reading.getClientRects().length") == 1
    unbroken = (
        "one => { const r = document.createRange(); r.selectNodeContents(one); return r.getClientRects().length; }"
    )
    assert page.locator("#reading").evaluate(unbroken) == 1


def rows_printed(page, address: str) -> list[str]:
    """The text of each sheet of paper that a page prints on."""
    page.goto(address)
    printed = PdfDocument(page.pdf(format="A4"))
    return [sheet.get_textpage().get_text_range() for sheet in printed]


def test_a_long_list_prints_from_its_first_sheet_of_paper_on(desk, browser):
    binder = desk.app.state.binder
    sha256 = binder.page_numbered(1).record.sha256
    for number in range(2, 62):
        binder.record_page(PageRecord("backs.pdf", "/scans/backs.pdf", number, sha256, Outcome.BLANK))
    page = at_the_desk(browser, desk)
    first, *more = rows_printed(page, f"{desk.address}/sheets?outcome=blank")
    assert first.count("of backs.pdf") > 20, "the list does not wait for a sheet of its own"
    assert sum(text.count("of backs.pdf") for text in (first, *more)) == 50
    assert "Batches" not in first, "what can only be pressed is not printed"
    assert "Start over" not in first
    page.context.close()


def test_a_sheet_prints_with_its_picture_large_its_values_and_what_is_critical_in_black(desk, browser):
    page = at_the_desk(browser, desk)
    texts = rows_printed(page, f"{desk.address}/sheets/1")
    whole = "\n".join(texts)
    for words in ("WL07, 2026-11-09", "3 doubtful", "4510.5", "the ink may also say '4570.5'", "stays parked until"):
        assert words in whole, words
    assert "Take my last back" not in whole
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    picture = page.locator("svg.picture").evaluate("svg => svg.getAttribute('viewBox').split(' ').map(Number)")
    assert picture[:2] == [0, 0]
    assert picture[2] < picture[3], "the page alone, upright, and nothing beside it"
    badge = page.locator(".safety").first.evaluate(
        "b => [getComputedStyle(b).color, getComputedStyle(b).borderTopStyle]"
    )
    assert badge == ["rgb(0, 0, 0)", "solid"]
    page.context.close()


def test_without_any_colour_each_state_has_its_own_sign_word_and_line(desk, browser):
    binder = desk.app.state.binder
    binder.confirm("1.operator", "Dora Pell", "KL")
    third = binder.page_numbered(3).record
    sha256 = binder.archive(binder.archived(third.sha256).read_bytes() + b"again", ".png")
    binder.set_spot_check_share(0.5, "AB")
    checked = binder.record_page(replace(third, sha256=sha256, source_path="/scans/again.png", serial=None)).number
    binder.confirm(f"{checked}.told", "Dora Pell", "KL")
    page = at_the_desk(browser, desk)
    page.goto(f"{desk.address}/sheets/{checked}")
    states = ("accepted", "doubtful", "confirmed", "check")
    signs = {s: page.locator(f".line-{s} .line-sign").first.inner_text() for s in states}
    words = {s: page.locator(f".line-{s} .line-state").first.inner_text() for s in states}
    line_of = "o => [getComputedStyle(o).strokeDasharray, getComputedStyle(o).strokeWidth].join()"
    lines = {s: page.locator(f".outline-{s}").first.evaluate(line_of) for s in states}
    for told in (signs, words, lines):
        assert len(set(told.values())) == len(states), told
    legend = page.locator(".counts").inner_text()
    assert all(word in legend for word in words.values()), "each sign stands beside its word"
    page.context.close()
