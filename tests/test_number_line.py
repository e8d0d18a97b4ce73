"""A second opinion on what is written without cells: dates, meters, unit numbers."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from scanform.read import Instruments, Reading, read_sheet
from scanform.read.old.number_line import HEIGHT_PX, SIGNS, number_picture
from scanform.read.old.written_line import WrittenLine
from scanform.settle.old.date_forms import date_ways
from scanform.settle.old.ways_to_write import looks_of
from scanform.training import written_lines
from scanform.training.old_fields import FieldPage, make_field_page

_LINES = ("date", "hours", "date", "hours", "unit", "hours")


@lru_cache(maxsize=1)
def _instruments() -> Instruments:
    return Instruments()


@lru_cache(maxsize=2)
def _page(seed: int) -> tuple[FieldPage, list[Reading]]:
    page = make_field_page(seed, "office", _LINES)
    return page, read_sheet(page.sheet, _instruments())


def _seen(steps: np.ndarray, characters: str) -> str:
    """The best path's text."""
    best = steps.argmax(axis=1)
    kept = best[np.concatenate([[True], best[1:] != best[:-1]])]
    return "".join(characters[n - 1] for n in kept if n)


def test_most_lines_in_hands_it_never_saw_are_read_sign_by_sign() -> None:
    right = count = 0
    for seed in (8_100_001, 8_100_002):
        page, readings = _page(seed)
        for reading in readings:
            if reading.line_numbers is not None:
                count += 1
                right += (
                    _seen(reading.line_numbers, reading.line_characters) == page.truth[reading.field_id].text.lower()
                )
    assert count > 40
    # By the card 87 of 100; the line recogniser reads 6 of 10.
    assert right > 0.7 * count


def test_what_it_sees_are_probabilities_of_the_recognisers_own_characters() -> None:
    _, readings = _page(8_100_001)
    lines = [reading for reading in readings if reading.line_numbers is not None]
    for reading in lines:
        assert reading.line_numbers is not None
        assert reading.line_numbers.shape[1] == 1 + len(reading.line_characters)
        assert np.allclose(reading.line_numbers.sum(axis=1), 1, atol=1e-4)
        capitals = [n for n, sign in enumerate(reading.line_characters, start=1) if sign.isupper()]
        assert not reading.line_numbers[:, capitals].any()


@pytest.mark.parametrize(("high", "wide"), [(3, 400), (60, 3), (30, 2000), (40, 160)])
def test_a_line_of_any_shape_becomes_a_picture_that_the_network_takes(high: int, wide: int) -> None:
    ink = np.ones((high, wide), np.float32)
    line = WrittenLine(ink, ink > 0, high * wide / 64)
    picture = number_picture(line)
    assert picture.shape[0] == HEIGHT_PX
    assert picture.shape[1] % 4 == 0
    assert 0 <= picture.min() <= picture.max() <= 1
    assert len(_instruments().numbers.steps(line, _instruments().lines.alphabet)) == picture.shape[1] // 4


def test_a_text_that_one_opinion_doubts_counts_less_than_with_both_sure() -> None:
    page, readings = _page(8_100_002)
    reading = next(r for r in readings if r.line_numbers is not None and r.field_id.startswith("date"))
    text = page.truth[reading.field_id].text.lower()
    looks = looks_of(reading, date_ways().signs)
    blind = looks._replace(numbers=np.full_like(looks.numbers, 1 / looks.numbers.shape[1]))
    assert blind.scores([text])[0] < looks.scores([text])[0]


def test_lines_are_taught_in_the_signs_that_are_read() -> None:
    assert written_lines.SIGNS == SIGNS
