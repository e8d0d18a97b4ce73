"""Finding the sheet on a page: every scanner, every way up, damaged and covered."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from located_pages import (
    BlankSheet,
    LayoutOf,
    found,
    not_found,
    position_errors_mm,
    straight,
)

from scanform.form import Paper
from scanform.locate import KnownLayouts
from scanform.simulate import Grade, scan


@pytest.mark.parametrize("seed", [11, 12])
@pytest.mark.parametrize("grade", list(Grade))
def test_a_sheet_is_found_on_every_grade_of_scan(
    grade: Grade, seed: int, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    name, paper = [("site-machine", Paper.A4), ("road-truck", Paper.LETTER)][seed % 2]
    result = scan(blank_sheet(name, paper), grade, np.random.default_rng(seed))
    sheet = found(result.pixels, known)
    assert (sheet.layout.template.name, sheet.layout.paper) == (name, paper)
    assert sheet.marks_found >= 3
    errors = position_errors_mm(sheet, result.page_mm_to_px, lost=True)
    assert np.percentile(errors, 95) < 0.3


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_a_sheet_is_found_whichever_way_up_it_was_fed(turns: int, known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    result = scan(blank_sheet("forklift", Paper.LETTER), Grade.OFFICE, np.random.default_rng(21), turns)
    sheet = found(result.pixels, known)
    assert sheet.layout.template.name == "forklift"
    assert sheet.code is not None
    assert np.percentile(position_errors_mm(sheet, result.page_mm_to_px), 95) < 0.3


def test_on_a_page_upside_down_corners_run_clockwise_from_the_fields_own_top_left(
    known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    page = blank_sheet("site-machine", Paper.A4)
    upright = found(page, known)
    turned = found(np.rot90(page, 2), known)
    height, width = page.shape
    for field_id in ("unit", "signature", "defect.3"):
        box = layout_of("site-machine", Paper.A4).field(field_id).box_mm
        here, there = np.array(upright.polygon_px(box)), np.array(turned.polygon_px(box))
        assert here[0][0] < here[1][0]  # left to right along the upper side
        assert here[0][1] < here[3][1]  # and down its left side
        assert there[0][0] > there[1][0]
        assert there[0][1] > there[3][1]
        assert np.abs(np.array([width - 1, height - 1]) - there - here).max() < 1.5
        for polygon in (here, there):  # y runs down: a positive area is clockwise to the eye
            x, y = polygon.T
            assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0


@pytest.mark.parametrize("scale", [2.0, 0.5])
def test_600_dpi_and_150_dpi_work_and_corners_are_told_in_the_pages_own_pixels(
    scale: float, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    page = cv2.resize(blank_sheet("road-truck", Paper.A4), None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    sheet = found(page, known)
    assert max(sheet.raster.shape) <= 4000
    errors = position_errors_mm(sheet, lambda mm: (straight(mm) + 0.5) * scale - 0.5)
    assert np.percentile(errors, 95) < 0.3


def test_a_sheet_in_the_middle_of_a_larger_scan_is_found(known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    page = cv2.copyMakeBorder(blank_sheet("forklift", Paper.A4), 300, 900, 700, 200, cv2.BORDER_CONSTANT, value=40)
    sheet = found(page, known)
    assert np.percentile(position_errors_mm(sheet, lambda mm: straight(mm) + [700, 300]), 95) < 0.3


def test_what_is_known_of_a_located_sheet(known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    sheet = found(blank_sheet("site-machine", Paper.A4), known)
    assert sheet.code is not None
    assert (sheet.code.unit, str(sheet.code.on)) == ("WL-014", "2026-11-23")
    assert sheet.marks_found == 8
    assert sheet.artwork_found > 0.95
    assert sheet.residual_mm < 0.1
    assert sheet.warnings == ()
    assert sheet.paper_grey > 250
    assert sheet.print_grey < 10
    patches = sheet.patches([sheet.layout.field("item.horn").answers[0].box_mm], 1.0, 8.0)
    assert patches.shape == (1, 56, 56)
    assert patches[0, 12:-12, 12:-12].min() > 240  # nothing in the box
    assert patches[0, 28, 6:10].min() < 140  # its left border, 1 mm in


def test_a_page_folded_over_is_not_read_as_if_it_were_whole(known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    page = blank_sheet("site-machine", Paper.A4).copy()
    page[850:3100, 250:2300] = 245  # a second sheet of paper lies on the first; the marks look out on all sides
    result = not_found(page, known)
    assert result.outcome == "unreadable"
    assert "flatten it" in result.reason


def test_ink_all_over_the_sheet_does_not_move_its_fields(known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    page = blank_sheet("site-machine", Paper.A4).copy()
    rng = np.random.default_rng(2)
    for _ in range(60):
        a, b = rng.uniform([250, 400], [2300, 3000], (2, 2)).astype(int)
        cv2.line(page, a.tolist(), (a + (b - a) // 6).tolist(), 20, 6, cv2.LINE_AA)
    assert np.percentile(position_errors_mm(found(page, known), straight), 95) < 0.3
