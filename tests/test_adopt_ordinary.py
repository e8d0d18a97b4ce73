"""What many firms' forms have: shift boxes, heads printed again, dark heads, a cell for words on each item."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from blank_forms import HEIGHT_MM, ITEMS, Pen, fields_of, proposed
from reportlab.lib.units import mm

from scanform.adopt.answers import legend_of
from scanform.adopt.drawing import line_mask, rules_of
from scanform.adopt.found import FoundWord
from scanform.form import AdoptedField, AdoptedTemplate, Box, Sign
from scanform.training.old_proposals import agreement

LEFT = ("Tyres", "Lights", "Mirrors", "Glass")
RIGHT = ("Oil", "Coolant", "Fuel", "Belts")


def two_blocks(pen: Pen) -> None:
    """Two blocks of boxes, the right one's rows a hair lower; a comb with month, day, year; boxes for the shift."""
    pen.text(20, 20, "HAUL TRUCK", 16)
    pen.text(20, 33, "Date")
    for group, label in enumerate(("MONTH", "DAY", "YEAR")):
        for n in range(2):
            pen.box(32 + 15 * group + 6 * n, 27, 6, 8)
        pen.text(34 + 15 * group, 38, label, 6)
    pen.text(100, 33, "Shift:")
    for x, name in ((115, "Days"), (140, "Nights")):
        pen.box(x, 29, 4.2, 4.2)
        pen.text(x + 5.5, 33, name)
    for part in range(2):
        for x, items, higher in ((20, LEFT, 0.0), (110, RIGHT, -1.9)):
            top = 50 + 45 * part - higher
            for k, head in enumerate(("OK", "Defect")):
                pen.text(x + 54 + 15 * k, top, head, 9)
            for n, item in enumerate(items):
                pen.text(x, top + 8 + 8 * n, f"{item} {part + 1}")
                for k in range(2):
                    pen.box(x + 55 + 15 * k, top + 4.5 + 8 * n, 4.2, 4.2)


@pytest.fixture(scope="module")
def blocks(tmp_path_factory: pytest.TempPathFactory) -> dict[str, AdoptedField]:
    return fields_of(proposed(tmp_path_factory.mktemp("blocks"), two_blocks))


def test_an_items_words_end_where_the_other_block_begins(blocks: dict[str, AdoptedField]) -> None:
    labels = {made.label for made in blocks.values() if made.id.startswith("item.")}
    assert labels == {f"{item} {part}" for item in (*LEFT, *RIGHT) for part in (1, 2)}


def test_boxes_with_a_shifts_name_beside_each_are_the_sheets_shift(blocks: dict[str, AdoptedField]) -> None:
    shift = blocks["shift"]
    assert [answer.answer for answer in shift.answers] == ["day", "night"]
    assert shift.answers[1].box_mm == pytest.approx((140, 29, 4.2, 4.2), abs=0.3)
    assert shift.label == "Shift"


def test_month_day_and_year_under_a_comb_say_its_order(blocks: dict[str, AdoptedField]) -> None:
    assert (len(blocks["date"].cells_mm), blocks["date"].pattern) == (6, "mmddyy")


def parts_with_notes(pen: Pen) -> None:
    """Answers under heads printed again over each part; a cell for words on each item."""
    pen.text(20, 20, "GRADER", 16)
    y = 30.0
    for part in range(4):
        for x, w, head in ((20, 65, f"Part {part + 1}"), (85, 20, "OK"), (105, 20, "Repair"), (125, 60, "Notes")):
            pen.box(x, y, w, 7)
            pen.text(x + 3, y + 5, head, 9)
        for n in range(3):
            y += 7
            for x, w in ((20, 65), (85, 20), (105, 20), (125, 60)):
                pen.box(x, y, w, 7)
            pen.text(22, y + 5, f"{ITEMS[(3 * part + n) % len(ITEMS)]} {part}")
        y += 7


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, AdoptedField]:
    return fields_of(proposed(tmp_path_factory.mktemp("parts"), parts_with_notes))


