"""The desk's pages for everybody: axe-core finds no serious fault, on the office screen and on a tablet."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from desk_browser import at_the_desk
from playwright.sync_api import expect

TABLET = {"width": 820, "height": 1180}
PAGES = ("/settle", "/settle/doubts", "/settle/doubts?sort=hours", "/sign-in", "/nowhere")


def faults(page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{v['id']}: {v['nodes'][0]['html']}" for v in found if v["impact"] in ("serious", "critical")]


@pytest.mark.parametrize("screen", [None, TABLET], ids=["office", "tablet"])
def test_no_page_has_a_serious_fault(desk, browser, screen):
    page = at_the_desk(browser, desk, bypass_csp=True)  # axe-core is put into the page as a script
    if screen:
        page.set_viewport_size(screen)
    for path in PAGES:
        page.goto(desk.address + path)
        if "doubts" in path:
            expect(page.locator(".ink img")).to_be_visible()
        assert faults(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{path} is wider than the screen"


def test_on_the_office_screen_a_doubt_and_all_its_keys_are_seen_at_once(desk, browser):
    page = at_the_desk(browser, desk)
    for sort in ("hours", "date", "defect.%23", "signature"):
        page.goto(f"{desk.address}/settle/doubts?sort={sort}")
        expect(page.locator(".ink img")).to_be_visible()
        for part in ("#title", ".ink", "#why", "#reading-row", ".tools", ".place .page"):
            box = page.locator(part).bounding_box()
            assert box["y"] >= 0, (sort, part)
            assert box["y"] + box["height"] <= 720, (sort, part)
