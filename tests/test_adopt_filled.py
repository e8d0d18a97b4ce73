"""Where no blank is left: filled copies are sorted by their print, and the blank is recovered from a dozen or fewer."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from commands import Run, one_sentence
from PIL import Image
from small_old_form import SIZE, copies, kept_in, shovel_card

from scanform.adopt import RecoveredBlank, pages_in, recovered_blank, sorted_pages
from scanform.form import Box, FieldKind, load_template
from scanform.intake import load_page
from scanform.simulate import render_pdf

SEVEN = tuple(range(7))


@pytest.fixture(scope="module")
def recovered(tmp_path_factory: pytest.TempPathFactory) -> RecoveredBlank:
    paths = kept_in(tmp_path_factory.mktemp("filled"), copies("shovel", "a", SEVEN))
    return recovered_blank([load_page(path, 1) for path in paths])


def laid_over_the_true_blank(blank: RecoveredBlank) -> tuple[np.ndarray, np.ndarray]:
    """The recovered picture brought onto the drawn one, both uint8 at 8 px/mm: nobody knows the form's own size."""
    drawn = render_pdf(shovel_card("a").pdf, 203.2)[0]
    found = blank.page.pixels
    start = np.array([[found.shape[1] / drawn.shape[1], 0, 0], [0, found.shape[0] / drawn.shape[0], 0]], np.float32)
    soft = [cv2.GaussianBlur(picture, (0, 0), 4) for picture in (drawn, found)]
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 200, 1e-6)
    _, affine = cv2.findTransformECC(soft[0], soft[1], start, cv2.MOTION_AFFINE, criteria)
    size = drawn.shape[1], drawn.shape[0]
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return drawn, cv2.warpAffine(found, affine, size, flags=flags, borderValue=(255.0,))


def dark_share(picture: np.ndarray, box: Box) -> float:
    x0, y0, x1, y1 = (round(v * 8) for v in (box.x_mm, box.y_mm, box.right_mm, box.bottom_mm))
    return float((picture[y0:y1, x0:x1] < 160).mean())


def test_ticks_that_always_stand_in_one_column_do_not_become_print(recovered: RecoveredBlank) -> None:
    _, found = laid_over_the_true_blank(recovered)
    ok = [box for f in shovel_card("a").fields for answer, box in f.answers if answer == "ok"]
    ticked = [c.values[f.id].value for c in copies("shovel", "a", SEVEN) for f in c.form.fields if f.kind == "choice"]
    assert ticked.count("ok") > 0.8 * len(ticked)
    assert max(dark_share(found, box.grown(-0.8)) for box in ok) < 0.02


def test_the_print_comes_back_sharp_and_all_of_it(recovered: RecoveredBlank) -> None:
    drawn, found = laid_over_the_true_blank(recovered)
    reach = np.ones((5, 5), np.uint8)  # 0.25 mm either way
    near_found, near_drawn = (cv2.erode(picture, reach) < 150 for picture in (found, drawn))
    assert near_found[drawn < 90].mean() > 0.97
    assert near_drawn[found < 90].mean() > 0.97
    assert recovered.agreement > 0.8


def test_a_template_comes_from_filled_copies_alone(run: Run, tmp_path: Path) -> None:
    kept_in(tmp_path / "old", copies("shovel", "a", SEVEN))
    ran = run("adopt", "--filled", str(tmp_path / "old"), "--out", str(tmp_path / "shovel.yaml"))
    assert ran.code == 0, ran.err
    assert "Blank recovered from 7 copies" in ran.out
    template = load_template(tmp_path / "shovel.yaml")
    boxes = [a.box_mm for f in template.fields if f.kind is FieldKind.CHOICE for a in f.answers]
    truth = [box for f in shovel_card("a").fields if f.kind == "choice" for _, box in f.answers]
    assert len(boxes) == len(truth)
    # Two affine maps apart at most: size and place of the paper are the copies' own.
    terms = np.array([[box.x_mm, box.y_mm, 1.0] for box in truth])
    places = np.array([[x, y] for x, y, _, _ in boxes])
    left = places - terms @ np.linalg.lstsq(terms, places, rcond=None)[0]
    assert np.abs(left).max() < 0.4
    assert {"unit", "date", "operator"} <= {f.id for f in template.fields}


def test_a_mixed_binder_is_sorted_with_print_runs_apart_and_pages_upside_down_among_them(tmp_path: Path) -> None:
    folder = tmp_path / "binder"
    kept_in(folder, copies("shovel", "a", SEVEN)[:4])
    kept_in(folder, copies("shovel", "b", (20, 21, 22)))
    kept_in(folder, copies("crane", "a", (40, 41)), "crane")
    upside_down = folder / "copy-a-99.png"
    cv2.imwrite(str(upside_down), np.rot90(copies("shovel", "a", SEVEN)[5].pixels, 2))
    found = sorted_pages(pages_in([folder]))
    runs = [{Path(s.source).name.rsplit("-", 1)[0] for s in form.sheets} for form in found.forms]
    assert runs == [{"copy-a"}, {"copy-b"}, {"crane-a"}]
    assert [len(form.sheets) for form in found.forms] == [5, 3, 2]
    assert found.forms[1].like == 1
    assert found.forms[2].like is None


def test_pages_of_several_forms_ask_which_one_is_meant(run: Run, tmp_path: Path) -> None:
    kept_in(tmp_path / "binder", copies("shovel", "a", SEVEN)[:3])
    kept_in(tmp_path / "binder", copies("shovel", "b", (20, 21, 22)))
    ran = run("adopt", "--filled", str(tmp_path / "binder"), "--out", str(tmp_path / "form.yaml"))
    assert ran.code == 2
    assert one_sentence(ran.err)
    assert "--form" in ran.err
    assert "Form 1: 3 pages" in ran.out
    assert "like form 1" in ran.out


def test_too_few_or_too_coarse_copies_say_so_in_a_sentence(run: Run, tmp_path: Path) -> None:
    first, second, third = copies("shovel", "a", SEVEN)[:3]
    two = kept_in(tmp_path / "two", (first, second))
    coarse = [_at_72_dpi(tmp_path / f"{n}.png", c.pixels) for n, c in enumerate((first, second, third))]
    for name, files, word in (("two", two, "at least 3"), ("coarse", coarse, "72 dots")):
        given = [part for path in files for part in ("--filled", str(path))]
        ran = run("adopt", *given, "--out", str(tmp_path / f"{name}.yaml"))
        assert ran.code == 2
        assert one_sentence(ran.err)
        assert word in ran.err
        assert not (tmp_path / f"{name}.yaml").exists()


def _at_72_dpi(path: Path, pixels: np.ndarray) -> Path:
    size = round(SIZE[0] / 25.4 * 72), round(SIZE[1] / 25.4 * 72)
    Image.fromarray(pixels).resize(size).save(path, dpi=(72, 72))
    return path


def test_a_blank_and_filled_copies_at_once_are_refused(run: Run, tmp_path: Path) -> None:
    ran = run("adopt", "blank.pdf", "--filled", str(tmp_path), "--out", str(tmp_path / "form.yaml"))
    assert ran.code == 2
    assert one_sentence(ran.err)
