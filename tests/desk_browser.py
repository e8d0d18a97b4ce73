"""A desk that runs, and a real Chromium before it."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from scanform.desk import create_app, listening

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
OFFICE_SCREEN = {"width": 1280, "height": 720}
MOST_WAIT_MS = 20_000


@dataclass(frozen=True)
class RunningDesk:
    """A desk in a thread of this process. ``address`` is like ``http://127.0.0.1:41234``.

    ``problems``: scripts of its pages that failed, and what a page tried that its security policy forbids.
    """

    app: FastAPI
    address: str
    folder: Path
    problems: list[str] = field(default_factory=list)

    def link(self) -> str:
        """A fresh one-time link."""
        return f"{self.address}/open/{self.app.state.sessions.new_link()}"


@contextmanager
def running_desk(folder: Path, **options: Any) -> Iterator[RunningDesk]:
    """Serve the binder in ``folder`` until the block ends."""
    app = create_app(folder, **options)
    ear = listening("127.0.0.1", 0)
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [ear]})
    thread.start()
    try:
        while not server.started:
            thread.join(0.02)
            assert thread.is_alive(), "the desk did not start"
        desk = RunningDesk(app, f"http://127.0.0.1:{ear.getsockname()[1]}", folder)
        yield desk
    finally:
        server.should_exit = True
        thread.join()
    assert desk.problems == []


@contextmanager
def chromium() -> Iterator[Browser]:
    """Debian's Chromium, without a window; skips where it is not installed, except where tests have to pass."""
    if shutil.which(CHROMIUM) is None:
        if os.environ.get("CI"):
            pytest.fail(f"{CHROMIUM} is not installed; sh .ci/system-packages installs it.")
        pytest.skip(f"{CHROMIUM} is not installed, so no page can be tried; sh .ci/system-packages installs it.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


def at_the_desk(browser: Browser, desk: RunningDesk, initials: str = "AB", **options: Any) -> Page:
    """A fresh browser window in which somebody has come in by the link. A script that fails fails the test."""
    context: BrowserContext = browser.new_context(viewport=OFFICE_SCREEN, **options)
    context.set_default_timeout(MOST_WAIT_MS)
    page = context.new_page()
    page.on("pageerror", lambda problem: desk.problems.append(str(problem)))
    page.on("console", lambda said: desk.problems.append(said.text) if "Security Policy" in said.text else None)
    page.goto(desk.link())
    page.get_by_label("Your initials").fill(initials)
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url(lambda url: "/open/" not in url)
    return page
