"""Pages of forms that scanform did not print: told and placed by their print alone, or left as unknown."""

from __future__ import annotations

import io
from dataclasses import replace

import cv2
import numpy as np
import pytest
from blank_forms import HEIGHT_MM, ITEMS, Pen, day_card, pdf_of, prose, scan_of, week_card
from PIL import Image
from reportlab.lib.units import mm

from scanform.adopt import print_of, propose
from scanform.form import BLANK_PX_PER_MM, AdoptedTemplate
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, NotLocated, locate
from scanform.locate.print_match import Keypoints, page_keypoints, paired
from scanform.locate.unmarked import FormFit, KnownForm, best_form

DPI = 200
PX_PER_MM = DPI / 25.4
SKEW_DEGREES = -1.3
BAR_MM, BAR_GREY, RULE_GREY = (15.0, 249.5, 180.0, 6.9), 51, 180


def newer_run(pen: Pen) -> None:
    """The day card as it was printed later: the same heading, its list lower, closer and in another order."""
    pen.text(20, 20, "HOLLIN QUARRY - DAILY PLANT CARD", 16)
    pen.text(20, 35, "Machine No.")
    pen.line(42, 35.5, 80, 35.5)
    for n, item in enumerate(reversed(ITEMS)):
        pen.text(20, 98.5 + 6.5 * n, f"{n + 1}. {item}")
        pen.box(150, 95 + 6.5 * n, 4.5, 4.5)
    pen.text(20, 180, "Signature")
    pen.line(42, 180.5, 110, 180.5)


@pytest.fixture(scope="module")
def forms(tmp_path_factory: pytest.TempPathFactory) -> list[AdoptedTemplate]:
    folder = tmp_path_factory.mktemp("blanks")
    made = []
    for draw in (day_card, week_card):
        path = folder / f"{draw.__name__}.pdf"
        path.write_bytes(pdf_of(draw))
        made.append(propose(print_of(path), draw.__name__.replace("_", "-")).template)
    return made


@pytest.fixture(scope="module")
def known(forms: list[AdoptedTemplate]) -> KnownLayouts:
    return KnownLayouts(forms)


def scanned(pdf: bytes, quarter_turns: int = 0, written: bool = True) -> Page:
    """A copy with large scribbles over its places to write, scanned askew."""
    grey = np.array(Image.open(io.BytesIO(scan_of(pdf, DPI, SKEW_DEGREES))))
    if written:
        rng = np.random.default_rng(8_700_002)
        for x, y in [(50, 33), (100, 33), (150, 33), (146, 75), (168, 83), (60, 140), (70, 176)]:
            points = (np.array([x, y]) + rng.normal(0, 4, (12, 2))) * PX_PER_MM
            cv2.polylines(grey, [points.round().astype(np.int32)], False, 40, 4, cv2.LINE_AA)
    return Page("binder.png", 1, "0" * 64, np.rot90(grey, quarter_turns).copy(), float(DPI))


def true_px(points_mm: np.ndarray) -> np.ndarray:
    """Where ``scan_of`` puts places of an A4 form, (n, 2) mm to (n, 2) px."""
    size = np.array([210.0, HEIGHT_MM]) * PX_PER_MM
    turn = cv2.getRotationMatrix2D((float(round(size[0])) / 2, float(round(size[1])) / 2), SKEW_DEGREES, 1.0)
    return points_mm * PX_PER_MM @ turn[:, :2].T + turn[:, 2]


@pytest.mark.parametrize(("draw", "name"), [(day_card, "day-card"), (week_card, "week-card")])
def test_a_filled_page_is_known_by_its_print_and_every_box_placed_to_half_a_millimetre(
    known: KnownLayouts, draw: object, name: str
) -> None:
    found = locate(scanned(pdf_of(draw)), known)  # type: ignore[arg-type]
    assert isinstance(found, LocatedSheet)
    assert found.layout.template.name == name
    boxes = [spec.box_mm for spec in found.layout.fields]
    middles = np.array([box.centre_mm for box in boxes])
    shifts = np.array([found.shifts_mm[box] for box in boxes])
    off = np.linalg.norm(found.map.to_px(middles + shifts) - true_px(middles), axis=1) / PX_PER_MM
    assert np.percentile(off, 95) < 0.5
    assert all(np.isfinite(found.residual_of(spec)) for spec in found.layout.fields)


def test_a_page_fed_upside_down_is_found_too(known: KnownLayouts) -> None:
    found = locate(scanned(pdf_of(day_card), quarter_turns=2), known)
    assert isinstance(found, LocatedSheet)
    assert found.layout.template.name == "day-card"
    polygon = found.polygon_px(found.layout.field("signature").box_mm)
    assert polygon[0][0] > polygon[1][0]  # its left end is on the right


def test_another_print_run_is_not_taken_for_the_form_that_is_known(known: KnownLayouts) -> None:
    found = locate(scanned(pdf_of(newer_run), written=False), known)
    assert isinstance(found, NotLocated)
    assert found.outcome == "unknown-form"


def test_other_paper_is_no_form_of_ours(known: KnownLayouts) -> None:
    found = locate(scanned(pdf_of(prose), written=False), known)
    assert isinstance(found, NotLocated)
    assert found.outcome == "unknown-form"


