"""Registration marks torn off, covered or smeared: three of eight are enough, and with fewer the print is."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations

import cv2
import numpy as np
import pytest
from conftest import built_in_templates, lay_out
from located_pages import (
    BlankSheet,
    LayoutOf,
    corners_mm,
    found,
    not_found,
    page_of,
    painted_white,
    position_errors_mm,
    straight,
    with_marks,
)
from skimage.transform import SimilarityTransform, warp

from scanform.form import Paper
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.simulate import Grade, ScanResult, scan

TRIPLES = list(combinations(range(8), 3))
WAYS = [(grade, turns) for grade in (Grade.OFFICE, Grade.WORN) for turns in range(4)]


@pytest.fixture(scope="module")
def captured(blank_sheet: BlankSheet):
    """A sheet captured in each of the two grades and four rotations."""

    @lru_cache(maxsize=len(WAYS))
    def capture(grade: Grade, turns: int) -> ScanResult:
        seed = 8_400_000 + WAYS.index((grade, turns))
        return scan(blank_sheet("site-machine", Paper.A4), grade, np.random.default_rng(seed), turns)

    return capture


def with_marks_left(result: ScanResult, keep: tuple[int, ...]) -> np.ndarray:
    """The capture with all other marks covered by strips of paper."""
    layout = lay_out({t.name: t for t in built_in_templates()}["site-machine"], Paper.A4)
    pixels = result.pixels.copy()
    paper = int(np.median(pixels))
    for mark in layout.marks:
        if mark.identity not in keep:
            strip = np.round(result.page_mm_to_px(corners_mm(mark.box_mm.grown(0.6)))).astype(np.int32)
            cv2.fillPoly(pixels, [strip], paper)
    return pixels


def test_eight_marks_have_56_triples() -> None:
    assert len(TRIPLES) == 56


@pytest.mark.parametrize("way", range(len(WAYS)))
def test_any_three_marks_are_enough(way: int, captured, known: KnownLayouts) -> None:
    # Each triple in one of the eight ways to scan a sheet: all 56 come up, seven a way.
    result = captured(*WAYS[way])
    for triple in TRIPLES[way :: len(WAYS)]:
        sheet = found(with_marks_left(result, triple), known)
        assert sheet.layout.template.name == "site-machine"
        errors = position_errors_mm(sheet, result.page_mm_to_px, lost=True)
        assert np.percentile(errors, 95) < 0.3, triple


@pytest.mark.parametrize("turns", range(4))
@pytest.mark.parametrize("keep", [(0, 7), (4,), ()])
def test_with_fewer_than_three_marks_the_sheet_is_found_by_its_print(
    keep: tuple[int, ...], turns: int, captured, known: KnownLayouts
) -> None:
    result = captured(Grade.WORN if keep else Grade.OFFICE, turns)
    sheet = found(with_marks_left(result, keep), known)
    assert sheet.layout.template.name == "site-machine"
    assert np.percentile(position_errors_mm(sheet, result.page_mm_to_px, lost=True), 95) < 0.3
    assert f"only {len(keep)} of the sheet's eight registration marks could be used" in sheet.warnings[-1]


@pytest.mark.parametrize(("name", "paper"), [("quarry-weekly", Paper.A4), ("road-truck", Paper.LETTER)])
def test_with_neither_marks_nor_code_nor_serial_print_alone_says_which_sheet_it_is(
    name: str, paper: Paper, known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    layout = layout_of(name, paper)
    page = with_marks(blank_sheet(name, paper), layout, set())
    page = painted_white(page, layout.code_box_mm.grown(2), layout.serial_box_mm)
    result = scan(page, Grade.FAX, np.random.default_rng(8_400_100))
    sheet = found(result.pixels, known)
    assert (sheet.layout.template.name, sheet.layout.paper) == (name, paper)
    assert sheet.code is None
    assert np.percentile(position_errors_mm(sheet, result.page_mm_to_px), 95) < 0.3


def test_a_sheet_found_by_its_print_lies_where_scikit_image_has_put_it(
    known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    page = with_marks(blank_sheet("forklift", Paper.A4), layout_of("forklift", Paper.A4), set())
    small = cv2.resize(page, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    put = SimilarityTransform(scale=0.9, rotation=np.radians(200), translation=(1500, 1900))
    pixels = np.round(warp(small, put.inverse, output_shape=(2000, 1700), cval=1, order=1) * 255).astype(np.uint8)
    sheet = found(pixels, known)
    there = position_errors_mm(sheet, lambda mm: put((straight(mm) + 0.5) * 0.5 - 0.5))
    assert np.percentile(there, 95) < 0.3


def test_a_mirrored_sheet_is_no_sheet(known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    assert not isinstance(locate(page_of(blank_sheet("forklift", Paper.A4)[:, ::-1]), known), LocatedSheet)


def test_half_a_sheet_without_marks_is_not_read_as_if_it_were_whole(
    known: KnownLayouts, blank_sheet: BlankSheet, layout_of: LayoutOf
) -> None:
    page = with_marks(blank_sheet("site-machine", Paper.A4), layout_of("site-machine", Paper.A4), set())
    page[1200:] = 250
    result = not_found(page, known)
    assert result.outcome == "unreadable"
    assert "scan it again" in result.reason


def test_fields_where_the_sheet_is_torn_away_are_marked_as_not_seen(
    known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    page = blank_sheet("site-machine", Paper.A4).copy()
    height, width = page.shape
    page[height * 5 // 6 :, width // 2 :] = 20  # the lower right corner, with the workshop's signature
    sheet = found(page, known)
    unseen = {spec.id for spec in sheet.layout.fields if np.isinf(sheet.residual_of(spec))}
    assert {"told", "workshop.signature"} <= unseen
    assert not unseen & {"unit", "date", "hours", "signature", "item.horn"}
