"""Ways of writing characters in a comb: European and crossed, open and closed, overwritten, upon the border."""

from __future__ import annotations

from dataclasses import replace

import comb_strips
import cv2
import numpy as np
import pytest

from scanform.form.geometry import Box
from scanform.read import ALPHABET, Reading
from scanform.read.combs import read_combs
from scanform.read.glyphs import glyphs_of
from scanform.read.hidden_bar import seven_share
from scanform.settle.combs import comb_text
from scanform.simulate import Writer, blank_page, draw, random_writer, write_comb
from scanform.simulate.writer import character

CELL_W_MM, CELL_H_MM, MARGIN_MM = 6.0, 8.0, 1.0
DPI, SCAN_DPI = 600.0, 300.0
PAPER, PRINT = 240.0, 70.0


def writer(seed: int, **habits: object) -> Writer:
    """A neat hand with a pen that a scanner sees well, and with the habits asked for."""
    hand = random_writer(np.random.default_rng(seed))
    pen = replace(hand.pen, width_mm=0.45, grey=60.0, skips=0.0, grain=0.1)
    calm = {"jitter": 0.01, "off_centre": 0.03, "sloppy": 0.0, "slant": 0.08, "comb_height": 0.65, "aspect": 1.0}
    return replace(hand, pen=pen, comb_face="own", **{**calm, **habits})


def with_shape(hand: Writer, **shapes: int) -> Writer:
    chosen = {**dict(hand.shapes), **{name.removeprefix("_"): shape for name, shape in shapes.items()}}
    return replace(hand, shapes=tuple(chosen.items()))


def printed_comb(cells: int) -> tuple[np.ndarray, list[Box]]:
    """A blank comb at 600 dpi with a millimetre of paper around it, and its cells in mm."""
    page = blank_page(cells * CELL_W_MM + 2 * MARGIN_MM, CELL_H_MM + 2 * MARGIN_MM, DPI)
    boxes = [Box(MARGIN_MM + n * CELL_W_MM, MARGIN_MM, CELL_W_MM, CELL_H_MM) for n in range(cells)]
    for box in boxes:
        near, far = (
            (round(x * DPI / 25.4), round(y * DPI / 25.4))
            for x, y in ((box.x_mm, box.y_mm), (box.right_mm, box.bottom_mm))
        )
        cv2.rectangle(page, near, far, int(PRINT), round(0.3 * DPI / 25.4))
    return page, boxes


