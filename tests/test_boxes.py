"""Tick boxes: what is in them, and what a group of them answers, on printed, marked and scanned sheets.

No outside source says how people tick boxes. The shapes are the simulator's own and, as a check on it, plain straight
lines; the seeds are in none of the sets that the network was trained, calibrated or measured on.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
import pytest

from scanform.form import Answer, Box, Field, FieldKind, Layout, Paper, SheetCode, find_template, lay_out, serial_number
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.press import Sheet, sheets_pdf
from scanform.read.boxes import BOX_STATES, MARGIN_MM, PX_PER_MM, MarkNet, box_ink_mm2, box_maps, group_posterior
from scanform.read.choices import read_choices
from scanform.read.types import Reading
from scanform.simulate import ANSWER_MARKS, DPI, Pen, draw_mark, random_pen, render_pdf, scan, strike_out
from scanform.simulate.pens import PEN_KINDS

SEED = 880_000
SURE = 0.99
GRADES = ("office", "bitonal")
Marker = Callable[[np.ndarray, Field, np.random.Generator], str | None]

_layout = lay_out(find_template("site-machine"), Paper.A4)
_code = SheetCode("site-machine", 1, "A", None, None, serial_number("TEST77", 1, 1))
_blank = render_pdf(sheets_pdf(_layout, [Sheet(_code)]), DPI)[0]
_known = KnownLayouts([_layout.template])


@pytest.fixture(scope="module")
def net() -> MarkNet:
    return MarkNet()


def groups(layout: Layout) -> list[Field]:
    return [f for f in layout.fields if f.kind is FieldKind.CHOICE]


def box(field: Field, answer: str) -> Box:
    return next(a.box_mm for a in field.answers if a.answer == answer)


def scanned(marker: Marker, grade: str, number: int) -> tuple[LocatedSheet, list[Field], list[str | None]]:
    """A sheet with ``marker``'s work in each group of boxes; what each group then answers."""
    rng = np.random.default_rng([SEED, number])
    page, fields = _blank.copy(), groups(_layout)
    truth = [marker(page, field, rng) for field in fields]
    sheet = locate(Page("", 1, "", scan(page, grade, rng).pixels), _known)
    assert isinstance(sheet, LocatedSheet)
    return sheet, fields, truth


def readings(net: MarkNet, marker: Marker, number: int) -> list[tuple[Reading, str | None]]:
    """Two sheets' groups as read, one scanned in grey and one in black and white, with what was meant."""
    found = []
    for n, grade in enumerate(GRADES):
        sheet, fields, truth = scanned(marker, grade, number + n)
        found += list(zip(read_choices(sheet, fields, net), truth, strict=True))
    return found


def pen(kind: str, rng: np.random.Generator) -> Pen:
    while True:
        found = random_pen(rng)
        if found.kind == kind:
            return found


def any_pen(rng: np.random.Generator) -> Pen:
    """Any pen but a pencil, which a black-and-white scan may lose."""
    return pen(str(rng.choice([kind for kind in PEN_KINDS if kind != "pencil"])), rng)


def marks(kind: str) -> Marker:
    """Each group gets one mark of ``kind``."""

    def mark(page: np.ndarray, field: Field, rng: np.random.Generator) -> str:
        answer = str(rng.choice(["ok", "defect", "na"]))
        draw_mark(page, box(field, answer), kind, any_pen(rng), rng)
        return answer

    return mark


def surely_right(found: list[tuple[Reading, str | None]]) -> int:
    return sum(
        r.alternatives[0].value == truth and r.alternatives[0].probability >= SURE and not r.evidence
        for r, truth in found
    )


def silently_wrong(found: list[tuple[Reading, str | None]]) -> list[Reading]:
    return [
        r
        for r, truth in found
        if r.alternatives[0].value != truth and r.alternatives[0].probability >= SURE and not r.evidence
    ]