def test_two_templates_of_one_form_leave_the_page_to_a_person(forms: list[AdoptedTemplate]) -> None:
    twice = [forms[0], forms[0].model_copy(update={"version": 2})]
    found = locate(scanned(pdf_of(day_card)), KnownLayouts(twice))
    assert isinstance(found, NotLocated)
    assert "as much that of" in found.reason


def test_a_torn_off_corner_makes_the_fields_there_doubtful_and_no_others(known: KnownLayouts) -> None:
    page = scanned(pdf_of(day_card))
    page.pixels[: int(60 * PX_PER_MM), int(125 * PX_PER_MM) :] = 255
    found = locate(page, known)
    assert isinstance(found, LocatedSheet)
    assert np.isinf(found.residual_of(found.layout.field("operator")))
    assert np.isfinite(found.residual_of(found.layout.field("signature")))


def test_forms_whose_print_is_met_all_over_the_page_do_not_crowd_out_its_own(forms: list[AdoptedTemplate]) -> None:
    page = scanned(pdf_of(day_card))
    seen = page_keypoints(page.pixels)
    rng = np.random.default_rng(8_700_003)
    others = [KnownForm(forms[1].model_copy(update={"name": f"other-{n}"})) for n in range(3)]
    for other in others:  # each has all of the page's print, but nowhere near where the page has it
        other.__dict__["keypoints"] = Keypoints(rng.uniform(0, 200, seen.places.shape), seen.descriptors)
    found = best_form(page.pixels, seen, [*others, KnownForm(forms[0])])
    assert isinstance(found, FormFit)
    assert found.form.template.name == "day-card"


def test_print_is_paired_exactly_as_by_a_matcher_that_compares_one_by_one(forms: list[AdoptedTemplate]) -> None:
    page, form = page_keypoints(scanned(pdf_of(day_card)).pixels), KnownForm(forms[0]).keypoints
    nearest = cv2.BFMatcher().knnMatch(page.descriptors, form.descriptors, k=2)
    good = [best for best, second in nearest if best.distance < 0.8 * second.distance]  # Lowe's ratio
    on_form, on_page = paired(page, form)
    assert len(good) > 100
    np.testing.assert_array_equal(on_form, form.places[[match.trainIdx for match in good]])
    np.testing.assert_array_equal(on_page, page.places[[match.queryIdx for match in good]])


def test_without_one_template_its_pages_are_no_form_of_ours_and_the_others_are_found(known: KnownLayouts) -> None:
    fewer = known.without("day-card")
    assert isinstance(locate(scanned(pdf_of(day_card), written=False), fewer), NotLocated)
    assert isinstance(locate(scanned(pdf_of(week_card), written=False), fewer), LocatedSheet)


def barred(pen: Pen) -> None:
    """The day card with a dark bar across its foot."""
    day_card(pen)
    x, y, w, h = BAR_MM
    pen.canvas.setFillGray(BAR_GREY / 255)
    pen.canvas.rect(x * mm, (HEIGHT_MM - y - h) * mm, w * mm, h * mm, stroke=0, fill=1)


@pytest.fixture(scope="module")
def with_bar(forms: list[AdoptedTemplate]) -> KnownLayouts:
    blank = cv2.imdecode(np.frombuffer(forms[0].picture_png, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert blank is not None
    x, y, w, h = (np.array(BAR_MM) * BLANK_PX_PER_MM).round().astype(int).tolist()
    blank[y : y + h, x : x + w] = BAR_GREY
    return KnownLayouts([forms[0].model_copy(update={"picture_png": cv2.imencode(".png", blank)[1].tobytes()})])


def in_black_and_white(page: Page) -> Page:
    """By comparing each pixel with what is about it, as scanners do: of a dark bar the rim is left."""
    about = cv2.blur(page.pixels, (21, 21)).astype(np.float32)
    return replace(page, pixels=np.where(page.pixels < about - 12, 0, 255).astype(np.uint8))


def test_a_dark_bar_that_black_and_white_leaves_the_rim_of_does_not_hide_the_form(with_bar: KnownLayouts) -> None:
    page = in_black_and_white(scanned(pdf_of(barred)))
    x, y = (true_px(np.array([[BAR_MM[0] + BAR_MM[2] / 2, BAR_MM[1] + BAR_MM[3] / 2]]))[0]).round().astype(int)
    assert page.pixels[y, x] == 255
    assert isinstance(locate(page, with_bar), LocatedSheet)


def test_a_card_without_the_dark_bar_is_another_print_run(with_bar: KnownLayouts) -> None:
    found = locate(scanned(pdf_of(day_card)), with_bar)
    assert isinstance(found, NotLocated)
    assert "another version" in found.reason


def test_thin_grey_rules_that_black_and_white_loses_are_missed_on_a_grey_page_alone(
    forms: list[AdoptedTemplate],
) -> None:
    blank = cv2.imdecode(np.frombuffer(forms[0].picture_png, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert blank is not None
    for y_mm in range(200, 270, 7):
        y, left, right = (round(v * BLANK_PX_PER_MM) for v in (y_mm, 15, 195))
        blank[y : y + 2, left:right] = RULE_GREY
    ruled = forms[0].model_copy(update={"picture_png": cv2.imencode(".png", blank)[1].tobytes()})
    page = scanned(pdf_of(day_card))
    assert isinstance(locate(in_black_and_white(page), KnownLayouts([ruled])), LocatedSheet)
    assert isinstance(locate(page, KnownLayouts([ruled])), NotLocated)
