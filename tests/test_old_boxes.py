"""Boxes of any size, bare table cells and code letters on forms that scanform did not print."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from blank_forms import HEIGHT_MM, ITEMS, Pen, pdf_of, scan_of
from PIL import Image
from reportlab.lib.units import mm

from scanform.adopt import print_of, propose
from scanform.form import FieldKind
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.read import Instruments, Reading
from scanform.read.choices import read_choices
from scanform.read.old.boxes import as_even_boxes
from scanform.read.old.sheet import read_old_sheet
from scanform.read.old.signs import read_signs

COLUMNS_MM = {"ok": 120.0, "defect": 138.0, "na": 156.0}
TOP_MM, PITCH_MM = 60.0, 8.0


@pytest.fixture(scope="module")
def instruments() -> Instruments:
    return Instruments()


def table_card(pen: Pen) -> None:
    """Bare cells under OK, Repair and N/A; beside the table a list with boxes of 3 mm; a legend of code letters."""
    pen.text(20, 20, "CRUSHER HOUSE - TABLE CARD", 16)
    pen.text(20, 32, "Plant no.")
    pen.line(42, 32.5, 80, 32.5)
    pen.text(20, 48, "Tick one in each row before the shift, and sign below. Keep the card in the crusher house.")
    for n, words in enumerate(["Item", *ITEMS]):
        pen.box(20, TOP_MM + PITCH_MM * n, 100, PITCH_MM)
        pen.text(22, TOP_MM + PITCH_MM * n + 5.5, words)
        for x in COLUMNS_MM.values():
            pen.box(x, TOP_MM + PITCH_MM * n, 18, PITCH_MM)
    for x, head in zip(COLUMNS_MM.values(), ("OK", "Repair", "N/A"), strict=True):
        pen.text(x + 2, TOP_MM + 5.5, head)
    pen.text(20, 150, "Signature")
    pen.line(42, 150.5, 110, 150.5)


def small_boxes(pen: Pen) -> None:
    """Boxes of 2.7 mm with their answers printed beside them."""
    pen.text(20, 20, "GARAGE - SHORT CARD FOR PICKUPS", 16)
    pen.text(20, 32, "Vehicle")
    pen.line(42, 32.5, 80, 32.5)
    pen.text(20, 45, "One box a line. Hand the card to the garage when the pickup comes back in the evening.")
    for n, item in enumerate(ITEMS):
        y = TOP_MM + PITCH_MM * n
        pen.text(20, y + 2.8, item)
        for x, words in ((100, "Yes"), (125, "No")):
            pen.box(x, y, 2.7, 2.7)
            pen.text(x + 4.5, y + 2.8, words)
    pen.text(20, 130, "Signed")
    pen.line(36, 130.5, 100, 130.5)


def letter_grid(pen: Pen, legend: str = "G = good, R = needs repair, N = not fitted") -> None:
    pen.text(20, 20, "WORKSHOP - CARD FOR THE WEEK", 16)
    pen.text(20, 38, legend)
    pen.text(20, 48, "The fitter on early shift fills in one column a day and leaves the others as they are.")
    for n, words in enumerate(["Item", *ITEMS]):
        pen.box(20, TOP_MM + PITCH_MM * n, 58, PITCH_MM)
        pen.text(22, TOP_MM + PITCH_MM * n + 5.5, words)
        for d in range(7):
            pen.box(78 + 16 * d, TOP_MM + PITCH_MM * n, 16, PITCH_MM)
    for d, day in enumerate(("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")):
        pen.text(82 + 16 * d, TOP_MM + 5.5, day)


def tick(pen: Pen, x: float, y: float, size: float = 2.5) -> None:
    """A tick about (x, y), its tail running up ``size`` mm."""
    pen.canvas.setLineWidth(1.3)
    pen.line(x - 1.5, y, x, y + 1.6)
    pen.line(x, y + 1.6, x + 2.2, y - size)
    pen.canvas.setLineWidth(1)


def filled_in(folder: Path, blank: Callable[[Pen], None], writing: Callable[[Pen], None]) -> LocatedSheet:
    def filled(pen: Pen) -> None:
        blank(pen)
        writing(pen)

    path = folder / "blank.pdf"
    path.write_bytes(pdf_of(blank))
    form = propose(print_of(path), "old-card").template
    pixels = np.array(Image.open(io.BytesIO(scan_of(pdf_of(filled), 200))))
    found = locate(Page("copy.png", 1, "0" * 64, pixels, 200.0), KnownLayouts([form]))
    assert isinstance(found, LocatedSheet)
    return found


def choices(sheet: LocatedSheet, instruments: Instruments) -> list[Reading]:
    fields = [spec for spec in sheet.layout.fields if spec.kind is FieldKind.CHOICE]
    return read_choices(as_even_boxes(sheet), fields, instruments.marks)


def test_a_tick_in_a_bare_cell_counts_for_its_own_row_and_its_tail_is_at_most_a_doubt_in_the_next(
    tmp_path: Path, instruments: Instruments
) -> None:
    answers = ["ok", "ok", "defect", "ok", "na", "ok", "ok"]

    def writing(pen: Pen) -> None:
        for n, answer in enumerate(answers):
            middle = TOP_MM + PITCH_MM * (n + 1.5)
            # The fourth one's tail crosses the line above and ends in the cell of the third.
            tick(pen, COLUMNS_MM[answer] + (4 if n % 2 else 12), middle, size=5.5 if n == 3 else 2.5)

    read = choices(filled_in(tmp_path, table_card, writing), instruments)
    assert [reading.alternatives[0].value for reading in read] == answers
    assert [bool(reading.evidence) for reading in read if reading.field_id != read[2].field_id] == [False] * 6


@pytest.mark.parametrize("column", ["ok", "na"])
def test_a_tail_that_runs_over_a_rule_is_no_answer_to_an_item_that_has_none(
    tmp_path: Path, instruments: Instruments, column: str
) -> None:
    def writing(pen: Pen) -> None:
        for n in range(len(ITEMS)):
            if n != 2:
                tick(pen, COLUMNS_MM[column] + 9, TOP_MM + PITCH_MM * (n + 1.5), size=7.0 if n == 3 else 2.0)

    read = [reading.alternatives[0] for reading in choices(filled_in(tmp_path, table_card, writing), instruments)]
    assert [best.value for best in read] == [None if n == 2 else column for n in range(len(ITEMS))]


def test_a_round_spot_where_nothing_else_is_marked_is_left_to_a_person(
    tmp_path: Path, instruments: Instruments
) -> None:
    def writing(pen: Pen) -> None:
        for n in range(len(ITEMS)):
            x, y = COLUMNS_MM["ok"] + 9, TOP_MM + PITCH_MM * (n + 1.5)
            if n == 3:
                pen.canvas.circle(x * mm, (HEIGHT_MM - y) * mm, 0.8 * mm, stroke=0, fill=1)
            else:
                tick(pen, x, y)

    sheet = filled_in(tmp_path, table_card, writing)
    said = [r.evidence for r in read_old_sheet(sheet, instruments) if r.kind is FieldKind.CHOICE]
    assert [any("round spot" in one for one in of) for of in said] == [n == 3 for n in range(len(ITEMS))]


def test_boxes_smaller_than_any_that_was_measured_on_are_left_to_a_person(
    tmp_path: Path, instruments: Instruments
) -> None:
    def writing(pen: Pen) -> None:
        for n in range(len(ITEMS)):
            tick(pen, 101.2, TOP_MM + PITCH_MM * n + 1.2)

    sheet = filled_in(tmp_path, small_boxes, writing)
    readings = [r for r in read_old_sheet(sheet, instruments) if r.kind is FieldKind.CHOICE]
    assert len(readings) == len(ITEMS)
    assert all("smaller than any" in reading.evidence[-1] for reading in readings)


def test_code_letters_mean_what_the_forms_own_legend_says(tmp_path: Path, instruments: Instruments) -> None:
    letters = ["G", "R", "G", "N", "G", "R", "G"]

    def writing(pen: Pen) -> None:
        for n, letter in enumerate(letters):
            pen.text(84, TOP_MM + PITCH_MM * (n + 1) + 6, letter, 15)

    sheet = filled_in(tmp_path, letter_grid, writing)
    fields = [spec for spec in sheet.layout.fields if spec.kind is FieldKind.MARK]
    read = {r.field_id: r.alternatives[0].value for r in read_signs(as_even_boxes(sheet), fields, instruments)}
    meaning = {"G": "ok", "R": "defect", "N": "na"}
    monday = [read[f"item.{item.name}.mon"] for item in sheet.layout.template.items]
    assert monday == [meaning[letter] for letter in letters]
    assert {value for field_id, value in read.items() if not field_id.endswith(".mon")} == {None}


@pytest.mark.parametrize(("last", "value"), [("N/A = not fitted", None), ("- = not fitted", "na")])
def test_a_dash_counts_only_where_the_form_has_no_other_sign_for_what_is_not_fitted(
    tmp_path: Path, instruments: Instruments, last: str, value: str | None
) -> None:
    def grid(pen: Pen) -> None:
        letter_grid(pen, f"tick = good, X = needs repair, {last}")

    def writing(pen: Pen) -> None:
        pen.canvas.setLineWidth(1.3)
        pen.line(83, TOP_MM + PITCH_MM * 1.5, 88, TOP_MM + PITCH_MM * 1.5 - 0.3)
        pen.canvas.setLineWidth(1)

    sheet = filled_in(tmp_path, grid, writing)
    first = next(spec for spec in sheet.layout.fields if spec.id.endswith(".mon"))
    (reading,) = read_signs(as_even_boxes(sheet), [first], instruments)
    best = reading.alternatives[0]
    assert (best.value if best.probability > 0.5 else None) == value
    assert any("dash" in said for said in reading.evidence) == (value is None)