def test_heads_printed_again_over_each_part_are_no_words_to_ring(parts: dict[str, AdoptedField]) -> None:
    items = [made for made in parts.values() if made.id.startswith("item.")]
    assert len(items) == 12
    assert all([answer.answer for answer in made.answers] == ["ok", "defect"] for made in items)
    assert {made.kind.value for made in items} == {"choice"}


def test_a_cell_for_words_beside_an_item_is_a_note_on_it(parts: dict[str, AdoptedField]) -> None:
    notes = {made.id.removeprefix("note.") for made in parts.values() if made.id.startswith("note.")}
    assert notes == {made.id.removeprefix("item.") for made in parts.values() if made.id.startswith("item.")}
    first = next(made for made in parts.values() if made.id.startswith("note."))
    assert (first.label, first.kind.value) == ("Notes", "text")
    assert first.box_mm == pytest.approx((125, 37, 60, 7), abs=0.2)


def test_a_row_of_fine_dots_is_one_line_though_some_run_into_each_other() -> None:
    ink = np.zeros((240, 1800), np.uint8)
    ink[120:122, 120:1680:12] = ink[120:122, 121:1680:12] = 1  # a dot every millimetre, from 10 to 140 mm
    ink[120:122, 480:640] = ink[120:122, 900:1060] = 1
    (rule,) = rules_of(ink, *line_mask(ink))
    assert rule.dotted
    assert (rule.box_mm.x_mm, rule.box_mm.right_mm) == pytest.approx((10, 139.2), abs=0.6)


def dark_heads(pen: Pen) -> None:
    """Days in white on a black bar that has no line under it."""
    pen.text(20, 20, "REACH TRUCK, ONE WEEK", 16)
    pen.canvas.rect(20 * mm, (HEIGHT_MM - 40) * mm, 165 * mm, 8 * mm, stroke=0, fill=1)
    pen.canvas.setFillGray(1)
    for d, day in enumerate(("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")):
        pen.text(84 + 15 * d, 37.5, day, 9)
    pen.canvas.setFillGray(0)
    for n, item in enumerate([*ITEMS, "Display and hour meter"]):
        pen.text(22, 45.5 + 8 * n, item)
        pen.line(20, 48 + 8 * n, 185, 48 + 8 * n)
    bottom = 48 + 8 * len(ITEMS)
    for x in (20, *(80 + 15 * d for d in range(8))):
        pen.line(x, 40, x, bottom)


@pytest.fixture(scope="module")
def week(tmp_path_factory: pytest.TempPathFactory) -> dict[str, AdoptedField]:
    return fields_of(proposed(tmp_path_factory.mktemp("week"), dark_heads))


def test_the_row_under_a_dark_bar_has_cells_too(week: dict[str, AdoptedField]) -> None:
    first = next(made for made in week.values() if made.label == ITEMS[0])
    assert first.box_mm == pytest.approx((80, 40, 15, 8), abs=0.4)
    assert sum(made.startswith("item.") for made in week) == 7 * (len(ITEMS) + 1)


def test_the_display_and_the_hour_meter_are_looked_at_and_not_written_down(week: dict[str, AdoptedField]) -> None:
    assert "item.display-hour-meter.mon" in week
    assert not any(made.startswith("hours") for made in week)