def test_every_usual_way_to_mark_a_box_is_an_answer(net: MarkNet) -> None:
    kinds = list(ANSWER_MARKS)
    used: list[str] = []

    def each_in_turn(page: np.ndarray, field: Field, rng: np.random.Generator) -> str:
        used.append(kinds[len(used) % len(kinds)])
        return str(marks(used[-1])(page, field, rng))

    found = readings(net, each_in_turn, 10) + readings(net, each_in_turn, 12)
    assert not silently_wrong(found)
    for kind in kinds:
        of = [read for read, how in zip(found, used, strict=True) if how == kind]
        assert surely_right(of) >= len(of) - 1, kind  # a dot may be a touch of the pen, a scribble a mark taken back
    assert surely_right(found) >= 0.97 * len(found)


def test_a_tick_that_runs_into_the_next_box_answers_only_its_own(net: MarkNet) -> None:
    def long_tick(page: np.ndarray, field: Field, rng: np.random.Generator) -> str:
        at = box(field, "ok")
        tip = (at.right_mm + rng.uniform(3.6, 5.2), at.y_mm + rng.uniform(-1.5, 1.0))
        path = [(at.x_mm + 0.7, at.y_mm + 2.5), (at.x_mm + 2.0, at.bottom_mm - 0.5), tip]
        plain_line(page, path, rng)
        return "ok"

    found = readings(net, long_tick, 40)
    assert all(r.alternatives[0].value == truth for r, truth in found)
    assert surely_right(found) >= 0.9 * len(found)  # a long end in the next box is shown to a person


def plain_line(page: np.ndarray, path: list[tuple[float, float]], rng: np.random.Generator) -> None:
    """A line of one width and grey, drawn without the simulator's pen."""
    scale = DPI / 25.4
    points = np.round((np.array(path) * scale - 0.5) * 16).astype(np.int32)
    thick = max(2, round(rng.uniform(0.25, 0.8) * scale))
    cv2.polylines(page, [points], False, float(rng.uniform(0, 110)), thick, cv2.LINE_AA, 4)


def test_plain_straight_ticks_and_crosses_are_read_as_well_as_the_simulated_pen_s(net: MarkNet) -> None:
    def straight(page: np.ndarray, field: Field, rng: np.random.Generator) -> str:
        answer = str(rng.choice(["ok", "defect", "na"]))
        x, y, w, h = box(field, answer)
        if rng.random() < 0.5:
            plain_line(page, [(x + 0.2 * w, y + 0.5 * h), (x + 0.4 * w, y + 0.85 * h), (x + 0.9 * w, y + 0.1 * h)], rng)
        else:
            plain_line(page, [(x + 0.1 * w, y + 0.1 * h), (x + 0.9 * w, y + 0.9 * h)], rng)
            plain_line(page, [(x + 0.9 * w, y + 0.1 * h), (x + 0.1 * w, y + 0.9 * h)], rng)
        return answer

    found = readings(net, straight, 50)
    assert surely_right(found) == len(found)


def test_an_untouched_group_has_no_answer(net: MarkNet) -> None:
    found = readings(net, lambda _page, _field, _rng: None, 60)
    assert all(r.alternatives[0].value is None and not r.evidence for r, _ in found)
    assert all(r.alternatives[1].probability < 0.5 for r, _ in found)


def test_the_workshop_s_empty_boxes_are_taken_as_empty_without_a_doubt(net: MarkNet) -> None:
    # Five decisions a sheet that nobody touches for weeks must not wait for a person each time.
    found = []
    for n, grade in enumerate(GRADES):
        sheet, _, _ = scanned(lambda _page, _field, _rng: None, grade, 64 + n)
        repairs = [f for f in _layout.fields if f.id.endswith(".repair")]
        found += [(r, None) for r in read_choices(sheet, repairs, net)]
    assert len(found) >= 8
    assert surely_right(found) == len(found)


