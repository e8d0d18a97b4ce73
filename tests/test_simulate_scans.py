"""Simulated scanners: is the truth map true, and are the files what an office would get."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image
from reportlab.pdfgen import canvas

from scanform.form import Paper
from scanform.simulate import DPI, Grade, blank_page, render_pdf, scan

PX_PER_MM = DPI / 25.4


def crosses_page(paper: Paper) -> tuple[np.ndarray, np.ndarray]:
    """A page with 3 mm crosses at known millimetres, and those points."""
    width, height = paper.size_mm
    page = blank_page(width, height)
    points = np.array([[x, y] for x in np.linspace(14, width - 14, 5) for y in np.linspace(14, height - 14, 7)])
    for x, y in points:
        cx, cy = (round((v * PX_PER_MM - 0.5) * 256) for v in (x, y))
        arm = round(1.5 * PX_PER_MM * 256)
        cv2.line(page, (cx - arm, cy), (cx + arm, cy), 0, 7, cv2.LINE_AA, 8)
        cv2.line(page, (cx, cy - arm), (cx, cy + arm), 0, 7, cv2.LINE_AA, 8)
    return page, points


def cross_error_mm(result, point: np.ndarray) -> float | None:
    """How far the dark blob found is from where the map says the cross is; None if it is off the scan."""
    here, right, down = result.page_mm_to_px(np.array([point, point + [1, 0], point + [0, 1]]))
    jacobian = np.column_stack([right - here, down - here])
    reach = int(3.0 * max(np.linalg.norm(jacobian, axis=0)))
    x, y = round(here[0]), round(here[1])
    height, width = result.pixels.shape
    if not (reach < x < width - reach and reach < y < height - reach):
        return None
    patch = result.pixels[y - reach : y + reach + 1, x - reach : x + reach + 1]
    level = (float(np.percentile(patch, 75)) + float(patch.min())) / 2
    count, _, stats, middles = cv2.connectedComponentsWithStats((patch < level).astype(np.uint8), connectivity=8)
    if count < 2:
        return None
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    off = middles[largest] - reach + [x, y] - here
    return float(np.linalg.norm(np.linalg.solve(jacobian, off)))


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("grade", list(Grade))
def test_a_cross_lands_where_the_truth_map_says(grade: Grade, paper: Paper) -> None:
    page, points = crosses_page(paper)
    errors = []
    for seed, turns in enumerate((0, 1, 2, 3)):
        result = scan(page, grade, np.random.default_rng(seed), turns)
        found = [cross_error_mm(result, p) for p in points]
        errors += [e for e in found if e is not None]
    allowed = 0.3 if grade in (Grade.PHONE, Grade.FAX) else 0.15
    # Grit, folds and tears spoil a few crosses themselves on worn paper; the map is still right on the others.
    share = 90 if grade is Grade.WORN else 98
    assert len(errors) > 80
    assert np.percentile(errors, share) < allowed
    assert np.median(errors) < allowed / 2


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_quarter_turns_carry_the_top_left_corner_clockwise(turns: int) -> None:
    page, _ = crosses_page(Paper.A4)
    result = scan(page, "office", np.random.default_rng(1), turns)
    height, width = result.pixels.shape
    x, y = result.page_mm_to_px(np.array([[14.0, 14.0]]))[0]
    assert (x < width / 2, y < height / 2) == [(True, True), (False, True), (False, False), (True, False)][turns]


def test_feed_stretch_stays_within_one_per_cent_and_skew_within_two_degrees() -> None:
    page = blank_page(*Paper.A4.size_mm)
    for seed in range(12):
        to_px = scan(page, "office", np.random.default_rng(seed)).page_mm_to_px
        down = to_px(np.column_stack([np.full(60, 105.0), np.linspace(5, 292, 60)]))
        across = to_px(np.array([[20.0, 148.0], [190.0, 148.0]]))
        rows = np.diff(down[:, 1]) / np.diff(np.linspace(5, 292, 60)) / PX_PER_MM
        skew = np.degrees(np.arctan2(*(across[1] - across[0])[::-1]))
        assert abs(skew) < 2.05
        assert np.all(np.abs(rows - 1) < 0.011)


@pytest.mark.parametrize("grade", list(Grade))
def test_the_file_decodes_to_the_pixels_that_come_with_it(grade: Grade) -> None:
    page, _ = crosses_page(Paper.LETTER)
    result = scan(page, grade, np.random.default_rng(3))
    image = Image.open(io.BytesIO(result.encoded))
    decoded = np.array(image.convert("L"))
    assert decoded.shape == result.pixels.shape
    # Pillow and OpenCV weigh the colours of a phone picture alike, but round differently.
    assert np.abs(decoded.astype(int) - result.pixels).max() <= 2


def test_bitonal_scans_are_one_bit_g4_tiff_at_200_or_300_dpi() -> None:
    # TIFF 6.0: tag 259 Compression, 4 = T.6 (G4); tag 258 BitsPerSample; tags 282, 283 X and Y resolution.
    page, _ = crosses_page(Paper.A4)
    seen = set()
    for seed in range(6):
        result = scan(page, "bitonal", np.random.default_rng(seed))
        image = Image.open(io.BytesIO(result.encoded))
        assert image.tag_v2[259] == 4
        assert image.mode == "1"
        assert set(np.unique(result.pixels)) <= {0, 255}
        seen.add(round(float(image.tag_v2[282])))
    assert seen == {200, 300}


def test_a_fax_has_the_two_resolutions_of_itu_t_t4_whichever_way_the_sheet_went_in() -> None:
    page, _ = crosses_page(Paper.A4)
    for turns in (0, 1):
        result = scan(page, "fax", np.random.default_rng(2), turns)
        image = Image.open(io.BytesIO(result.encoded))
        assert (round(float(image.tag_v2[282])), round(float(image.tag_v2[283]))) == (204, 196)
        here, right, down = result.page_mm_to_px(np.array([[100.0, 150.0], [110.0, 150.0], [100.0, 160.0]]))
        steps = np.abs(np.array([right - here, down - here]))
        along_x, along_y = steps[:, 0].max() * 2.54, steps[:, 1].max() * 2.54
        assert (along_x, along_y) == pytest.approx((204, 196), rel=0.012)


def test_a_torn_corner_is_gone_and_reported() -> None:
    page = np.full_like(blank_page(*Paper.A4.size_mm), 0)  # black paper, so that what is missing shows
    seen = 0
    for seed in range(12):
        result = scan(page, "worn", np.random.default_rng(seed))
        for outline in result.lost_mm:
            seen += 1
            corner = min(
                np.array([[3.0, 3.0], [207.0, 3.0], [207.0, 294.0], [3.0, 294.0]]),
                key=lambda c: float(np.linalg.norm(outline - c, axis=1).min()),
            )
            assert cv2.pointPolygonTest(outline.astype(np.float32), tuple(map(float, corner)), False) > 0
    assert seen >= 2


def test_a_pdf_line_is_rendered_at_its_own_millimetre() -> None:
    # ISO 216: A4 is 210 x 297 mm; 1 pt = 25.4/72 mm.
    stream = io.BytesIO()
    pdf = canvas.Canvas(stream, pagesize=(210 * 72 / 25.4, 297 * 72 / 25.4))
    pdf.setLineWidth(0.5 * 72 / 25.4)
    pdf.line(0, (297 - 280) * 72 / 25.4, 600, (297 - 280) * 72 / 25.4)
    pdf.line(200 * 72 / 25.4, 0, 200 * 72 / 25.4, 900)
    pdf.save()
    (page,) = render_pdf(stream.getvalue(), DPI)
    assert page.shape == (3508, 2480)
    dark = 255 - page[:, 100].astype(float)
    y = (dark * (np.arange(3508) + 0.5)).sum() / dark.sum() / PX_PER_MM
    dark = 255 - page[100].astype(float)
    x = (dark * (np.arange(2480) + 0.5)).sum() / dark.sum() / PX_PER_MM
    assert (x, y) == pytest.approx((200, 280), abs=0.02)
