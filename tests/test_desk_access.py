"""Who may come to the desk, and what becomes of those who may not."""

from __future__ import annotations

from desk_browser import at_the_desk


def test_the_link_opens_the_desk_once(desk, browser):
    page = at_the_desk(browser, desk, "jh")
    assert page.locator(".who").inner_text().startswith("JH")
    link = desk.link()
    page.goto(link)
    page.get_by_label("Your initials").fill("AB")
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url(lambda url: "/open/" not in url)
    page.goto(link)
    assert "has been used" in page.locator(".said").inner_text()