def test_a_speck_of_dirt_is_no_answer_and_takes_none_away(net: MarkNet) -> None:
    def speck(page: np.ndarray, field: Field, rng: np.random.Generator) -> str:
        for answer in ("ok", "defect", "na"):
            draw_mark(page, box(field, answer), "speck", any_pen(rng), rng)
        draw_mark(page, box(field, "ok"), "tick", any_pen(rng), rng)
        return "ok"

    found = readings(net, speck, 70)
    assert all(r.alternatives[0].value == truth for r, truth in found)
    assert surely_right(found) >= 0.85 * len(found)  # all three boxes of each group are dirty, some of them badly


def test_an_answer_struck_out_and_changed_gives_the_one_that_stands_and_is_shown_to_a_person(net: MarkNet) -> None:
    def changed(page: np.ndarray, field: Field, rng: np.random.Generator) -> str:
        hand = any_pen(rng)
        draw_mark(page, box(field, "ok"), str(rng.choice(["tick", "cross", "slash"])), hand, rng)
        strike_out(page, box(field, "ok"), str(rng.choice(["scribbled over", "lined through"])), hand, rng)
        draw_mark(page, box(field, "defect"), "tick", hand, rng)
        return "defect"

    found = readings(net, changed, 80)
    assert not silently_wrong(found)
    assert all(r.evidence for r, _ in found)
    assert sum("struck out and Defect marked instead" in "; ".join(r.evidence) for r, _ in found) >= 0.95 * len(found)
    assert np.mean([r.alternatives[0].value == "defect" for r, _ in found]) >= 0.95


def test_both_answers_ticked_is_a_doubt_that_names_them(net: MarkNet) -> None:
    def both(page: np.ndarray, field: Field, rng: np.random.Generator) -> None:
        hand = any_pen(rng)
        for answer in ("ok", "defect"):
            draw_mark(page, box(field, answer), str(rng.choice(["tick", "cross"])), hand, rng)

    found = readings(net, both, 90)
    assert all("OK and Defect are both marked" in r.evidence for r, _ in found)
    assert all(r.alternatives[0].probability < SURE for r, _ in found)


def test_a_mark_taken_back_with_nothing_in_its_place_is_never_taken_as_an_answer(net: MarkNet) -> None:
    def taken_back(page: np.ndarray, field: Field, rng: np.random.Generator) -> None:
        hand = any_pen(rng)
        draw_mark(page, box(field, "ok"), "tick", hand, rng)
        strike_out(page, box(field, "ok"), "lined through", hand, rng)

    found = readings(net, taken_back, 100)
    assert not silently_wrong(found)
    assert np.mean([any("struck out and nothing else" in e for e in r.evidence) for r, _ in found]) >= 0.9


def test_a_pencil_tick_is_read_in_grey_and_never_turns_into_another_answer(net: MarkNet) -> None:
    def pencil(page: np.ndarray, field: Field, rng: np.random.Generator) -> str:
        answer = str(rng.choice(["ok", "defect", "na"]))
        draw_mark(page, box(field, answer), "faint tick", pen("pencil", rng), rng)
        return answer

    sheet, fields, truth = scanned(pencil, "office", 110)
    found = list(zip(read_choices(sheet, fields, net), truth, strict=True))
    assert all(r.alternatives[0].value in (t, None) for r, t in found)
    assert np.mean([r.alternatives[0].value == t for r, t in found]) >= 0.9


def test_a_box_blacked_out_past_its_border_is_not_taken_for_an_empty_one() -> None:
    # Where ink covers a whole patch there is no paper in it to compare the ink with.
    def blacked_out(page: np.ndarray, field: Field, rng: np.random.Generator) -> None:
        x, y, w, h = box(field, "defect").grown(2.5)
        corners = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]) * DPI / 25.4
        cv2.fillPoly(page, [np.round(corners).astype(np.int32)], float(rng.uniform(0, 120)))

    sheet, fields, _ = scanned(blacked_out, "office", 120)
    boxes = [box(f, "defect") for f in fields]
    everything = [a.box_mm for f in fields for a in f.answers]
    maps = box_maps(sheet.patches(everything, MARGIN_MM, PX_PER_MM), sheet)
    dark = maps[[everything.index(b) for b in boxes]]
    assert (box_ink_mm2(dark) > 10).all()  # the inside of the border is some 15 mm2


