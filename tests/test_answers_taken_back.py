"""An answer plainly struck out with another one plainly given: the other is what the sheet says, and the field tells.

From drawn ink to the settled field, like :mod:`test_marks_of_every_kind`. The danger is the reverse: a heavy mark taken
for one struck out, and a speck beside it for the answer given instead.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_readings import plain, settle, sheet
from marked_groups import Marker, any_answer, box, in_grades, items, other, printed, taken

from scanform.form import Field
from scanform.read.taken_back import plainly_taken_back
from scanform.settle import State
from scanform.simulate import DIRT, NON_MARKS, STRIKES, Pen, draw, draw_mark, strike_out

SAFETY = "a defect taken back on a safety-critical item is for a person to see"
CRITICAL = {field.id for field in items(printed()[0]) if field.critical}


def instead_of(struck: str, how: str, marked: str | None) -> Marker:
    """``struck`` is ticked and taken back in one of STRIKES; ``marked`` is ticked instead, if any."""

    def mark(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> str | None:
        draw_mark(page, box(field, struck), "tick", pen, rng)
        strike_out(page, box(field, struck), how, pen, rng)
        if marked:
            draw_mark(page, box(field, marked), "tick", pen, rng)
        return marked

    return mark


@pytest.mark.parametrize("how", STRIKES)
def test_a_defect_taken_back_is_accepted_on_other_items_and_doubted_on_safety_critical_ones(how: str) -> None:
    found = in_grades(instead_of("defect", how, "ok"), 300 + len(how), ("office", "bitonal", "phone"), every=2)
    grave = [(f, meant) for f, meant in found if f.id in CRITICAL]
    other_items = [(f, meant) for f, meant in found if f.id not in CRITICAL]
    assert len(grave) > 10
    assert all(f.state is State.DOUBTFUL and f.value == "ok" for f, _ in grave)
    assert np.mean([SAFETY in f.reasons for f, _ in grave]) >= 0.8
    assert taken(other_items) >= 0.8
    assert all("the answer Defect was struck out" in f.reasons for f, _ in other_items if f.state is State.ACCEPTED)


def _emphasised(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator, kind: str) -> str:
    answer = any_answer(rng)
    at = box(field, answer)
    if kind == "ringed tick":
        draw_mark(page, at, "tick", pen, rng)
        draw_mark(page, at, "ring", pen, rng)
    elif kind == "tick gone over three times":
        for _ in range(3):
            draw_mark(page, at, "tick", pen, rng)
    else:
        draw_mark(page, at, kind, pen, rng)
    return answer


@pytest.mark.parametrize("grade", ["worn", "phone"])
@pytest.mark.parametrize(
    "kind", ["fill", "scribble", "marker fill", "marker cross", "ringed tick", "tick gone over three times"]
)
def test_a_heavy_mark_with_a_speck_beside_it_is_never_an_answer_taken_back(kind: str, grade: str) -> None:
    def heavy_and_dirty(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> str:
        answer = _emphasised(page, field, pen, rng, kind)
        draw_mark(page, box(field, other(answer)), str(rng.choice([*NON_MARKS, *DIRT])), pen, rng)
        return answer

    # in_grades has it that nothing is accepted but what was meant.
    found = in_grades(heavy_and_dirty, 320 + len(kind), (grade,), every=2)
    assert not any("was struck out" in reason for f, _ in found for reason in f.reasons)


@pytest.mark.parametrize("grade", ["worn", "phone", "fax"])
def test_a_speck_beside_a_struck_out_answer_is_not_the_one_given_instead(grade: str) -> None:
    def struck_and_dirty(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> None:
        instead_of("ok", str(rng.choice(STRIKES)), None)(page, field, pen, rng)
        draw_mark(page, box(field, "na"), str(rng.choice([*NON_MARKS, *DIRT])), pen, rng)

    found = in_grades(struck_and_dirty, 340 + len(grade), (grade,), every=2)
    assert all(f.state is State.DOUBTFUL for f, _ in found)


def _strokes(how: str, rng: np.random.Generator) -> list[np.ndarray]:
    """Ways to strike out that no training had, on the unit box."""
    t = np.linspace(0, 1, 60)
    if how == "wavy line":
        return [np.column_stack([-0.3 + 1.6 * t, 0.5 + 0.22 * np.sin(t * rng.uniform(14, 20))])]
    if how == "spiral":
        turn, r = t * 2 * np.pi * rng.uniform(3, 5), 0.08 + 0.72 * t
        return [np.column_stack([0.5 + r * np.cos(turn), 0.5 + r * np.sin(turn)])]
    if how == "hatching":
        return [np.array([(x - 0.3, 1.2), (x + 0.3, -0.2)]) for x in np.linspace(0, 1, 6)]
    return [np.array([(-0.45, 1.35), (1.4, -0.4)]) + rng.normal(0, 0.1, (2, 2))]


@pytest.mark.parametrize("grade", ["worn", "phone"])
@pytest.mark.parametrize("how", ["wavy line", "spiral", "hatching", "one long slash"])
def test_shapes_that_no_training_had_are_the_answer_that_stands_or_a_doubt(how: str, grade: str) -> None:
    def changed(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> str:
        answer = any_answer(rng)
        at = box(field, other(answer))
        draw_mark(page, at, "tick", pen, rng)
        draw(page, [p * at.w_mm + [at.x_mm, at.y_mm] for p in _strokes(how, rng)], pen, rng)
        draw_mark(page, box(field, answer), "tick", pen, rng)
        return answer

    found = in_grades(changed, 360 + len(how), (grade,), every=2)
    for f, _ in found:
        assert f.state is State.DOUBTFUL or any("was struck out" in reason for reason in f.reasons)


def test_ink_in_all_three_boxes_is_a_doubt_however_plain_the_one_that_stands() -> None:
    def three(page: np.ndarray, field: Field, pen: Pen, rng: np.random.Generator) -> None:
        instead_of("ok", "scribbled over", "na")(page, field, pen, rng)
        draw_mark(page, box(field, "defect"), "tick", pen, rng)

    assert all(f.state is State.DOUBTFUL for f, _ in in_grades(three, 380, ("office", "bitonal"), every=3))


def test_a_hand_that_nothing_is_known_of_takes_nothing_back() -> None:
    # Every answer of the sheet is a changed one: there are no other marks to hold them beside.
    found = in_grades(instead_of("na", "scribbled over", "ok"), 390, ("office",))
    assert all(f.state is State.DOUBTFUL for f, _ in found)


STRUCK, MARKED, CLEAN = (0.0, 0.005, 0.995), (0.0, 0.995, 0.005), (0.999, 0.001, 0.0)
WAY = np.array([2, 1, 0])


def plainly(
    states: tuple[tuple[float, ...], ...] = (STRUCK, MARKED, CLEAN),
    third_mm2: float = 0.0,
    extent: float = 1.0,
    area: float = 1.0,
) -> bool:
    return plainly_taken_back(WAY, np.array(states), np.array([9.0, 4.0, third_mm2]), extent, area)


def test_an_answer_counts_as_taken_back_only_if_every_box_of_the_item_is_plain() -> None:
    assert plainly()
    assert not plainly((STRUCK, (0.1, 0.9, 0.0), CLEAN))
    assert not plainly(((0.0, 0.1, 0.9), MARKED, CLEAN))
    assert not plainly((STRUCK, MARKED, (0.9, 0.1, 0.0)))
    assert not plainly(third_mm2=0.6)


def test_the_answer_given_instead_is_a_mark_like_the_sheets_others() -> None:
    assert not plainly(extent=0.3)
    assert not plainly(area=0.2)
    assert not plainly(area=3.0)


NOTE = "the answer Defect was struck out"


def changed(field_id: str, value: str, probability: float = 0.999, struck: str = "defect"):
    return replace(plain(field_id, value, probability), notes=(NOTE,), taken_back=struck)


def test_what_was_struck_out_stands_with_the_accepted_answer() -> None:
    field = settle(changed("item.leaks", "ok"))["item.leaks"]
    assert (field.value, field.state, field.reasons) == ("ok", State.ACCEPTED, (NOTE,))


def test_a_change_that_is_less_sure_than_any_other_choice_may_be_is_a_doubt() -> None:
    assert settle(changed("item.leaks", "ok", 0.94))["item.leaks"].state is State.DOUBTFUL


def test_only_a_defect_taken_back_on_a_safety_critical_item_is_for_a_person() -> None:
    critical = next(f.id for f in items(sheet()) if f.critical)
    for value in ("ok", "na"):
        field = settle(changed(critical, value))[critical]
        assert (field.value, field.state, field.reasons) == (value, State.DOUBTFUL, (SAFETY, NOTE))
    assert settle(changed(critical, "ok", struck="na"))[critical].state is State.ACCEPTED


def test_a_decision_that_was_changed_is_for_a_person() -> None:
    field = settle(replace(plain("fit", "fit"), taken_back="parked"))["fit"]
    assert (field.state, field.reasons) == (State.DOUBTFUL, ("a decision that was changed is for a person to see",))