@pytest.mark.parametrize(
    ("line", "means"),
    [
        ("\u2713 in order X fault N not fitted or not in use", {"tick": "ok", "cross": "defect", "N": "na"}),
        ("\u2713 OK X Repair NF Not fitted", {"tick": "ok", "cross": "defect", "NF": "na"}),
        ("\u2713 good X needs repair, not to be used - none fitted", {"tick": "ok", "cross": "defect", "dash": "na"}),
        ("G = good R = repair, parts not in use N = not fitted", {"G": "ok", "R": "defect", "N": "na"}),
        ("Sign each square: X all well, O defect, - not looked at.", {"cross": "ok", "O": "defect", "dash": "na"}),
        ("Tick = done and in order. A = adjusted. F = fault", {"tick": "ok", "A": "ok", "F": "defect"}),
        (
            "Write \u2713 if fit for use, X if not, N/A if not fitted.",
            {"tick": "ok", "cross": "defect", "letters": "na"},
        ),
        ("\u2713 = in order, X = do not use, - = not checked", {"tick": "ok", "cross": "defect", "dash": "na"}),
        ("Check (\u2713) only what is defective, and explain below.", {"tick": "defect", "cross": "defect"}),
        ("Tick any item that needs repair", {"tick": "defect", "cross": "defect"}),
        ("Tick if it works, X if it needs attention", {}),
        ("Tick if all right, X if it needs attention", {"tick": "ok", "cross": "defect"}),
        ("Tick if in order, otherwise write the fault down", {}),
        ("In every box: = good X = needs repair NA = not on this truck", {"cross": "defect", "letters": "na"}),
        ("Check all items daily and report any defect to the foreman", {}),
        ("Check oil level, belts and hoses: report what is defective", {}),
    ],
)
def test_a_cross_that_means_a_fault_never_comes_to_mean_what_the_next_sign_does(
    line: str, means: dict[str, str]
) -> None:
    signs, _ = legend_of([FoundWord(line, Box(0, 0, 100, 4))])
    assert {sign.sign: sign.answer for sign in signs} == means


def dated_year_first(pen: Pen) -> None:
    pen.text(20, 20, "SITE VAN", 16)
    pen.text(20, 33, "Date (y-m-d)")
    for n in range(8):
        pen.box(50 + 6.5 * n + 3 * (n > 3) + 3 * (n > 5), 27, 6.5, 8)
    for n, item in enumerate(ITEMS):
        pen.box(20, 50 + 9 * n, 5, 5)
        pen.text(28, 54 + 9 * n, item)


def test_an_order_of_three_letters_says_what_stands_in_eight_cells(tmp_path: Path) -> None:
    date = fields_of(proposed(tmp_path, dated_year_first))["date"]
    assert (len(date.cells_mm), date.pattern) == (8, "yyyymmdd")


def wide_boxes(pen: Pen) -> None:
    """A box by each item, as wide as a short rule to put a sign on would be long."""
    pen.text(20, 20, "BUCKET TRUCK", 16)
    for n, item in enumerate(ITEMS):
        pen.box(20, 40 + 9 * n, 9, 6.2)
        pen.text(32, 44.5 + 9 * n, item)
    pen.text(20, 130, "20 / 40 ft boom")
    pen.box(60, 126, 9, 6.2)


def test_the_lower_edge_of_a_box_is_no_rule_to_put_a_sign_on(tmp_path: Path) -> None:
    items = [made for made in proposed(tmp_path, wide_boxes).template.fields if made.id.startswith("item.")]
    assert len(items) == len(ITEMS)
    assert {made.kind.value for made in items} == {"mark"}


def test_a_sign_that_is_given_another_meaning_counts_as_not_told() -> None:
    signs = (Sign(sign="tick", answer="ok"), Sign(sign="cross", answer="na"))
    template = AdoptedTemplate.model_construct(name="x", fields=(), signs=signs)
    found = agreement(template, {"pages": [{"fields": []}], "legend": {"tick": "ok", "cross": "defect", "dash": "na"}})
    assert (found.signs, found.told) == (3, 1)
    assert "x: sign not told: cross is defect, not na" in found.wrong


def test_a_measured_shift_counts_as_named_right_only_where_its_boxes_are(blocks: dict[str, AdoptedField]) -> None:
    template = AdoptedTemplate.model_construct(name="x", fields=(blocks["shift"],))

    def true(off_mm: float) -> dict[str, Any]:
        boxes = [(a.answer, [a.box_mm[0] + off_mm, *a.box_mm[1:]]) for a in blocks["shift"].answers]
        answers = [{"answer": answer, "box_mm": box} for answer, box in boxes]
        return {"pages": [{"fields": [{"id": "shift", "kind": "choice", "label": "Shift", "answers": answers}]}]}

    here, there = agreement(template, true(0.0)), agreement(template, true(40.0))
    assert (here.found, here.meant, here.named) == (2, 2, 1)
    assert (there.found, there.false, there.named) == (0, 2, 0)