def test_the_amount_of_ink_is_measured_in_square_millimetres(net: MarkNet) -> None:
    # A 2 mm square of black ink is 4 mm2.
    def square(page: np.ndarray, field: Field, _rng: np.random.Generator) -> str:
        x, y = box(field, "ok").centre_mm
        corners = np.array([[x - 1, y - 1], [x + 1, y - 1], [x + 1, y + 1], [x - 1, y + 1]]) * DPI / 25.4
        cv2.fillPoly(page, [np.round(corners).astype(np.int32)], 10)
        return "ok"

    sheet, fields, _ = scanned(square, "office", 130)
    areas = [r.ink_mm2 for r in read_choices(sheet, fields, net)]
    assert np.median(areas) == pytest.approx(4.0, abs=0.6)


def test_boxes_are_called_alike_however_many_are_looked_at_together(net: MarkNet) -> None:
    sheet, fields, _ = scanned(marks("tick"), "office", 140)
    maps = box_maps(sheet.patches([a.box_mm for f in fields for a in f.answers], MARGIN_MM, PX_PER_MM), sheet)
    together = net.probabilities(maps)
    alone = np.concatenate([net.probabilities(maps[n : n + 1]) for n in range(len(maps))])
    assert together.shape == (len(maps), len(BOX_STATES))
    np.testing.assert_allclose(together.sum(axis=1), 1, atol=1e-9)
    np.testing.assert_allclose(together, alone, atol=1e-4)


def test_a_fill_that_might_be_a_scribbled_out_tick_stands_if_nothing_else_is_marked() -> None:
    unsure = np.array([[0.0, 0.5, 0.5], [0.999, 0.0005, 0.0005], [0.999, 0.0005, 0.0005]])
    configurations, posterior = group_posterior(unsure)
    assert tuple(configurations[posterior.argmax()]) == (1, 0, 0)
    beside_a_tick = unsure[[0, 0, 1]]
    beside_a_tick[1] = [0.0, 0.999, 0.001]
    configurations, posterior = group_posterior(beside_a_tick)
    assert posterior.max() < SURE  # taken back, or two answers: a person decides
    assert configurations[posterior.argmax()][0] in (1, 2)
    assert configurations[posterior.argmax()][1] == 1


@pytest.mark.parametrize("boxes", [2, 3, 4])
def test_the_ways_a_group_can_be_are_all_thought_of_and_sum_to_one(boxes: int) -> None:
    configurations, posterior = group_posterior(np.full((boxes, 3), 1 / 3))
    assert len(configurations) == 3**boxes
    assert posterior.sum() == pytest.approx(1)
    # Before looking, one mark is the usual case.
    single = ((configurations == 1).sum(axis=1) == 1) & ~(configurations == 2).any(axis=1)
    assert posterior[single].sum() > 0.9


def test_a_group_of_two_boxes_is_read_like_one_of_three(net: MarkNet) -> None:
    def fit(page: np.ndarray, field: Field, rng: np.random.Generator) -> str:
        answer = str(rng.choice(["ok", "defect"]))
        draw_mark(page, box(field, answer), "tick", any_pen(rng), rng)
        return answer

    sheet, fields, truth = scanned(fit, "office", 150)
    pairs = [
        Field(f.id, FieldKind.DECISION, f.box_mm, answers=tuple(Answer(a.answer, a.box_mm) for a in f.answers[:2]))
        for f in fields
    ]
    found = list(zip(read_choices(sheet, pairs, net), truth, strict=True))
    assert surely_right(found) >= len(found) - 1
