"""How a page was captured, as its pixels show it: the scan grade that calibration goes by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from scanform.form import Layout, Paper
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, PageQualities, ScanGrade, locate, page_qualities, scan_grade
from scanform.read import Instruments, read_sheet
from scanform.simulate import Grade, scan

GOOD = PageQualities(0.99, 11.8, 1.0, 0.003, 0.01, 0.21, 220.0)


@pytest.fixture
def scanned(
    known: KnownLayouts, blank_sheet: Callable[[str, Paper], np.ndarray]
) -> Callable[[Grade, int], LocatedSheet]:
    def made(grade: Grade, seed: int) -> LocatedSheet:
        captured = scan(blank_sheet("site-machine", Paper.A4), grade, np.random.default_rng([5_900_500, seed]))
        found = locate(Page("page", 1, "", captured.pixels), known)
        assert isinstance(found, LocatedSheet)
        return found

    return made


@pytest.mark.parametrize("grade", list(Grade))
def test_a_page_shows_how_it_was_captured(scanned: Callable[[Grade, int], LocatedSheet], grade: Grade) -> None:
    shown = [scan_grade(page_qualities(scanned(grade, n))).value for n in range(4)]
    assert shown == [grade.value] * 4


def test_a_turned_page_shows_the_same(scanned: Callable[[Grade, int], LocatedSheet], known: KnownLayouts) -> None:
    # ITU-T T.4: 204 dots an inch along a line, 196 lines an inch (7.7 a mm); a viewer's quarter turn swaps the two.
    sheet = scanned(Grade.FAX, 1)
    turned = locate(Page("page", 1, "", np.ascontiguousarray(np.rot90(sheet.page.pixels))), known)
    assert isinstance(turned, LocatedSheet)
    assert page_qualities(sheet).across_over_down == pytest.approx(204 / 196, abs=0.012)
    assert page_qualities(turned).across_over_down == pytest.approx(196 / 204, abs=0.012)
    assert scan_grade(page_qualities(turned)) is ScanGrade.FAX


def test_resolution_is_that_of_the_file_even_where_the_page_was_reduced(
    scanned: Callable[[Grade, int], LocatedSheet], known: KnownLayouts
) -> None:
    sheet = scanned(Grade.OFFICE, 0)
    large = cv2.resize(sheet.page.pixels, None, fx=2, fy=2, interpolation=cv2.INTER_LINEAR)
    found = locate(Page("page", 1, "", large), known)
    assert isinstance(found, LocatedSheet)
    assert found.raster_scale < 1
    assert page_qualities(found).px_per_mm == pytest.approx(600 / 25.4, rel=0.02)


def test_what_nothing_was_fitted_on_is_called_other() -> None:
    assert scan_grade(GOOD) is ScanGrade.OFFICE
    for beyond in ({"px_per_mm": 4.0}, {"edge_mm": 0.9}, {"contrast": 40.0}):
        assert scan_grade(replace(GOOD, **beyond)) is ScanGrade.OTHER


def test_every_reading_carries_the_grade(scanned: Callable[[Grade, int], LocatedSheet]) -> None:
    readings = read_sheet(scanned(Grade.BITONAL, 0), Instruments())
    assert {reading.scan_grade for reading in readings} == {"bitonal"}


def test_layouts_of_every_template_carry_the_marks_that_are_measured(
    layout_of: Callable[[str, Paper], Layout],
) -> None:
    for name in ("site-machine", "road-truck", "forklift"):
        assert len(layout_of(name, Paper.LETTER).marks) >= 4
