"""Copiers, feeders and odd paper: other sizes, skew, slip, pale toner, colours, black edges."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from located_pages import DPI, BlankSheet, found, position_errors_mm, straight
from PIL import Image

from scanform.form import Paper
from scanform.intake import load_page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.simulate import Grade, scan
from scanform.simulate.copies import (
    PAPER_TINTS,
    black_edges,
    copied,
    pale,
    recycled,
    skewed,
    then,
    tinted,
    unevenly_fed,
)

# ISO 216: each A size is the one before halved, so that copies from one to the next are by the square root of two.
A3_MM, A4_MM, A5_MM = (297.0, 420.0), (210.0, 297.0), (148.0, 210.0)


def rng(seed: int) -> np.random.Generator:
    return np.random.default_rng(8_410_000 + seed)


@pytest.mark.parametrize(("onto", "percent"), [(A5_MM, 71), (A3_MM, 141)])
def test_a_copy_onto_the_next_a_size_is_read_and_its_scale_is_the_root_of_two(
    onto: tuple[float, float], percent: int, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    ratio = onto[1] / A4_MM[1]
    assert round(100 * ratio) == percent
    page, to_mm = copied(blank_sheet("site-machine", Paper.A4), DPI, ratio, onto)
    result = scan(page, Grade.WORN, rng(1), 1)
    sheet = found(result.pixels, known)
    assert np.percentile(position_errors_mm(sheet, then(to_mm, result.page_mm_to_px), lost=True), 95) < 0.3
    px_per_mm = sheet.map.px_per_mm() / sheet.raster_scale
    assert px_per_mm / (200 / 25.4) == pytest.approx(2 ** (0.5 if percent > 100 else -0.5), rel=0.01)


@pytest.mark.parametrize("paper", list(Paper))
def test_a_sheet_printed_to_fit_the_other_paper_is_still_the_sheet_it_is(
    paper: Paper, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    other = (Paper.LETTER if paper is Paper.A4 else Paper.A4).size_mm
    ratio = min(other[0] / paper.size_mm[0], other[1] / paper.size_mm[1])
    page, to_mm = copied(blank_sheet("road-truck", paper), DPI, ratio, other)
    result = scan(page, Grade.OFFICE, rng(2))
    sheet = found(result.pixels, known)
    assert sheet.layout.paper is paper
    assert np.percentile(position_errors_mm(sheet, then(to_mm, result.page_mm_to_px)), 95) < 0.3


@pytest.mark.parametrize("degrees", [-15, 15])
def test_a_sheet_laid_on_the_glass_askew_is_read_and_what_the_glass_cut_off_is_told(
    degrees: int, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    pixels, to_mm = skewed(blank_sheet("site-machine", Paper.A4), DPI, degrees, lid=30)
    height, width = pixels.shape
    sheet = found(pixels, known)
    cut_off = 0
    for spec in sheet.layout.fields:
        corners = straight(to_mm(np.array([spec.box_mm.centre_mm] * 4) + _corner_offsets(spec.box_mm)))
        if not ((corners >= 0) & (corners <= [width - 1, height - 1])).all():
            cut_off += 1
            assert np.isinf(sheet.residual_of(spec)), spec.id
    assert cut_off > 0
    assert np.percentile(position_errors_mm(sheet, lambda mm: straight(to_mm(mm)), lost=True), 95) < 0.3


def _corner_offsets(box: tuple[float, float, float, float]) -> np.ndarray:
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [box[2] / 2, box[3] / 2]


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_a_feeder_whose_speed_changes_down_the_page_does_not_move_the_fields(
    seed: int, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    pixels, to_mm = unevenly_fed(blank_sheet("quarry-weekly", Paper.LETTER), DPI, 0.03, rng(seed))
    sheet = found(pixels, known)
    assert np.percentile(position_errors_mm(sheet, lambda mm: straight(to_mm(mm))), 95) < 0.5


@pytest.mark.parametrize("grade", [Grade.OFFICE, Grade.WORN, Grade.BITONAL])
def test_toner_at_half_its_contrast_locates(grade: Grade, known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    result = scan(pale(blank_sheet("forklift", Paper.A4), 0.5), grade, rng(6))
    assert np.percentile(position_errors_mm(found(result.pixels, known), result.page_mm_to_px, lost=True), 95) < 0.3


@pytest.mark.parametrize("tint", list(PAPER_TINTS))
def test_coloured_paper_locates(tint: str, known: KnownLayouts, blank_sheet: BlankSheet, tmp_path: Path) -> None:
    half = cv2.resize(blank_sheet("forklift", Paper.LETTER), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    Image.fromarray(tinted(half, PAPER_TINTS[tint])).save(tmp_path / "scan.jpg", quality=80)
    sheet = locate(load_page(tmp_path / "scan.jpg", 1, "scan.jpg"), known)
    assert isinstance(sheet, LocatedSheet)
    errors = position_errors_mm(sheet, lambda mm: (straight(mm) + 0.5) / 2 - 0.5)
    assert np.percentile(errors, 95) < 0.3


def test_recycled_paper_locates(known: KnownLayouts, blank_sheet: BlankSheet) -> None:
    result = scan(recycled(blank_sheet("site-machine", Paper.A4), DPI, rng(7)), Grade.OFFICE, rng(7))
    assert np.percentile(position_errors_mm(found(result.pixels, known), result.page_mm_to_px), 95) < 0.3


@pytest.mark.parametrize("seed", [8, 9])
def test_black_copier_edges_over_the_marks_do_not_matter(
    seed: int, known: KnownLayouts, blank_sheet: BlankSheet
) -> None:
    page = black_edges(blank_sheet("road-truck", Paper.A4), DPI, rng(seed))
    assert np.percentile(position_errors_mm(found(page, known), straight), 95) < 0.3
