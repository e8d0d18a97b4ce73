"""Looking at the page of a sheet in a real browser: its lines, and what its picture shows."""

from __future__ import annotations

from playwright.sync_api import Page


def line(page: Page, field_id: str):
    return page.locator(f'.line[data-field="{field_id}"]')


def sent(page: Page, path: str, value: str) -> int:
    """The status that the desk answers with when a page says that a field is ``value``."""
    return page.evaluate(
        """async ([path, value]) => (await fetch(path, {
            method: "POST", body: JSON.stringify({value, seen: 0}),
            headers: {"Content-Type": "application/json", "X-Desk-Token": document.body.dataset.token},
        })).status""",
        [path, value],
    )


def seen_of_page(page: Page) -> list[float]:
    """What the picture shows of the page: x, y, width, height."""
    return [float(n) for n in page.locator("svg.picture").get_attribute("viewBox").split()]


def box_of(page: Page, field_id: str) -> list[float]:
    return [float(n) for n in page.locator(f'polygon[data-field="{field_id}"]').get_attribute("data-box").split()]
