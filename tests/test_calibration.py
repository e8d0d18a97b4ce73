"""Calibrated confidences and acceptance thresholds: what they promise, on made-up fields whose truth is known."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from scanform.settle import Calibration, calibration, calibration_for, fewest_for, upper_bound
from scanform.settle.calibration import (
    CAP,
    LEAST_THRESHOLD,
    Step,
    acceptance_threshold,
    from_json,
    joint_thresholds,
    log_odds,
    steps_of,
    thresholds,
)
from scanform.training.maps import fit
from scanform.training.reliability import expected_calibration_error

OFFICE, BITONAL, WORN, PHONE, FAX = range(5)


def fields(n: int, grade: int, optimism: float, seed: int) -> np.ndarray:
    """Fields of one grade: the raw log odds overstate the true ones by ``optimism``; float (n, 4) as fitting takes."""
    rng = np.random.default_rng(seed)
    true = rng.normal(4.5, 2.0, n)
    right = rng.random(n) < 1 / (1 + np.exp(-true))
    raw = np.clip(true + optimism, -11.5, 11.5)
    return np.column_stack([raw, np.full(n, 11.5), right, np.full(n, grade)])


def fitted(*tables: np.ndarray, kind: str = "date") -> Calibration:
    return from_json(json.loads(json.dumps(fit({kind: np.concatenate(tables)}, 1, 0))))


# Maps


def test_a_grade_that_is_read_with_false_confidence_is_brought_down_and_the_others_are_not() -> None:
    found = fitted(fields(4000, OFFICE, 0.0, 1), fields(4000, FAX, 3.0, 2))
    raw = 0.995
    office, fax = found.confidence("date", raw, 1.0, "office"), found.confidence("date", raw, 1.0, "fax")
    # By construction a raw 0.995 on the fax has log odds of 5.3 - 3.
    true = 1 / (1 + math.exp(3.0 - log_odds(raw)))
    assert office == pytest.approx(raw, abs=0.003)
    assert fax == pytest.approx(true, abs=0.02)


def test_fitting_on_grades_halves_the_calibration_error_at_least() -> None:
    found = fitted(fields(4000, OFFICE, 0.0, 1), fields(4000, FAX, 3.0, 2))
    fresh = fields(4000, FAX, 3.0, 3)
    raw = 1 / (1 + np.exp(-fresh[:, 0]))
    right = fresh[:, 2].astype(bool)
    own = np.array([found.confidence("date", p, 1.0, "fax") for p in raw])
    pooled = np.array([found.confidence("date", p, 1.0) for p in raw])
    assert expected_calibration_error(own, right) < expected_calibration_error(pooled, right) / 2
    assert expected_calibration_error(own, right) < 0.01


def test_a_grade_with_few_fields_hardly_leaves_its_kind() -> None:
    many, few = fields(4000, OFFICE, 1.0, 1), fields(40, PHONE, 1.0, 2)
    few[:, 2] = 1
    few[0, 2] = 0  # one error by bad luck
    found = fitted(many, few)
    for raw in (0.9, 0.99, 0.999):
        ours, kinds = found.confidence("date", raw, 1.0, "phone"), found.confidence("date", raw)
        assert abs(log_odds(ours) - log_odds(kinds)) < 1.2


def test_a_few_errors_never_raise_a_probability_whatever_the_grade() -> None:
    easy = fields(4000, OFFICE, -2.0, 1)  # raw says less than is true
    easy[:, 2] = 1
    easy[:5, 2] = 0
    found = fitted(easy)
    for raw in (0.6, 0.9, 0.99, 0.9999):
        for grade in ("", "office", "fax", "other", "never heard of"):
            assert found.confidence("date", raw, 1.0, grade) <= raw + 1e-12


def test_ink_that_stands_between_two_values_stays_so_however_well_all_else_is_read() -> None:
    found = fitted(fields(4000, OFFICE, -2.0, 1))  # raw says less than is true, and there are errors to show it
    for raw in (0.3, 0.52, 0.7, 0.9):
        assert found.confidence("date", raw, 1.0, "office") <= raw
        assert calibration().confidence("unit", raw, 1.0, "office") <= raw


def test_unit_date_and_hours_read_with_help_share_a_map() -> None:
    units, dates = fields(500, OFFICE, 1.0, 1), fields(3000, OFFICE, 1.0, 2)
    units[:, 2] = 1
    found = from_json(json.loads(json.dumps(fit({"unit": units, "date": dates}, 1, 0))))
    assert found.maps["unit", ""] == found.maps["date", ""] == found.maps["hours", ""]
    assert found.maps["unit-free", ""] != found.maps["unit", ""]


def test_a_kind_without_a_single_error_is_fitted_and_one_without_fields_left_alone() -> None:
    clean = fields(500, OFFICE, 0.0, 1)
    clean[:, 2] = 1
    found = fitted(clean, kind="mark")
    assert found.confidence("mark", 0.99) <= 0.99
    assert found.threshold("mark") == LEAST_THRESHOLD
    assert found.confidence("date", 0.97) == pytest.approx(0.97)
    assert found.confidence("a kind of tomorrow", 0.97) == pytest.approx(0.97)
    assert found.threshold("a kind of tomorrow") > 0.98


def test_a_grade_that_was_not_fitted_takes_the_map_and_threshold_of_all() -> None:
    found = fitted(fields(2000, OFFICE, 1.0, 1), fields(2000, WORN, 1.0, 2))
    for grade in ("other", "phone"):
        assert found.confidence("date", 0.99, 0.9, grade) == found.confidence("date", 0.99, 0.9)
        assert found.threshold("date", grade) == found.threshold("date")


# Thresholds


def test_the_steps_count_what_each_threshold_lets_through() -> None:
    steps = steps_of([0.99, 0.98, 0.97, 0.97, 0.96, 0.9], [True, True, False, True, True, False])
    assert steps == (Step(0.98, 2, 0), Step(0.96, 5, 1), Step(0.0, 6, 2))


def test_no_threshold_lets_through_what_is_as_confident_as_a_wrong_field() -> None:
    assert steps_of([0.99, 0.99, 0.99], [True, False, True]) == (Step(0.0, 3, 1),)


def test_the_threshold_is_the_lowest_that_the_exact_bound_proves() -> None:
    # Rule of three: no error in 3,000 shows 1 in 1,000 with 95 % confidence (NIST/SEMATECH e-Handbook, 7.2.4.2).
    steps = (Step(0.999, 2_000, 0), Step(0.99, 3_100, 0), Step(0.97, 4_000, 1), Step(0.96, 5_000, 1))
    assert upper_bound(0, 2_000, 0.95) > 1 / 1000 > upper_bound(0, 3_100, 0.95)
    assert upper_bound(1, 4_000, 0.95) > 1 / 1000 > upper_bound(1, 5_000, 0.95)
    assert acceptance_threshold(steps, 1 / 1000) == 0.96
    assert acceptance_threshold(steps[:3], 1 / 1000) == 0.99
    assert acceptance_threshold(steps[:1], 1 / 1000) is None


def test_too_few_fields_for_a_bound_let_nothing_through_that_ever_was_wrong() -> None:
    steps = {
        ("x", ""): (Step(0.96, 50, 0), Step(0.0, 60, 1)),
        ("x", "fax"): (Step(0.995, 50, 0), Step(0.97, 90, 1), Step(0.0, 99, 9)),
        ("x", "worn"): (Step(0.995, 50, 0), Step(0.0, 990, 1)),
    }
    found = thresholds({"x": "x"}, steps, {("x", grade): 1 / 1000 for grade in ("", "fax", "worn")})
    assert found["x", ""] == 0.96
    assert found["x", "fax"] == 0.97, "one error in 90 may be bad luck, nine in 99 are none"
    assert found["x", "worn"] == 0.96, "one error in 990 may be bad luck"


def test_kinds_that_are_bounded_together_share_their_errors_out_where_these_gain_most() -> None:
    steps = {
        "date": (Step(0.999, 2_000, 0), Step(0.99, 4_000, 1), Step(0.0, 4_010, 30)),
        "hours": (Step(0.999, 2_000, 0), Step(0.98, 2_050, 1), Step(0.0, 2_100, 40)),
    }
    # Neither alone has the 2,995 fields without an error that show 1 in 1,000; both together have.
    assert upper_bound(0, 4_000, 0.95) < 1 / 1000 < upper_bound(0, 2_000, 0.95)
    assert upper_bound(1, 6_000, 0.95) < 1 / 1000 < upper_bound(2, 6_050, 0.95)
    assert joint_thresholds(steps, 1 / 1000) == {"date": 0.99, "hours": 0.999}
    assert joint_thresholds(steps, 1 / 100_000) == {"date": 0.999, "hours": 0.999}, "nothing wrong, if unproven"


def test_a_grade_with_enough_fields_has_its_own_threshold() -> None:
    steps = {("x", ""): (Step(0.999, 9_000, 0), Step(0.0, 9_900, 40)), ("x", "office"): (Step(0.0, 5_000, 0),)}
    found = thresholds({"x": "x"}, steps, {("x", ""): 1 / 1000, ("x", "office"): 1 / 1000})
    assert found["x", ""] == 0.999
    assert found["x", "office"] == LEAST_THRESHOLD


def test_a_wrong_field_of_full_confidence_stops_acceptance() -> None:
    steps = {("x", ""): steps_of([CAP] * 20, [True] * 19 + [False])}
    assert thresholds({"x": "x"}, steps, {("x", ""): 1 / 1000})["x", ""] > CAP


def test_a_stricter_target_never_lowers_a_threshold() -> None:
    found = fitted(*[fields(3000, grade, 1.5, grade) for grade in range(5)])
    grades = ("", "office", "bitonal", "worn", "phone", "fax")
    before = [0.0] * len(grades)
    for target in (1 / 50, 1 / 100, 1 / 500, 1 / 2000, 1 / 20_000):
        now = [found.for_target(target).threshold("date", grade) for grade in grades]
        assert all(b <= n for b, n in zip(before, now, strict=True)), (target, before, now)
        before = now


def test_what_a_target_promises_holds_on_fields_that_were_not_fitted_on() -> None:
    found = fitted(fields(20_000, OFFICE, 2.0, 1)).for_target(1 / 100)
    fresh = fields(20_000, OFFICE, 2.0, 9)
    raw = 1 / (1 + np.exp(-fresh[:, 0]))
    shown = np.array([found.confidence("date", p, 1.0, "office") for p in raw])
    accepted = shown >= found.threshold("date", "office")
    assert accepted.mean() > 0.5
    assert (fresh[accepted, 2] == 0).mean() < 1 / 100


def test_a_sites_own_thresholds_stand_in_for_the_fitted_ones() -> None:
    own = calibration_for(None, (("choice", 0.9876),))
    assert own.threshold("choice", "fax") == 0.9876
    assert own.threshold("signature") == calibration().threshold("signature")


@pytest.mark.parametrize(("rate", "k", "n"), [(1 / 1000, 0, 2995), (1 / 100, 0, 299), (1 / 100, 1, 473)])
def test_how_many_trials_show_a_rate(rate: float, k: int, n: int) -> None:
    # 299 without a failure for 99 % at 95 %: the table of the "success run" theorem, n = ln 0.05 / ln 0.99.
    assert fewest_for(rate, k, 0.95) == n
    assert upper_bound(k, n, 0.95) <= rate < upper_bound(k, n - 1, 0.95)
