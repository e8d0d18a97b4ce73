"""What many tests share: the built-in sheets laid out, and blank ones as a printer would hand them over."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np
import pytest
from commands import Run, runner
from desk_binder import desk_binder
from desk_browser import RunningDesk, chromium, running_desk
from made_quarter import Quarter, close_by_command, made_quarter, record_quarter
from playwright.sync_api import Browser

from scanform.binder import Binder, open_binder
from scanform.form import Layout, Paper, Template, built_in_templates, lay_out
from scanform.locate import KnownLayouts
from scanform.press import pad_sheets, parse_week, sheets_pdf
from scanform.simulate import render_pdf

cv2.setNumThreads(1)

SCAN_DPI = 300.0
PAD = "F7K2QD"


@pytest.fixture(scope="session")
def templates() -> tuple[Template, ...]:
    """The templates that come with scanform."""
    return built_in_templates()


@pytest.fixture(scope="session")
def known(templates: tuple[Template, ...]) -> KnownLayouts:
    """All built-in sheets on both papers, ready to be recognised."""
    return KnownLayouts(templates)


@pytest.fixture(scope="session")
def layout_of() -> Callable[[str, Paper], Layout]:
    """A built-in template, by name, on a paper size."""
    by_name = {template.name: template for template in built_in_templates()}
    return lambda name, paper: lay_out(by_name[name], paper)


@pytest.fixture(scope="session")
def blank_sheet(layout_of: Callable[[str, Paper], Layout]) -> Callable[[str, Paper], np.ndarray]:
    """One unused sheet of a pad for unit WL-014 as uint8 (height, width) at 300 dpi; copy it before writing on it."""

    @lru_cache(maxsize=6)
    def rendered(name: str, paper: Paper) -> np.ndarray:
        layout = layout_of(name, paper)
        monday = parse_week("2026-W48")[:1]
        sheets = pad_sheets(layout.template, paper.value, PAD, unit="WL-014", days=monday, copies=1)
        return render_pdf(sheets_pdf(layout, sheets), SCAN_DPI)[0]

    return rendered


@pytest.fixture(scope="session")
def quarter(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Binder, Quarter]]:
    """A made quarter on record, shuffled as stacks are, with closings by command; the binder and the truth."""
    truth = made_quarter(["WL03", "WL07", "RT11", "FL02"], days=56, seed=8_000_100)
    with open_binder(tmp_path_factory.mktemp("quarter") / "binder", create=True) as binder:
        record_quarter(binder, truth.sheets)
        close_by_command(binder, truth.defects, seed=8_000_101)
        yield binder, truth


@pytest.fixture(scope="session")
def one_chromium() -> Iterator[Browser]:
    """One Chromium for the whole test run."""
    with chromium() as opened:
        yield opened


@pytest.fixture
def browser(one_chromium: Browser) -> Iterator[Browser]:
    """The Chromium of the test run; windows that a test leaves open are closed, so that none works on behind it."""
    yield one_chromium
    for context in one_chromium.contexts:
        context.close()


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command within this process."""
    return runner(monkeypatch, capsys)


@pytest.fixture
def quarry(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fresh binder of filled sheets with known doubts; the sheets are made once for all processes of a test run."""
    base = tmp_path_factory.getbasetemp()
    of_the_run = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    return desk_binder(tmp_path / "quarry", of_the_run / "desk")


@pytest.fixture
def desk(quarry: Path) -> Iterator[RunningDesk]:
    """A desk over a fresh binder with known doubts."""
    with running_desk(quarry) as running:
        yield running
