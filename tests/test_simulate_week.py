"""A simulated week's sheet: what is true of it, and that its ink is where the truth says so."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest

from scanform.form import DAYS, FieldKind, Layout, Paper, find_template, lay_out, parted
from scanform.press import pad_sheets, sheets_pdf
from scanform.simulate import CREW, Grade, fill, make_page, random_week, random_writer, render_pdf

PX_PER_MM = 300 / 25.4
MONDAY = date(2026, 11, 23)


@lru_cache(maxsize=2)
def printed(paper: Paper = Paper.A4) -> tuple[Layout, np.ndarray]:
    layout = lay_out(find_template("quarry-weekly"), paper)
    sheets = pad_sheets(layout.template, paper.value, "F7K2QD", unit=None, days=(), copies=1)
    return layout, render_pdf(sheets_pdf(layout, sheets), 300)[0]


def inked(blank: np.ndarray, page: np.ndarray, box) -> int:
    rows = slice(round(box.y_mm * PX_PER_MM), round(box.bottom_mm * PX_PER_MM))
    columns = slice(round(box.x_mm * PX_PER_MM), round(box.right_mm * PX_PER_MM))
    return int((blank[rows, columns].astype(int) - page[rows, columns] > 40).sum())


def test_a_filled_week_has_ink_exactly_where_its_truth_has_a_value() -> None:
    layout, blank = printed()
    rng = np.random.default_rng(17)
    for _ in range(3):
        truth = random_week(layout, rng, ["HT-21"], CREW, MONDAY)
        page, written = fill(layout, blank, truth, random_writer(rng), rng)
        assert written.values.keys() == {f.id for f in layout.fields}
        for f in layout.fields:
            if f.answers:
                continue
            value = written.values[f.id]
            if value in (None, False):
                assert inked(blank, page, f.box_mm.grown(-1.8)) < 60, f.id
            else:
                assert inked(blank, page, f.box_mm) > 30, f.id


def test_a_week_holds_together() -> None:
    layout, _ = printed()
    rng = np.random.default_rng(18)
    idle = 0
    for _ in range(60):
        values = random_week(layout, rng, ["HT-21"], CREW, MONDAY).values
        used = [day for day in DAYS if values[f"hours.{day}"] is not None]
        assert used
        idle += 7 - len(used)
        hours = [Decimal(str(values[f"hours.{day}"])) for day in used]
        # An hour meter runs at most 24 h a day and never backwards; most machines do 0 to 14 (common practice).
        assert all(0 < b - a <= 14 * 7 for a, b in pairwise(hours))
        for field_id, value in values.items():
            stem, day = parted(field_id)
            if stem.startswith("item.") and day is not None:
                assert (value is not None) == (day in used)
            if stem == "initials":
                assert value == (day in used)
        for n in range(1, layout.template.defect_lines + 1):
            number, day = values[f"defect.{n}.item"], values[f"defect.{n}.day"]
            assert (number is None) == (values[f"defect.{n}"] is None)
            if number is not None and day is not None:
                name = layout.template.items[int(str(number)) - 1].name
                assert values[f"item.{name}.{DAYS[int(str(day)) - 1]}"] == "defect"
    assert 60 < idle < 240  # weekends mostly, and some working days


@pytest.mark.parametrize("grade", list(Grade))
def test_the_same_seed_gives_the_same_scanned_week(grade: Grade) -> None:
    layout, blank = printed(Paper.LETTER)
    one, again = (make_page(layout, blank, grade, 8_800_001, on=MONDAY + timedelta(days=3)) for _ in range(2))
    assert one.encoded == again.encoded
    assert one.truth == again.truth
    assert one.truth.values["date"] == MONDAY.isoformat()
    assert sum(f.kind is FieldKind.MARK for f in layout.fields) == 7 * len(layout.template.items)