def at_8_px_mm(page: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The page scanned softly at 300 dpi with some noise, uint8 at 8 px/mm."""
    scan = cv2.resize(page, None, fx=SCAN_DPI / DPI, fy=SCAN_DPI / DPI, interpolation=cv2.INTER_AREA).astype(np.float32)
    grey = np.clip(scan * PAPER / 255 + rng.normal(0, 3, scan.shape), 0, 255).astype(np.uint8)
    return cv2.resize(grey, None, fx=8 / (SCAN_DPI / 25.4), fy=8 / (SCAN_DPI / 25.4), interpolation=cv2.INTER_AREA)


def read(page: np.ndarray, boxes: list[Box], charset: str, rng: np.random.Generator) -> Reading:
    """The page scanned softly at 300 dpi with some noise, its one comb read."""
    at_8 = at_8_px_mm(page, rng)
    cells = [[box.x_mm - MARGIN_MM, box.y_mm - MARGIN_MM, box.w_mm, box.h_mm] for box in boxes]
    strip = comb_strips.strip_of(at_8, "comb", charset, cells, PAPER, PRINT)
    return read_combs(strip, [strip.field], *comb_strips.networks(), {})[0]


def written(text: str, hand: Writer, seed: int, charset: str = "digits") -> Reading:
    rng = np.random.default_rng([seed, 5])
    page, boxes = printed_comb(len(text))
    write_comb(page, boxes, text, hand, rng, DPI)
    return read(page, boxes, charset, rng)


# The shapes are the simulator's own stroke tables (scanform.simulate.glyphs.SHAPES), numbered as there.
@pytest.mark.parametrize(
    ("shapes", "text"),
    [
        ({"_1": 1, "_7": 1}, "171717"),  # European: a one with a flag, a crossed seven
        ({"_1": 0, "_7": 0}, "177117"),  # a bare stroke and an angle
        ({"_1": 2, "_7": 2}, "701271"),  # a one with a foot, a seven with a bent bar
        ({"_4": 0, "_9": 0}, "494949"),  # an open four
        ({"_4": 1, "_9": 1}, "494949"),  # a closed four
        ({"_0": 2, "_8": 1}, "080608"),  # a slashed nought
    ],
)
def test_every_usual_way_of_writing_digits_is_read(shapes: dict[str, int], text: str):
    right = 0
    for seed in range(12):
        hand = with_shape(writer(seed), **shapes)
        right += sum(a == b for a, b in zip(comb_text(written(text, hand, seed))[0], text, strict=True))
    assert right >= 0.97 * 12 * len(text)


def test_digits_that_touch_or_leave_their_cells_are_read_or_doubted():
    right = sure_and_wrong = 0
    for seed in range(30):
        hand = writer(seed, comb_height=0.95, aspect=1.25, off_centre=0.08)
        reading = written("20263845", hand, seed)
        text, log_likelihood = comb_text(reading)
        right += text == "20263845"
        sure_and_wrong += text != "20263845" and log_likelihood > np.log(0.98) and not reading.evidence
    assert right >= 24
    assert sure_and_wrong == 0


def test_a_digit_written_over_another_is_doubted():
    doubted = 0
    for seed in range(40):
        rng = np.random.default_rng([seed, 6])
        hand = writer(seed)
        page, boxes = printed_comb(5)
        write_comb(page, boxes, "30527", hand, rng, DPI)
        overwritten = "84196"[seed % 5]
        strokes, width = character(overwritten, "own", hand, rng) or ([], 0.0)
        height = 0.65 * CELL_H_MM
        corner = np.array([boxes[2].centre_mm[0] - width * height / 2, boxes[2].centre_mm[1] + height / 2])
        draw(page, [points * height + corner for points in strokes], hand.pen, rng, DPI)
        reading = read(page, boxes, "digits", rng)
        doubted += bool(reading.evidence) or comb_text(reading)[1] < np.log(0.98)
    # Where the strokes of both coincide nothing tells that there are two.
    assert doubted >= 24


def test_capitals_of_unit_numbers_are_read():
    right = count = 0
    for seed in range(30):
        for text in ("WL40", "HT67", "EX23", "DZ98", "GR05"):
            found = comb_text(written(text, writer(seed), seed, "alnum"))[0]
            right += sum(a == b or {a, b} in ({"0", "O"}, {"1", "I"}) for a, b in zip(found, text, strict=True))
            count += len(text)
    assert right >= 0.95 * count


def bar_of_seven(up_mm: float, pen_mm: float, seed: int) -> Reading:
    """Three sevens whose bars lie ``up_mm`` above the middle of the upper border."""
    rng = np.random.default_rng([seed, 7])
    hand = writer(seed)
    page, boxes = printed_comb(4)
    write_comb(page, boxes, "3", hand, rng, DPI)
    for box in boxes[1:]:
        left, right = box.x_mm + rng.uniform(0.9, 1.6), box.right_mm - rng.uniform(0.9, 1.6)
        top = box.y_mm - up_mm
        foot = (box.centre_mm[0] - 0.6, box.bottom_mm - rng.uniform(1.0, 2.0))
        seven = np.array([(left, top), (right, top + rng.uniform(-0.08, 0.08)), foot])
        draw(page, [seven], replace(hand.pen, width_mm=pen_mm), rng, DPI)
    return read(page, boxes, "digits", rng)


@pytest.mark.parametrize("up_mm", [-0.2, -0.1, 0.0, 0.1, 0.2])
@pytest.mark.parametrize(("pen_mm", "least_sevens"), [(0.35, 0), (0.6, 24)])
def test_a_bar_within_a_fifth_of_a_millimetre_of_the_border_makes_no_sure_one(
    up_mm: float, pen_mm: float, least_sevens: int
):
    sevens = sure_ones = 0
    for seed in range(10):
        reading = bar_of_seven(up_mm, pen_mm, seed)
        assert reading.cell_probabilities is not None
        rows = reading.cell_probabilities[1:]
        sevens += int((rows.argmax(axis=1) == 7).sum())
        sure_ones += int((rows[:, ALPHABET.index("1")] > 0.98).sum())
    assert sure_ones == 0
    # A pen hardly wider than the rule vanishes in it and leaves a doubt; a broader one is seen to stick out.
    assert sevens >= least_sevens  # of 30


def shares_of_seven(strokes: list[np.ndarray], pen_mm: float, seed: int) -> np.ndarray:
    """For one stroke a cell: how likely each is a seven whose bar lies upon the border, were it read as a one."""
    rng = np.random.default_rng([seed, 8])
    page, boxes = printed_comb(len(strokes))
    for box, stroke in zip(boxes, strokes, strict=True):
        draw(page, [stroke + (box.x_mm, box.y_mm)], replace(writer(seed).pen, width_mm=pen_mm), rng, DPI)
    at_8 = at_8_px_mm(page, rng)
    wide = round((CELL_W_MM + 2 * MARGIN_MM) * 8)
    patches = np.stack([at_8[:, left : left + wide] for left in (round((b.x_mm - MARGIN_MM) * 8) for b in boxes)])
    return seven_share(glyphs_of(patches, CELL_W_MM, CELL_H_MM, MARGIN_MM).bar_traces)


def test_an_upright_stroke_up_to_the_border_is_a_one_and_a_bar_upon_it_makes_a_seven_likely():
    upright = [np.array([(x, 0.0), (x - 0.2, 6.5)]) for x in (2.5, 3.0, 3.5)]
    short_of_it = [stroke + (0.0, 1.0) for stroke in upright]
    barred = [np.array([(1.2, 0.0), (x, 0.0), (x - 2.0, 6.5)]) for x in (4.2, 4.5, 4.8)]
    likely = 0
    for seed in range(5):
        assert (shares_of_seven(upright, 0.45, seed) < 0.01).all()
        assert (shares_of_seven(short_of_it, 0.45, seed) == 0).all()
        likely += int((shares_of_seven(barred, 0.35, seed) > 0.015).sum())
    # A pen as wide as the rule leaves nothing but a darker rule and a leaning leg.
    assert likely >= 13  # of 15


@pytest.mark.parametrize("share", [-0.45, -0.35, 0.35, 0.45])
def test_a_digit_half_in_its_neighbours_cell_is_never_lost_in_silence(share: float):
    for seed in range(10):
        rng = np.random.default_rng([seed, 9])
        page, boxes = printed_comb(4)
        write_comb(page, boxes, "   8", writer(seed), rng, DPI)
        beside = Box(boxes[1].x_mm + share * CELL_W_MM, boxes[1].y_mm, CELL_W_MM, CELL_H_MM)
        write_comb(page, [beside], "9", writer(seed), rng, DPI)
        reading = read(page, boxes, "digits", rng)
        text, log_likelihood = comb_text(reading)
        assert "9" in text or reading.evidence or log_likelihood < np.log(0.98)
