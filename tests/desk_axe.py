"""Whether a page can be used by everybody: axe-core, run in the browser on the page as it stands."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

_WORST = ("serious", "critical")


def serious_faults(page: Page) -> list[str]:
    """What axe-core finds serious or critical, each with the first element it is about."""
    found = Axe().run(page).response["violations"]
    return [f"{f['id']}: {f['nodes'][0]['html'][:160]}" for f in found if f["impact"] in _WORST]
