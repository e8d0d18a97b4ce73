"""What the sheets before and after one in its stack say about its day."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from scanform.settle.old.filing_order import neighbour_weight, out_of_place

FIRST = date(2024, 3, 4)


def on(days: int) -> date:
    return FIRST + timedelta(days=days)


def test_in_a_binder_kept_in_order_a_sheet_is_of_the_days_of_those_beside_it() -> None:
    row = [on(n // 3) for n in range(45)]
    weight = neighbour_weight(row, 22)
    assert weight is not None
    assert weight(on(7)) > 100 * weight(on(17))
    assert weight(on(7)) > 100 * weight(on(-3))


def test_a_binder_whose_newest_sheet_lies_on_top_is_in_order_too() -> None:
    row = [on(-n) for n in range(30)]
    weight = neighbour_weight(row, 12)
    assert weight is not None
    assert max(range(-30, 1), key=lambda n: weight(on(n))) == -12


def test_sheets_in_no_order_say_next_to_nothing_about_each_other() -> None:
    days = np.random.default_rng(8_440_001).permutation(120)
    weight = neighbour_weight([on(int(n)) for n in days], 60)
    if weight is not None:
        assert max(weight(on(n)) for n in range(120)) < 0.01


def test_sheets_in_doubt_are_passed_over_and_few_say_nothing() -> None:
    row = [on(n // 3) if n % 2 else None for n in range(45)]
    weight = neighbour_weight(row, 23)  # its own date is left out
    assert weight is not None
    assert weight(on(7)) > 100 * weight(on(17))
    assert neighbour_weight([on(0), on(1), on(2), on(3)], 2) is None
    assert neighbour_weight([], 0) is None


def test_the_first_sheet_of_a_stack_is_told_by_those_after_it() -> None:
    weight = neighbour_weight([None, *(on(n) for n in range(20))], 0)
    assert weight is not None
    assert max(range(-10, 20), key=lambda n: weight(on(n))) == -1


def test_a_day_that_does_not_suit_its_neighbours_is_told_where_the_stack_is_in_order() -> None:
    row = [on(n // 3) for n in range(45)]
    assert out_of_place(row, 22, on(-3))
    assert not out_of_place(row, 22, on(7))
    mixed = [on(int(n)) for n in np.random.default_rng(8_440_001).permutation(120)]
    assert not out_of_place(mixed, 60, on(3))
    assert not out_of_place([], 0, on(3))
