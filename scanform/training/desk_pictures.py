"""The README's pictures of the desk, taken in a real browser.

    scanform demo --out demo_out
    python -m scanform.training.desk_pictures --binder demo_out/binder --out fixtures/pictures

The desk works on a copy of the binder. It needs the ``dev`` extra and Debian's Chromium.
"""

from __future__ import annotations

import argparse
import io
import shutil
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, ViewportSize, sync_playwright

from scanform.binder import Binder, open_binder
from scanform.settle import State
from scanform.training.desk_bench import CHROMIUM, FLAGS, desk_process

__all__ = ["take_pictures"]

_COLOURS = 256  # of a picture's palette: a quarter of the size, and nothing that an eye finds
_SCREEN = ViewportSize(width=1280, height=720)
_WHO = "JH"


def take_pictures(page: Page, binder: Binder, link: str, out: Path) -> None:
    """Write desk.png, desk-sheet.png, desk-batch.png and desk-defects.png into ``out``; ``link`` lets in once."""
    page.goto(link)
    desk = link.partition("/open/")[0]

    page.goto(f"{desk}/settle/doubts?sort=hours")
    page.wait_for_selector(".ink img")
    while page.locator("#others button").count() < 2:
        ref = page.locator(".doubt").get_attribute("data-ref")
        page.keyboard.press("l")
        page.wait_for_selector(f'.doubt:not([data-ref="{ref}"])')
    _keep(page, out / "desk.png")

    number, field_id = _both_marked(binder)
    page.goto(f"{desk}/sheets/{number}")
    page.wait_for_load_state("networkidle")
    page.locator(f'.line[data-field="{field_id}"] .line-button').click()
    page.wait_for_load_state("networkidle")
    _keep(page, out / "desk-sheet.png")

    page.goto(f"{desk}/batches/1")
    _keep(page, out / "desk-batch.png")

    page.goto(f"{desk}/defects")
    page.wait_for_load_state("networkidle")
    _keep(page, out / "desk-defects.png", whole=True)


def _both_marked(binder: Binder) -> tuple[int, str]:
    """A sheet and a field of it with two answers, one of which is to be looked up."""
    return next(
        (page.number, field.id)
        for page in binder.pages()
        for field in page.record.fields
        if field.state is State.DOUBTFUL and any("both marked" in reason for reason in field.reasons)
    )


def _keep(page: Page, path: Path, *, whole: bool = False) -> None:
    page.evaluate("() => Promise.all([...document.images].map((image) => image.decode().catch(() => {})))")
    with Image.open(io.BytesIO(page.screenshot(full_page=whole))) as shot:
        shot.convert("RGB").quantize(_COLOURS).save(path, optimize=True)
    print(path)


def main() -> None:
    """Take them from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binder", type=Path, required=True, help="the demo's binder; it is left as it is")
    parser.add_argument("--out", type=Path, required=True, help="folder for the pictures")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "quarry"
        shutil.copytree(given.binder, folder)
        with open_binder(folder) as binder, desk_process(folder, _WHO) as link, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            take_pictures(browser.new_page(viewport=_SCREEN), binder, link, given.out)
            browser.close()


if __name__ == "__main__":
    main()
