"""Combs that once went wrong, cut out of simulated scans, each with what is truly written there."""

from __future__ import annotations

import comb_strips
import numpy as np
import pytest

from scanform.settle.combs import comb_text

# Below this nothing is accepted whatever the calibration: it may take confidence away, never add any.
SURE = 0.98


def cells_of(case: dict) -> str:
    """What stands in the cells, without leading noughts and gaps of an hour meter."""
    right = case["right"]
    return right.replace("-", "") if case["comb"] == "date" else right.replace(".", "").lstrip("0")


@pytest.mark.parametrize("case", comb_strips.cases(), ids=lambda case: case["file"].removesuffix(".png"))
def test_a_comb_that_once_went_wrong_is_read_or_doubted(case: dict) -> None:
    reading = comb_strips.read_case(case)
    text, log_likelihood = comb_text(reading)
    text = text.strip().lstrip("0") if case["comb"] == "hours" else text
    if case["reading"] == "read":
        assert text == cells_of(case), case["shows"]
        assert not reading.evidence
    else:
        assert reading.evidence or np.exp(log_likelihood) < SURE, case["shows"]


def test_the_set_is_as_large_as_it_should_be_and_every_picture_is_in_it() -> None:
    cases = comb_strips.cases()
    assert len(cases) >= 30
    assert {case["file"] for case in cases} == {path.name for path in comb_strips.FOLDER.glob("*.png")}
    assert all((comb_strips.FOLDER / case["file"]).stat().st_size <= 15_000 for case in cases)
