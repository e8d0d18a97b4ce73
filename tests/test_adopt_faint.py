"""Places on old forms that no whole line closes in, and heads and letters that say what a place is for."""

from __future__ import annotations

from pathlib import Path

import pytest
from blank_forms import HEIGHT_MM, ITEMS, Pen, fields_of, proposed
from reportlab.lib.units import mm


def patch(pen: Pen, x: float, y: float, w: float, h: float) -> None:
    pen.canvas.setFillGray(0.88)
    pen.canvas.rect(x * mm, (HEIGHT_MM - y - h) * mm, w * mm, h * mm, stroke=0, fill=1)
    pen.canvas.setFillGray(0)


def dashed(pen: Pen) -> None:
    """A table in dashed lines; what is written in the head goes on grey patches, labels in a column of their own."""
    pen.text(20, 20, "MOWER CHECK", 16)
    for label, x in (("Mower no.", 20), ("Dt.", 110)):
        pen.text(x, 34, label)
        patch(pen, x + 35, 28, 45, 8)
    pen.canvas.setDash(2, 2)
    for n in range(len(ITEMS) + 2):
        pen.line(20, 45 + 8 * n, 180, 45 + 8 * n)
    for x in (20, 130, 155, 180):
        pen.line(x, 45, x, 45 + 8 * (len(ITEMS) + 1))
    pen.canvas.setDash()
    for words, x in (("OK", 138), ("Not OK", 160)):
        pen.text(x, 50.5, words)
    for n, item in enumerate(ITEMS):
        pen.text(22, 58.5 + 8 * n, item)


def test_dashed_cells_and_tinted_patches_are_places_too(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, dashed))
    horn = fields["item.horn"]
    assert [answer.answer for answer in horn.answers] == ["ok", "defect"]
    assert horn.answers[1].box_mm == pytest.approx((155, 93, 25, 8), abs=0.4)
    assert fields["unit"].box_mm == pytest.approx((55, 28, 45, 8), abs=0.4)
    assert fields["date"].label == "Dt."


def fieldsets(pen: Pen) -> None:
    """Frames whose upper edge is left out where the label stands; small rings with letters in them."""
    pen.text(20, 20, "WATER CART", 16)
    for x, label in ((20, "Plant ID"), (80, "SMU"), (140, "Insp. by")):
        pen.line(x, 30, x, 42)
        pen.line(x, 42, x + 50, 42)
        pen.line(x + 50, 42, x + 50, 30)
        pen.line(x, 30, x + 4, 30)
        pen.text(x + 5, 31, label, 8)
        pen.line(x + 7 + pen.canvas.stringWidth(label, "Helvetica", 8) / mm, 30, x + 50, 30)
    for n, item in enumerate(ITEMS):
        pen.text(20, 58 + 11 * n, item)
        for x, letter in ((120, "G"), (140, "A"), (160, "R")):
            pen.canvas.circle(x * mm, (HEIGHT_MM - 57 - 11 * n) * mm, 4 * mm)
            pen.text(x - 1.2, 58.2 + 11 * n, letter, 9)


def test_a_frame_may_be_broken_by_its_label(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, fieldsets))
    assert {fields[name].label for name in ("unit", "hours", "operator")} == {"Plant ID", "SMU", "Insp. by"}
    assert fields["hours"].box_mm == pytest.approx((80, 30, 50, 12), abs=0.4)


def test_what_nobody_knows_between_good_and_bad_is_never_taken_for_not_applicable(tmp_path: Path) -> None:
    proposal = proposed(tmp_path, fieldsets)
    answers = fields_of(proposal)["item.horn"].answers
    assert [answer.answer for answer in answers] == ["ok", "answer-2", "defect"]
    assert answers[1].box_mm == pytest.approx((136, 108, 8, 8), abs=0.6)
    assert any("was not understood; name its answers" in note for note in proposal.notes)


def initialled(pen: Pen) -> None:
    """Short rules after the words OK and Repair, to be initialled on the one that is true."""
    pen.text(20, 20, "LIGHT TOWER", 16)
    for n, item in enumerate(ITEMS):
        pen.text(20, 49.5 + 9 * n, item)
        for x, word in ((110, "OK"), (145, "Repair")):
            end = x + pen.canvas.stringWidth(word, "Helvetica", 10) / mm
            pen.text(x, 49.5 + 9 * n, word)
            pen.line(end + 1.5, 50 + 9 * n, end + 17.5, 50 + 9 * n)
    pen.text(20, 130, "Sig.")
    pen.line(30, 130.5, 90, 130.5)


