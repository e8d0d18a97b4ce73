"""A sheet crossed out as a whole counts for nothing by itself: a person has to say what is meant."""

from __future__ import annotations

from datetime import date

import cv2
import numpy as np
import pytest
from marked_groups import instruments, pen_of, printed

from scanform.intake import Page
from scanform.locate import LocatedSheet, locate
from scanform.read import read_sheet
from scanform.read.crossing import longest_slant_mm
from scanform.settle import Known, SettledField, State, settle_sheet
from scanform.simulate import CREW, DPI, draw, fill, random_truth, random_writer, scan, spoil

REASON = "a long line is drawn across the sheet, which may be crossed out as a whole"
PX_PER_MM = 2.0


def lined(*ends_mm: tuple[float, float], bend_mm: float = 0.0) -> np.ndarray:
    """Ink of one line on an A4 sheet at two pixels a millimetre, through ``ends_mm`` and bent by ``bend_mm``."""
    start, end = np.array(ends_mm)
    t = np.linspace(0, 1, 60)[:, None]
    aside = np.array([-(end - start)[1], (end - start)[0]]) / np.linalg.norm(end - start)
    points = start + t * (end - start) + 4 * t * (1 - t) * bend_mm * aside
    page = np.zeros((594, 420), np.uint8)
    cv2.polylines(page, [np.rint(points * PX_PER_MM).astype(np.int32)], False, 255, 1)
    return page > 0


@pytest.mark.parametrize("bend_mm", [0.0, 3.0])
def test_a_line_drawn_from_corner_to_corner_has_its_length(bend_mm: float) -> None:
    ink = lined((30, 40), (170, 250), bend_mm=bend_mm)
    assert longest_slant_mm(ink, PX_PER_MM) == pytest.approx(np.hypot(140, 210), rel=0.15)


def test_rules_along_and_across_the_sheet_are_no_slanting_lines() -> None:
    ink = lined((20, 100), (190, 102)) | lined((60, 20), (63, 280))
    assert longest_slant_mm(ink, PX_PER_MM) == 0.0


def test_many_short_strokes_that_point_everywhere_do_not_add_up_to_a_line() -> None:
    rng = np.random.default_rng(8_400_001)
    page = np.zeros((594, 420), bool)
    for _ in range(120):
        middle, angle = rng.uniform((10, 10), (200, 287)), rng.uniform(0, np.pi)
        half = 4 * np.array([np.cos(angle), np.sin(angle)])
        page |= lined(tuple(middle - half), tuple(middle + half))
    assert longest_slant_mm(page, PX_PER_MM) < 40


def scanned(grade: str, seed: int, crossed: str) -> list[SettledField]:
    """A filled-in sheet after reading; ``crossed``: "", "cross" with VOID, or "line" for one stroke."""
    rng = np.random.default_rng(seed)
    layout, blank, known = printed()
    writer = random_writer(rng)
    while writer.pen.kind == "pencil":
        writer = random_writer(rng)
    truth = random_truth(layout, rng, ["2381"], CREW, date(2026, 11, 20))
    page, truth = fill(layout, blank, truth, writer, rng)
    if crossed == "cross":
        spoil(page, layout, truth, writer, rng)
    elif crossed == "line":
        path = np.linspace([185.0, 35.0], [25.0, 265.0], 24) + rng.normal(0, 0.3, (24, 2))
        draw(page, [path], pen_of(rng), rng, DPI)
    sheet = locate(Page("", 1, "", scan(page, grade, rng).pixels), known)
    assert isinstance(sheet, LocatedSheet)
    return list(settle_sheet(layout, read_sheet(sheet, instruments()), Known(crew=CREW)))


@pytest.mark.parametrize(
    ("grade", "seed", "crossed"),
    [("office", 8_400_010, "cross"), ("bitonal", 8_400_011, "line"), ("worn", 8_400_012, "cross"),
     ("fax", 8_400_013, "cross"), ("phone", 8_400_014, "line")],
)  # fmt: skip
def test_of_a_sheet_crossed_out_as_a_whole_nothing_is_accepted(grade: str, seed: int, crossed: str) -> None:
    fields = scanned(grade, seed, crossed)
    assert {field.state for field in fields} == {State.DOUBTFUL}
    assert all(REASON in field.reasons for field in fields)


@pytest.mark.parametrize("grade", ["office", "worn", "phone"])
def test_a_sheet_that_nobody_crossed_out_is_not_taken_for_one(grade: str) -> None:
    fields = scanned(grade, 8_400_020, "")
    assert not any(REASON in field.reasons for field in fields)
    assert sum(field.state is State.ACCEPTED for field in fields) > 0.8 * len(fields)
