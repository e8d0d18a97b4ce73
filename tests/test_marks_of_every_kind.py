"""Marks of every kind, from drawn ink to the settled field: the table "Mark on the paper" of DEVELOPERS.md, row by row.

No outside source says how people tick boxes: the shapes are the simulator's, by several pens, in all five scan grades;
the seeds are in none of the sets that the network was trained, calibrated or measured on. Whatever the mark, nothing
may be accepted that was not meant.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_readings import plain, settle
from marked_groups import (
    GRADES,
    INK,
    Marker,
    any_answer,
    box,
    doubted,
    in_grades,
    items,
    other,
    pen_of,
    printed,
    settled,
    taken,
)

from scanform.form import Field
from scanform.settle import SettledField, State
from scanform.simulate import ANSWER_MARKS, DIRT, NON_MARKS, ODD_STRIKES, STRIKES, Pen, draw, draw_mark, strike_out

GREY = ("office", "worn", "phone")
Found = list[tuple[SettledField, str | None]]


def two_grades(kind: str) -> tuple[str, ...]:
    """Two of the grades, others for each kind, so that a row of kinds is seen in all five."""
    kinds = [*STRIKES, *ODD_STRIKES, *NON_MARKS, *DIRT]
    return tuple(GRADES[(2 * kinds.index(kind) + n) % len(GRADES)] for n in (0, 1))


def one(kind: str) -> Marker:
    """Each item gets one mark of ``kind``."""

    def mark(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> str:
        answer = any_answer(rng)
        draw_mark(page, box(field, answer), kind, pen, rng)
        return answer

    return mark


@pytest.mark.parametrize("kind", [*ANSWER_MARKS, "dash"])
def test_a_tick_a_cross_a_slash_a_fill_or_a_ring_round_the_box_is_its_answer(kind: str) -> None:
    # A sheet of scribbles looks like a sheet of marks taken back, and a dot like a speck: a few are doubted.
    assert taken(in_grades(one(kind), 10 + len(kind))) >= (0.9 if kind in ("scribble", "dot", "fill") else 0.97)


@pytest.mark.parametrize("kind", ["half-missed tick", "half-missed cross"])
def test_a_mark_that_misses_the_box_by_half_is_its_answer_or_a_doubt(kind: str) -> None:
    assert taken(in_grades(one(kind), 30, every=3)) >= 0.75


@pytest.mark.parametrize("kind", ["faint tick", "faint cross"])
def test_faint_pencil_is_an_answer_where_the_scan_shows_it(kind: str) -> None:
    assert taken(in_grades(one(kind), 40, ("office", "office", "phone"), kinds=("pencil",))) >= 0.9


def test_pencil_that_a_black_and_white_scan_has_lost_is_a_doubt_and_never_an_empty_item() -> None:
    found = in_grades(one("faint tick"), 42, ("bitonal", "fax", "bitonal"), kinds=("pencil",))
    assert all(f.state is State.ACCEPTED or f.reasons for f, _ in found)


@pytest.mark.parametrize("kind", ["broken tick", "broken cross"])
def test_a_ballpoint_that_skips_still_answers(kind: str) -> None:
    assert taken(in_grades(one(kind), 50, kinds=("black ballpoint", "blue ballpoint"))) >= 0.93


@pytest.mark.parametrize("kind", ["marker tick", "marker cross"])
def test_a_marker_that_bleeds_answers_only_its_own_box(kind: str) -> None:
    assert taken(in_grades(one(kind), 60)) >= 0.95


def test_a_box_filled_with_a_marker_past_its_border_is_its_answer_or_perhaps_one_taken_back() -> None:
    found = in_grades(one("marker fill"), 70, every=3)
    assert all(f.value == meant or any("struck out" in reason for reason in f.reasons) for f, meant in found)
    assert taken(found) + doubted(found, "struck out", "taken back", "clear enough", "may also say") >= 0.95
    assert taken(found) >= 0.2


def test_a_tick_that_runs_into_the_next_box_answers_its_own_and_says_so() -> None:
    found = in_grades(one("long tick"), 80, every=2)
    assert taken(found) >= 0.9
    assert any("runs into the box" in reason for f, _ in found if f.state is State.ACCEPTED for reason in f.reasons)


def test_a_tick_that_runs_up_into_the_item_above_answers_its_own_and_leaves_that_one_alone() -> None:
    assert taken(in_grades(one("tall tick"), 82)) >= 0.95


@pytest.mark.parametrize("how", [*STRIKES, *ODD_STRIKES])
def test_a_struck_out_answer_with_another_chosen_is_the_other_and_says_so(how: str) -> None:
    def changed(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> str:
        answer = any_answer(rng)
        draw_mark(page, box(field, other(answer)), str(rng.choice(["tick", "cross", "slash"])), pen, rng)
        strike_out(page, box(field, other(answer)), how, pen, rng)
        draw_mark(page, box(field, answer), "tick", pen, rng)
        return answer

    found = in_grades(changed, 100 + len(how), two_grades(how), every=2)
    for f, meant in found:
        assert f.reasons, (f.id, meant)
        assert f.state is State.DOUBTFUL or any("was struck out" in reason for reason in f.reasons)
    assert doubted(found, "struck out") + taken(found) >= 0.9
    assert np.mean([f.value == meant for f, meant in found]) >= 0.9
    # A long stroke through one box reaches into the next, and then there is ink in all three.
    assert taken(found) >= (0.25 if how in ("crossed out", "ringed and lined through") else 0.75)


@pytest.mark.parametrize("how", [*STRIKES, *ODD_STRIKES])
def test_a_box_scribbled_out_with_nothing_in_its_place_is_a_doubt(how: str) -> None:
    def taken_back(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> None:
        draw_mark(page, box(field, "ok"), str(rng.choice(["tick", "cross"])), pen, rng)
        strike_out(page, box(field, "ok"), how, pen, rng)

    found = in_grades(taken_back, 120 + len(how), two_grades(how), every=4)
    assert all(f.state is State.DOUBTFUL for f, _ in found)
    assert doubted(found, "struck out and nothing else marked", "taken back", "clear enough", "may also say") == 1


def test_two_answers_marked_are_a_doubt_that_names_both() -> None:
    def both(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> None:
        for answer in ("ok", "na"):
            draw_mark(page, box(field, answer), str(rng.choice(["tick", "cross"])), pen, rng)

    assert doubted(in_grades(both, 140, every=2), "OK and N/A are both marked") >= 0.98


def test_an_item_without_a_mark_is_a_doubt() -> None:
    found = in_grades(lambda _page, _field, _pen, _rng: None, 150, every=3)
    assert doubted(found, "no answer is marked") == 1


@pytest.mark.parametrize("kind", [*NON_MARKS, *DIRT])
def test_dirt_and_toner_beside_an_answer_take_nothing_from_it(kind: str) -> None:
    def dirty(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> str:
        answer = any_answer(rng)
        draw_mark(page, box(field, answer), "tick", pen, rng)
        draw_mark(page, box(field, other(answer)), kind, pen, rng)
        return answer

    found = in_grades(dirty, 160 + len(kind), two_grades(kind), every=2)
    # A grain of 1 mm or a touch of the pen may be a second answer: those are shown to a person.
    assert taken(found) >= (0.75 if kind in ("pen touch", "grit") else 0.9)
    assert all(f.value == meant for f, meant in found if f.value is not None)


@pytest.mark.parametrize("kind", [*NON_MARKS, *DIRT])
def test_dirt_and_toner_alone_are_no_answer(kind: str) -> None:
    def dirt(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> None:
        for answer in ("ok", "defect"):
            draw_mark(page, box(field, answer), kind, pen, rng)

    found = in_grades(dirt, 180 + len(kind), two_grades(kind), every=3)
    assert all(f.state is State.DOUBTFUL for f, _ in found)


# One line drawn down a column. Where it runs is given in mm from the middle of the OK boxes, by item.


def line_down(seed: int, grade: str, aside_mm: dict[int, float], first: int, last: int, cut_mm: float = 1.0) -> Found:
    """A sheet ticked OK, but for items ``first`` to ``last`` of its left half, which have one line down instead.

    ``aside_mm``: how far the line runs beside the middle at some items. ``cut_mm``: where it ends, from the upper edge
    of the last box. Only those items come back.
    """
    rng = np.random.default_rng([885_000, seed])
    layout, blank, _ = printed()
    page, pen = blank.copy(), pen_of(rng, INK)
    rows = items(layout)
    for n, field in enumerate(rows):
        if not first <= n <= last:
            draw_mark(page, box(field, "ok"), "tick", pen, rng)
    path = []
    for n in range(first, last + 1):
        at = box(rows[n], "ok")
        x = at.centre_mm[0] + aside_mm.get(n, 0.0) + rng.normal(0, 0.2)
        top = at.y_mm + (1.0 if n == first else -0.5)
        path += [(x, top), (x, at.y_mm + cut_mm if n == last else at.bottom_mm + 0.5)]
    draw(page, [np.array(path)], pen, rng)
    return [(f, "ok") for f in settled(page, grade, rng)[first : last + 1]]


@pytest.mark.parametrize("grade", GRADES)
def test_one_line_drawn_down_a_column_answers_every_box_that_it_passes_and_says_so(grade: str) -> None:
    found = line_down(len(grade), grade, {}, 1, 6, cut_mm=4.2)
    assert taken(found) == 1
    assert all(any("one line is drawn down 6 boxes and passes OK" in r for r in f.reasons) for f, _ in found)


@pytest.mark.parametrize("grade", GRADES)
@pytest.mark.parametrize("aside_mm", [-3.2, 3.2, 2.6])
def test_a_box_that_the_line_runs_beside_is_not_answered_by_it(grade: str, aside_mm: float) -> None:
    found = line_down(20 + len(grade), grade, {4: aside_mm}, 1, 7, cut_mm=4.2)
    beside = found.pop(3)[0]
    assert beside.state is State.DOUBTFUL
    if abs(aside_mm) > 3:  # clear of the border; on it, nothing is clear
        told = ("does not visibly pass OK", "no answer is marked", "the mark at OK is not clear")
        assert any(words in reason for words in told for reason in beside.reasons)
    assert np.mean([f.value == "ok" for f, _ in found]) == 1


@pytest.mark.parametrize("grade", GRADES)
def test_a_line_that_ends_at_the_edge_of_a_box_does_not_answer_it(grade: str) -> None:
    found = line_down(40 + len(grade), grade, {}, 1, 6, cut_mm=0.3)
    assert found[-1][0].state is State.DOUBTFUL
    assert taken(found[:-1]) == 1


def test_a_note_stays_with_an_accepted_field_and_stands_behind_the_reasons_of_a_doubtful_one() -> None:
    noted = replace(plain("item.reflectors", "ok"), notes=("the mark at OK runs into the box Defect",))
    field = settle(noted)["item.reflectors"]
    assert (field.state, field.reasons) == (State.ACCEPTED, noted.notes)
    field = settle(replace(noted, evidence=("OK and N/A are both marked",)))["item.reflectors"]
    assert (field.state, field.reasons) == (State.DOUBTFUL, ("OK and N/A are both marked", *noted.notes))
