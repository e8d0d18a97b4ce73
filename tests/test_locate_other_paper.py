"""Pages that are no sheet, or none that is known: what becomes of them, and what a person is told."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
import pytest
from located_pages import BlankSheet, LayoutOf, found, not_found, page_of, painted_white, position_errors_mm, straight
from PIL import Image, ImageDraw, ImageFont

from scanform.form import Paper
from scanform.form.typeface import font_file
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.press import pad_sheets, parse_week, sheets_pdf
from scanform.simulate import Grade, render_pdf, scan
from scanform.simulate.copies import pale, shown_through


@pytest.mark.parametrize("grade", [Grade.OFFICE, Grade.WORN, Grade.BITONAL])
def test_a_blank_back_is_blank(grade: Grade, known: KnownLayouts) -> None:
    back = np.full((3508, 2480), 255, np.uint8)
    clean = scan(back, Grade.OFFICE if grade is Grade.WORN else grade, np.random.default_rng(3))
    assert not_found(clean.pixels, known).outcome == "blank"


@pytest.mark.parametrize("level", [0.05, 0.12, 0.25])
def test_a_back_through_which_the_front_shows_is_blank(
    level: float, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    back = shown_through(blank_sheet("site-machine", Paper.A4), 300, level)
    result = not_found(scan(back, Grade.OFFICE, np.random.default_rng(8_430_000)).pixels, known)
    assert result.outcome == "blank"


def test_a_back_with_writing_on_it_is_not_blank_though_the_front_shows_through(
    known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    back = shown_through(blank_sheet("site-machine", Paper.A4), 300, 0.2)
    back = np.minimum(back, letter_page("Seal ordered, comes Thursday", "Leave the mast down"))
    assert not_found(back, known).outcome != "blank"


@pytest.mark.parametrize("level", [0.06, 0.1, 0.15, 0.3])
def test_a_sheet_printed_however_faintly_is_never_blank(
    level: float, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    faint = scan(pale(blank_sheet("site-machine", Paper.A4), level), Grade.OFFICE, np.random.default_rng(8_430_001))
    result = locate(page_of(faint.pixels), known)
    if isinstance(result, LocatedSheet):
        assert np.percentile(position_errors_mm(result, faint.page_mm_to_px), 95) < 0.3
    else:
        assert result.outcome == "unreadable"
        assert "too faintly" in result.reason


def test_a_sheet_filled_in_with_a_pencil_as_faint_as_its_print_is_not_blank(
    known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    page = blank_sheet("site-machine", Paper.A4).copy()
    cv2.putText(page, "brakes pull left", (700, 2400), cv2.FONT_HERSHEY_SIMPLEX, 2.0, 0, 5, cv2.LINE_AA)
    faint = scan(pale(page, 0.1), Grade.OFFICE, np.random.default_rng(8_430_002))
    result = locate(page_of(faint.pixels), known)
    assert isinstance(result, LocatedSheet) or result.outcome == "unreadable"


def test_a_single_word_on_a_page_keeps_it_from_being_blank(known: KnownLayouts) -> None:
    page = letter_page("Spare sheet")
    assert not_found(page, known).outcome == "unknown-form"


@lru_cache(maxsize=4)
def letter_page(*lines: str) -> np.ndarray:
    """A page of ordinary print."""
    image = Image.new("L", (2480, 3508), 250)
    draw = ImageDraw.Draw(image)
    font = ImageFont.truetype(str(font_file(False)), 46)
    for n, line in enumerate(lines):
        draw.text((250, 300 + 70 * n), line, font=font, fill=20)
    return np.array(image)


def test_a_page_of_other_print_is_unknown(known: KnownLayouts) -> None:
    line = "Delivery note: crushed limestone 8/16, 24 tonnes, loaded at the primary, driver to sign."
    result = not_found(letter_page(*[line] * 40), known)
    assert result.outcome == "unknown-form"
    assert "other paper" in result.reason


def test_a_page_with_somebody_elses_code_is_unknown(known: KnownLayouts) -> None:
    page = letter_page("Parts list").copy()
    symbol = cv2.QRCodeEncoder.create().encode("https://parts.example.org/4711")
    symbol = cv2.resize(symbol, None, fx=12, fy=12, interpolation=cv2.INTER_NEAREST)
    page[1000 : 1000 + symbol.shape[0], 1000 : 1000 + symbol.shape[1]] = symbol
    assert not_found(page, known).outcome == "unknown-form"


def test_a_sheet_of_a_template_that_is_not_known_is_named(templates, blank_sheet: BlankSheet) -> None:
    only_forklift = KnownLayouts(t for t in templates if t.name == "forklift")
    result = not_found(blank_sheet("road-truck", Paper.A4), only_forklift)
    assert result.outcome == "unknown-form"
    assert "'road-truck' version 1" in result.reason


def test_a_newer_version_of_a_template_is_not_read_with_the_old_ones_boxes(
    known: KnownLayouts, layout_of: LayoutOf
) -> None:
    template = layout_of("forklift", Paper.A4).template.model_copy(update={"version": 2})
    sheets = pad_sheets(template, "a4", "F7K2QD", unit=None, days=parse_week("2026-W48")[:1], copies=1)
    page = render_pdf(sheets_pdf(layout_of("forklift", Paper.A4), sheets), 200)[0]
    result = not_found(page, known)
    assert result.outcome == "unknown-form"
    assert "'forklift' version 2" in result.reason


def test_without_any_template_every_sheet_is_unknown(blank_sheet: BlankSheet) -> None:
    assert not_found(blank_sheet("forklift", Paper.A4), KnownLayouts(())).outcome == "unknown-form"


@pytest.mark.parametrize("torn", [False, True])
@pytest.mark.parametrize("paper", list(Paper))
def test_letter_and_a4_are_not_taken_for_each_other(
    paper: Paper, torn: bool, known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    page = blank_sheet("site-machine", paper)
    if torn:
        page = painted_white(page, layout_of("site-machine", paper).code_box_mm.grown(2))
    result = scan(page, Grade.PHONE, np.random.default_rng(4))  # a phone does not even know the scale
    assert found(result.pixels, known).layout.paper == paper


@pytest.mark.parametrize("shape", [(1, 1), (1, 6000), (6000, 1), (10, 10), (50, 3000), (3000, 50), (30, 30)])
@pytest.mark.parametrize("content", ["white", "black", "noise"])
def test_a_tiny_picture_gets_an_outcome(shape: tuple[int, int], content: str, known: KnownLayouts) -> None:
    noise = np.random.default_rng(0).integers(0, 256, shape).astype(np.uint8)
    page = {"white": np.full(shape, 255, np.uint8), "black": np.zeros(shape, np.uint8), "noise": noise}[content]
    assert not_found(page, known).outcome in ("blank", "unknown-form", "unreadable")


def test_noise_all_over_is_no_sheet(known: KnownLayouts) -> None:
    page = np.random.default_rng(1).integers(0, 256, (1754, 1240)).astype(np.uint8)
    assert not_found(page, known).outcome == "unknown-form"


def test_a_black_page_is_no_sheet(known: KnownLayouts) -> None:
    assert not_found(np.zeros((3508, 2480), np.uint8), known).outcome in ("blank", "unknown-form")


def test_marks_of_two_sheets_on_one_page_do_not_make_a_map_of_both(
    known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    page = cv2.resize(blank_sheet("site-machine", Paper.A4), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    result = locate(page_of(np.hstack([page, page])), known)
    if isinstance(result, LocatedSheet):
        errors = [
            np.percentile(position_errors_mm(result, lambda mm, at=at: (straight(mm) + 0.5) * 0.5 - 0.5 + [at, 0]), 95)
            for at in (0, page.shape[1])
        ]
        assert min(errors) < 0.3
    else:
        assert result.outcome == "unreadable"
