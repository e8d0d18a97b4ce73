"""The code torn off or covered: the printed serial line says which sheet it is, else its print, else nobody guesses."""

from __future__ import annotations

from datetime import date

import cv2
import numpy as np
import pytest
from located_pages import PX_PER_MM, BlankSheet, LayoutOf, found, not_found, painted_white

from scanform.form import Box, Paper
from scanform.locate import KnownLayouts
from scanform.simulate import Grade, scan


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize(("name", "grade"), [("forklift", Grade.OFFICE), ("quarry-weekly", Grade.BITONAL)])
def test_a_sheet_whose_code_is_torn_off_is_known_by_its_serial_line(
    name: str, grade: Grade, paper: Paper, known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    torn = painted_white(blank_sheet(name, paper), layout_of(name, paper).code_box_mm.grown(2))
    sheet = found(scan(torn, grade, np.random.default_rng(8_420_000)).pixels, known)
    assert (sheet.layout.template.name, sheet.layout.paper) == (name, paper)
    assert sheet.code is not None
    assert (sheet.code.unit, sheet.code.on, sheet.code.serial) == ("WL-014", date(2026, 11, 23), "F7K2QD0101")
    assert "known by its printed serial line" in sheet.warnings[0]


def test_a_torn_corner_with_the_code_in_it_still_locates(known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    page = blank_sheet("road-truck", Paper.A4).copy()
    width = page.shape[1]
    cv2.fillPoly(page, [np.array([[width, 0], [width - 800, 0], [width, 900]])], 30)
    sheet = found(page, known)
    assert sheet.layout.template.name == "road-truck"
    assert sheet.marks_found == 7
    assert sheet.code is not None
    assert sheet.code.serial == "F7K2QD0101"


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("name", ["forklift", "road-truck", "site-machine"])
def test_with_code_and_serial_gone_a_sheet_is_known_by_its_printed_boxes(
    name: str, paper: Paper, known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    layout = layout_of(name, paper)
    torn = painted_white(blank_sheet(name, paper), layout.code_box_mm.grown(2), layout.serial_box_mm)
    sheet = found(scan(torn, Grade.OFFICE, np.random.default_rng(7)).pixels, known)
    assert (sheet.layout.template.name, sheet.layout.paper) == (name, paper)
    assert sheet.code is None
    assert "known by its printed boxes" in sheet.warnings[0]


@pytest.mark.parametrize("name", ["forklift", "site-machine"])
def test_two_versions_with_the_same_boxes_are_told_apart_by_the_serial_line_or_not_at_all(
    name: str, templates, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    layout = layout_of(name, Paper.A4)
    both = KnownLayouts([*templates, layout.template.model_copy(update={"version": 2})])
    torn = painted_white(blank_sheet(name, Paper.A4), layout.code_box_mm.grown(2))
    assert found(torn, both).layout.template.version == 1
    result = not_found(painted_white(torn, layout.serial_box_mm), both)
    assert result.outcome == "unknown-form"
    assert "not clearly those of one kind" in result.reason


def test_a_serial_line_of_another_sheet_than_the_boxes_is_not_believed(
    known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    layout = layout_of("site-machine", Paper.A4)
    page = painted_white(blank_sheet("site-machine", Paper.A4), layout.code_box_mm.grown(2))
    rows, columns = pixels_of(layout.serial_box_mm)
    page[rows, columns] = blank_sheet("forklift", Paper.A4)[rows, columns]  # the foot of one sheet taped to another
    result = not_found(page, known)
    assert result.outcome == "unknown-form"
    assert "serial line names 'forklift'" in result.reason


def test_a_serial_line_with_a_character_missing_is_not_believed(
    known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    layout = layout_of("site-machine", Paper.A4)
    x, y, w, h = layout.serial_box_mm
    scratch = Box(x + 0.62 * w, y, 3.0, h)  # somewhere in date or serial
    sheet = found(painted_white(blank_sheet("site-machine", Paper.A4), layout.code_box_mm.grown(2), scratch), known)
    assert sheet.code is None
    assert sheet.layout.template.name == "site-machine"


def pixels_of(box: Box) -> tuple[slice, slice]:
    x, y, right, bottom = (round(v * PX_PER_MM) for v in (box.x_mm, box.y_mm, box.right_mm, box.bottom_mm))
    return slice(y, bottom), slice(x, right)
