"""Damage to paper and to pictures of it, as the simulator makes it, and what becomes of sheets that have it."""

from __future__ import annotations

import numpy as np
import pytest

from scanform.simulate.damage import PAPER_DAMAGES
from scanform.simulate.shots import laid_out, on_copy, photo_at
from scanform.training.bench_table import silent
from scanform.training.damaged import DamageTrial, damage_rows, damage_trial
from scanform.training.trial import FieldTrial

SEED = 8_710_000
DPI = 100.0


@pytest.fixture(scope="module")
def page() -> np.ndarray:
    """A page with a frame and rules on it."""
    paper = np.full((1169, 827), 255, np.uint8)
    paper[100:1069:40, 80:747] = 0
    paper[100:1069, 80:747:90] = 0
    return paper


@pytest.mark.parametrize("name", list(PAPER_DAMAGES))
def test_damage_grows_with_its_strength_and_leaves_the_page_it_was_given(name: str, page: np.ndarray) -> None:
    before = page.copy()
    weak, strong = (
        np.mean(
            [
                np.abs(
                    PAPER_DAMAGES[name](page, DPI, np.random.default_rng([SEED, n]), strength).astype(int) - page
                ).mean()
                for n in range(4)
            ]
        )
        for strength in (0.1, 1.0)
    )
    assert (page == before).all()
    assert 0 < weak < strong
    again = PAPER_DAMAGES[name](page, DPI, np.random.default_rng([SEED, 0]), 1.0)
    assert (again == PAPER_DAMAGES[name](page, DPI, np.random.default_rng([SEED, 0]), 1.0)).all()
    assert (again.shape, again.dtype) == (page.shape, page.dtype)


def line_angle_deg(to_px, size_mm: tuple[float, float]) -> float:
    """By how much the two long sides of the page run together in the picture."""
    w, h = size_mm
    corners = to_px(np.array([[0, 0], [0, h], [w, 0], [w, h]]))
    a, b = corners[1] - corners[0], corners[3] - corners[2]
    return float(np.degrees(np.arccos(np.clip(a @ b / np.linalg.norm(a) / np.linalg.norm(b), -1, 1))))


def test_a_photo_from_straight_above_keeps_parallels_and_one_from_the_side_does_not(page: np.ndarray) -> None:
    rng = np.random.default_rng(SEED)
    size_mm = (page.shape[1] * 25.4 / DPI, page.shape[0] * 25.4 / DPI)
    assert line_angle_deg(photo_at(page, DPI, rng, 0.0, 0.0, 800).maps[0], size_mm) < 0.01
    steep = [
        line_angle_deg(photo_at(page, DPI, np.random.default_rng([SEED, n]), 35.0, 0.0, 800).maps[0], size_mm)
        for n in range(6)
    ]
    assert max(steep) > 5


def test_copies_and_laid_out_sheets_say_where_their_points_went(page: np.ndarray) -> None:
    copy, to_copy = on_copy(page, DPI, 0.71)
    corner = np.array([[80, 100]]) * 25.4 / DPI
    x, y = np.round(to_copy(corner)[0] * DPI / 25.4).astype(int)
    assert copy[y - 2 : y + 4, x - 2 : x + 4].min() < 130
    assert copy[y - 20 : y - 4, x - 20 : x - 4].min() > 200
    table, paper, (here,) = laid_out([page], [(150.0, 200.0, 90.0)], (320, 400), DPI, 60)
    x, y = np.round(here(corner)[0] * DPI / 25.4).astype(int)
    assert table[y - 3 : y + 4, x - 3 : x + 4].min() < 130
    assert paper[0, 0] == 0
    assert table[0, 0] == 60


@pytest.mark.parametrize("kind", ["photo, 20 to 35 degrees", "two sheets in one photo", "folded corner"])
def test_a_damaged_sheet_is_found_as_what_it_is_and_nothing_accepted_is_wrong(kind: str) -> None:
    trial = damage_trial(kind, SEED)
    assert (trial.located, trial.strange) == (trial.sheets, ())
    assert np.percentile(trial.errors_mm, 95) < 0.5
    assert sum(field.accepted for field in trial.fields) > 30 * trial.sheets
    assert [field.id for field in trial.fields if silent(field)] == []


def test_the_table_counts_what_was_lost_and_what_was_taken_for_something_else() -> None:
    ok = FieldTrial("item.horn", "choice", True, "ok", "ok", True, False, 0.999, 1.0, False, True, None, 0.999)
    wrong = FieldTrial("item.horn", "choice", True, "ok", "na", False, False, 0.999, 1.0, False, True, None, 0.999)
    trials = [
        DamageTrial("staples", 1, 1, 1, (), (0.1,), (ok, wrong), ()),
        DamageTrial("staples", 2, 1, 0, ("serial A instead of B",), (), (), ("unreadable: why",)),
    ]
    row = damage_rows(trials).splitlines()[2]
    assert row == "| staples | 2 | 50.0 % (1) | 1 of 2 | 0.100 mm | 100.0 % (2) | 1 |"
