"""Boxes that once went wrong, each with its right reading, through the real network and the real settling.

A case is a small picture: three boxes of an item (OK, Defect, N/A) as the reader samples them, 64 x 64 px each, 8 mm of
paper; several items under each other where it takes more than one to tell. ``fixtures/hard/marks/cases.json`` says what
each shows, the page's greys of paper and print, and what has to come out: an accepted answer, or a doubt.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from made_readings import PLACE, comb, plain, settle, sheet

from scanform.form import Box, Field, FieldKind
from scanform.read import Reading
from scanform.read.boxes import MarkNet
from scanform.read.choices import read_choices
from scanform.settle import SettledField, State

FOLDER = Path(__file__).parents[1] / "fixtures" / "hard" / "marks"
CASES: list[dict[str, Any]] = json.loads((FOLDER / "cases.json").read_text())
SIDE = 64


class Crop:
    """Stands in for the located sheet: hands out the stored patches, and the greys of the page they come from."""

    def __init__(self, case: dict[str, Any]) -> None:
        self.picture = cv2.imread(str(FOLDER / case["file"]), cv2.IMREAD_GRAYSCALE)
        self.paper_grey, self.print_grey = case["paper_grey"], case["print_grey"]

    def patches(self, boxes: list[Box], _margin_mm: float, _px_per_mm: float) -> np.ndarray:
        height, width = self.picture.shape
        tiles = self.picture.reshape(height // SIDE, SIDE, width // SIDE, SIDE).swapaxes(1, 2).reshape(-1, SIDE, SIDE)
        assert len(tiles) == len(boxes)
        return np.ascontiguousarray(tiles)

    def polygon_px(self, _box: Box) -> tuple[tuple[float, float], ...]:
        return PLACE

    def residual_of(self, _field: Field) -> float:
        return 0.05


@pytest.fixture(scope="module")
def net() -> MarkNet:
    return MarkNet()


def settled(case: dict[str, Any], net: MarkNet) -> tuple[SettledField, Reading]:
    """The case's item, read and settled on a sheet that is clean otherwise."""
    crop = Crop(case)
    rows = [f for f in sheet().fields if f.kind is FieldKind.CHOICE][: len(crop.picture) // SIDE]
    found = read_choices(crop, rows, net)  # type: ignore[arg-type]
    reading = found[case["row"]]
    words = []
    if reading.alternatives[0].value == "defect":  # says what is wrong, as its line on the sheet would
        number = next(item.number for item in sheet().template.items if reading.field_id == f"item.{item.name}")
        words = [comb("defect.1.item", list(str(number))), plain("defect.1", "loose")]
    return settle(*found, *words)[reading.field_id], reading


@pytest.mark.parametrize("case", CASES, ids=[case["file"].removesuffix(".png") for case in CASES])
def test_what_once_went_wrong_is_read_right(case: dict[str, Any], net: MarkNet) -> None:
    field, reading = settled(case, net)
    if case["reading"] == "doubt":
        assert field.state is State.DOUBTFUL
        assert reading.evidence or field.reasons
    else:
        assert (field.value, field.state) == (case["reading"], State.ACCEPTED)


def test_the_cases_are_many_of_every_grade_and_small() -> None:
    assert len(CASES) >= 25
    assert {case["grade"] for case in CASES} == {"office", "worn", "bitonal", "phone", "fax"}
    assert {case["file"] for case in CASES} == {path.name for path in FOLDER.glob("*.png")}
    assert all((FOLDER / case["file"]).stat().st_size <= 15_000 for case in CASES)
    assert sum(case["reading"] == "doubt" for case in CASES) >= 8
