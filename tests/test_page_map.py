"""The map from a sheet's millimetres to a page's pixels, against scikit-image's estimate of the same points."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from located_pages import BlankSheet, LayoutOf, corners_mm
from skimage.transform import ProjectiveTransform

from scanform.form import Box, Paper
from scanform.locate import PageMap
from scanform.locate.marks import find_marks, map_from_marks
from scanform.locate.sample import sample_boxes
from scanform.locate.warp import fit_homography, fit_polynomial, polynomial_terms

tilts = st.tuples(*[st.floats(-0.08, 0.08)] * 4, *[st.floats(-2e-4, 2e-4)] * 2, *[st.floats(-50, 50)] * 2)


@given(tilts)
@settings(max_examples=25, deadline=None)
def test_the_map_from_the_marks_is_the_one_that_scikit_image_estimates(tilt: tuple[float, ...]) -> None:
    a, b, c, d, e, f, tx, ty = tilt
    true = np.array([[11.8 * (1 + a), 11.8 * b, tx], [11.8 * c, 11.8 * (1 + d), ty], [e, f, 1.0]])
    mm = np.concatenate([corners_mm(Box(x, y, 8, 8)) for x, y in ((20, 7), (182, 7), (6, 74), (20, 282), (182, 282))])
    px = np.column_stack([mm, np.ones(len(mm))]) @ true.T
    px = px[:, :2] / px[:, 2:]
    ours, kept = fit_homography(mm, px, tolerance_px=5.0)
    assert kept.all()
    theirs = ProjectiveTransform.from_estimate(mm, px)
    grid = np.stack(np.meshgrid(np.linspace(0, 210, 8), np.linspace(0, 297, 8)), axis=-1).reshape(-1, 2)
    assert np.abs(PageMap(ours, (210, 297)).to_px(grid) - theirs(grid)).max() < 1e-3


def test_with_noise_on_the_marks_the_map_and_scikit_images_stay_within_a_fraction_of_the_noise() -> None:
    rng = np.random.default_rng(3)
    mm = np.concatenate([corners_mm(Box(x, y, 8, 8)) for x in (6, 20, 182, 196) for y in (7, 74, 215, 282)])
    px = mm * 11.8 + 40 + rng.normal(0, 0.3, mm.shape)
    ours, _ = fit_homography(mm, px, tolerance_px=5.0)
    theirs = ProjectiveTransform.from_estimate(mm, px)
    assert np.abs(PageMap(ours, (210, 297)).to_px(mm) - theirs(mm)).max() < 0.1


def test_a_mark_in_the_wrong_place_is_left_out_of_the_map() -> None:
    mm = np.concatenate([corners_mm(Box(x, y, 8, 8)) for x, y in ((20, 7), (182, 7), (6, 74), (20, 282), (182, 282))])
    px = mm * 11.8
    px[8:12] += 300  # another sheet's corner showed under the page
    matrix, kept = fit_homography(mm, px, tolerance_px=5.0)
    assert kept.tolist() == [True] * 8 + [False] * 4 + [True] * 8
    assert np.abs(PageMap(matrix, (210, 297)).to_px(mm[kept]) - px[kept]).max() < 1e-3


def test_handwriting_across_a_border_does_not_pull_the_correction() -> None:
    rng = np.random.default_rng(0)
    points = rng.uniform(0, 1, (200, 2)) * [210, 297]
    terms = polynomial_terms(points, (210, 297), 2)
    stretch = np.array([0.1, 0.4, -0.2, 0.05, 0.0, 0.1])
    values = terms @ stretch + rng.normal(0, 0.02, 200)
    values[:30] += 2.0
    fitted = fit_polynomial(terms, values, np.ones(200))
    assert np.abs(fitted - stretch).max() < 0.02


def test_corrections_add_up() -> None:
    page_map = PageMap(np.diag([11.8, 11.8, 1.0]), (210, 297))
    low, high = np.full((6, 2), 0.1), np.full((15, 2), 0.02)
    both = page_map.corrected_by(low).corrected_by(high)
    points = np.array([[10.0, 20.0], [200.0, 280.0]])
    expected = page_map.corrected_by(low).displacement_mm(points) + page_map.corrected_by(high).displacement_mm(points)
    assert np.allclose(both.displacement_mm(points), expected)
    assert page_map.px_per_mm() == pytest.approx(11.8)


def test_two_marks_make_no_map(blank_sheet: BlankSheet, layout_of: LayoutOf) -> None:
    layout = layout_of("site-machine", Paper.A4)
    marks = find_marks(blank_sheet("site-machine", Paper.A4))
    assert sorted(mark.identity for mark in marks) == list(range(8))
    assert map_from_marks(marks[:2], layout) is None
    assert map_from_marks([], layout) is None
    assert map_from_marks(marks[:3], layout) is not None


@pytest.mark.parametrize("box", [Box(12, 20, 150, 8), Box(20, 40, 18, 8), Box(150, 20, 5, 5)])
def test_a_patch_is_sampled_where_the_map_says_and_not_in_steps(box: Box) -> None:
    # The page's grey rises by four a pixel, over and over, so that each sample tells its place to an eighth of a pixel.
    page = np.broadcast_to((np.arange(2000) % 60 * 4).astype(np.uint8), (700, 2000)).copy()
    page_map = PageMap(np.array([[11.8, 0.1, 20.0], [-0.1, 11.8, 60.0], [0, 0, 1.0]]), (210, 297))
    patch = sample_boxes(page, page_map, [box], np.zeros((1, 2)), 0.0, 8.0)[0].astype(float)
    rows, columns = patch.shape
    x, y = box.x_mm + (np.arange(columns) + 0.5) / 8, box.y_mm + (np.arange(rows) + 0.5) / 8
    places = page_map.to_px(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))[:, 0].reshape(rows, columns)
    told = (places % 60 < 58) & (places % 60 > 1)  # not where the grey falls back
    assert np.abs(patch / 4 - places % 60)[told].max() < 0.2