def test_rules_after_answers_are_places_and_not_the_answers_words(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, initialled))
    answers = fields["item.horn"].answers
    assert [answer.answer for answer in answers] == ["ok", "defect"]
    assert [answer.box_mm[0] for answer in answers] == pytest.approx([116.7, 156.9], abs=0.4)
    assert fields["signature"].label == "Sig."


def strips(pen: Pen) -> None:
    """Seven squares after every item, each with its day's letter."""
    pen.text(20, 20, "BARGE, ONE WEEK", 16)
    pen.text(20, 32, "Operative")
    pen.line(45, 32.5, 110, 32.5)
    for n, item in enumerate(ITEMS):
        pen.text(20, 47 + 11 * n, item)
        for d, letter in enumerate("MTWTFSS"):
            pen.box(80 + 10 * d, 42 + 11 * n, 8.5, 8.5)
            pen.text(81 + 10 * d, 45 + 11 * n, letter, 6)


def test_letters_in_a_row_of_boxes_are_the_days_of_the_week(tmp_path: Path) -> None:
    proposal = proposed(tmp_path, strips)
    fields = fields_of(proposal)
    assert proposal.template.covers == "week"
    assert fields["item.horn.wed"].box_mm == pytest.approx((100, 97, 8.5, 8.5), abs=0.3)
    assert fields["operator"].label == "Operative"


def one_cell_each(pen: Pen) -> None:
    """A cell for either sign to each item, and beside it one to say what the fault is."""
    pen.text(20, 20, "COACH, FIRST USE", 16)
    pen.text(20, 32, "Coach no.")
    pen.line(45, 32.5, 110, 32.5)
    pen.text(120, 32, "On duty (date)")
    pen.line(150, 32.5, 190, 32.5)
    for n, (item, sign, fault) in enumerate([("Look at", "Tick / cross", "Fault"), *((i, "", "") for i in ITEMS)]):
        for x, w, words in ((20, 70, item), (90, 24, sign), (114, 33, fault)):
            pen.box(x, 40 + 8 * n, w, 8)
            pen.text(x + 2, 45.5 + 8 * n, words, 9)


def test_beside_a_cell_for_either_sign_a_column_headed_fault_is_for_words(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, one_cell_each))
    items = [made for made in fields.values() if made.id.startswith("item.")]
    assert len(items) == len(ITEMS)
    assert all(made.kind.value == "mark" for made in items)


def turns(pen: Pen) -> None:
    """A sign for every turn of the day; in the last row the meter is written down each time."""
    pen.text(20, 20, "LIFT TRUCK", 16)
    heads = ("Point", "1st turn", "2nd turn", "3rd turn")
    for n, row in enumerate([heads, *((i, "", "", "") for i in ITEMS), ("Hour meter", "", "", "")]):
        for x, w, words in zip((20, 95, 120, 145), (75, 25, 25, 25), row, strict=True):
            pen.box(x, 40 + 8 * n, w, 8)
            pen.text(x + 2, 45.5 + 8 * n, words, 9)


def test_a_row_that_asks_for_the_meter_each_turn_is_no_item(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, turns))
    assert fields["hours"].box_mm == pytest.approx((95, 104, 25, 8), abs=0.3)
    assert sum(made.startswith("item.") for made in fields) == 3 * len(ITEMS)


def typed(pen: Pen) -> None:
    """Brackets before OK, REP and N/F, whose meanings stand in a line over the list."""
    pen.text(20, 20, "DRILL REPORT", 16)
    pen.text(95, 38, "OK = fit to run  REP = repair  N/F = not fitted")
    for n, item in enumerate(ITEMS):
        pen.text(20, 50 + 7 * n, item)
        for k, word in enumerate(("OK", "REP", "N/F")):
            pen.text(100 + 25 * k, 50 + 7 * n, f"[     ] {word}")
    pen.text(20, 120, "Shift crew")
    pen.line(45, 120.5, 90, 120.5)


def test_a_line_over_the_list_says_what_its_answers_mean_and_heads_no_column(tmp_path: Path) -> None:
    answers = fields_of(proposed(tmp_path, typed))["item.horn"].answers
    assert [answer.answer for answer in answers] == ["ok", "defect", "na"]
