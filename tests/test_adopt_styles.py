"""Old forms are laid out in many ways; each of these is proposed as a person would read it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from blank_forms import ITEMS, Pen, day_card, fields_of, printed, week_card
from reportlab.lib.units import mm

from scanform.adopt import propose


def shifts(pen: Pen) -> None:
    """A week whose days are parted into an early and a late shift; the hours once a day."""
    pen.text(20, 20, "FORK TRUCK, BOTH SHIFTS", 16)
    pen.text(20, 32, "Truck no.")
    pen.line(40, 32.5, 90, 32.5)
    for d, day in enumerate(("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")):
        pen.box(60 + 18 * d, 40, 18, 7)
        pen.text(65 + 18 * d, 45, day, 9)
        for half, shift in enumerate("EL"):
            pen.box(60 + 18 * d + 9 * half, 47, 9, 6)
            pen.text(63 + 18 * d + 9 * half, 51.5, shift, 9)
            for n in range(len(ITEMS)):
                pen.box(60 + 18 * d + 9 * half, 53 + 8 * n, 9, 8)
        pen.box(60 + 18 * d, 53 + 8 * len(ITEMS), 18, 10)
    for n, item in enumerate(ITEMS):
        pen.box(15, 53 + 8 * n, 45, 8)
        pen.text(17, 58.5 + 8 * n, item)
    pen.box(15, 53 + 8 * len(ITEMS), 45, 10)
    pen.text(17, 59 + 8 * len(ITEMS), "Hour meter")


def test_each_shift_of_a_day_has_a_place_of_its_own_and_the_hours_one_a_day(tmp_path: Path) -> None:
    fields = fields_of(propose(printed(tmp_path, shifts), "x"))
    assert fields["item.horn-e.tue"].box_mm == pytest.approx((78, 93, 9, 8), abs=0.2)
    assert fields["item.horn-l.tue"].box_mm == pytest.approx((87, 93, 9, 8), abs=0.2)
    assert sum(made.startswith("item.") for made in fields) == 14 * len(ITEMS)
    assert fields["hours.sun"].box_mm == pytest.approx((168, 109, 18, 10), abs=0.2)


def ledger(pen: Pen) -> None:
    """Answers left of numbered items, a part's heading under the heads; labels under their lines and comb."""
    pen.text(20, 20, "CRANE LOG", 16)
    for x, label, end in ((20, "Crane no.", 80), (95, "Working at", 150)):
        pen.line(x, 34, end, 34)
        pen.text(x, 37.5, label, 7)
    for n in range(6):
        pen.box(160 + 6 * n, 26, 6, 8)
    pen.text(160, 37.5, "Date (DD MM YY)", 7)
    for k, head in enumerate(("OK", "Fault", "N/A")):
        pen.box(20 + 15 * k, 50, 15, 7)
        pen.text(22 + 15 * k, 55, head, 9)
    pen.box(20, 57, 150, 7)
    pen.text(22, 62, "Walk round")
    for n, item in enumerate(ITEMS):
        for k in range(3):
            pen.box(20 + 15 * k, 64 + 7 * n, 15, 7)
        pen.box(65, 64 + 7 * n, 12, 7)
        pen.text(70, 69 + 7 * n, str(n + 1))
        pen.box(77, 64 + 7 * n, 93, 7)
        pen.text(79, 69 + 7 * n, item)
    for column, width, head in ((20, 110, "To be put right"), (130, 40, "Seen to by")):
        pen.text(column + 2, 129, head)
        for n in range(4):
            pen.box(column, 124 + 8 * n, width, 8)


def test_heads_over_a_parts_heading_captions_and_a_table_for_remarks_are_understood(tmp_path: Path) -> None:
    fields = fields_of(propose(printed(tmp_path, ledger), "x"))
    assert [answer.answer for answer in fields["item.horn"].answers] == ["ok", "defect", "na"]
    assert sum(made.startswith("item.") for made in fields) == len(ITEMS)
    assert fields["unit"].box_mm is not None
    assert fields["site"].label == "Working at"
    assert (len(fields["date"].cells_mm), fields["date"].pattern) == (6, "ddmmyy")
    assert fields["remarks.2"].box_mm == pytest.approx((20, 140, 110, 8), abs=0.2)
    assert "walk-round" not in fields


def cards(pen: Pen) -> None:
    """Under each item's words round boxes, each before what it says; two cards side by side."""
    pen.text(20, 20, "SITE PLANT CARD", 16)
    pen.text(20, 30, "Plant no.")
    pen.line(40, 30.5, 80, 30.5)
    for n, item in enumerate(ITEMS[:6]):
        x, y = 20 + 85 * (n % 2), 45 + 20 * (n // 2)
        pen.text(x, y, f"{n + 1} {item}")
        for k, word in enumerate(("Good", "Needs work", "Not fitted")):
            pen.canvas.circle((x + 2.2 + 25 * k) * mm, (pen.canvas._pagesize[1] / mm - y - 6) * mm, 2.2 * mm)
            pen.text(x + 5.5 + 25 * k, y + 7.2, word, 8)


def test_round_boxes_under_an_items_words_are_its_answers(tmp_path: Path) -> None:
    fields = fields_of(propose(printed(tmp_path, cards), "x"))
    items = {made.label: made for made in fields.values() if made.id.startswith("item.")}
    assert set(items) == set(ITEMS[:6])
    second = items[ITEMS[1]]
    assert [answer.answer for answer in second.answers] == ["ok", "defect", "na"]
    assert second.answers[1].box_mm == pytest.approx((130, 48.8, 4.4, 4.4), abs=0.3)


def short_rules(pen: Pen) -> None:
    """A short rule before every item to put a sign on."""
    pen.text(20, 20, "PRE-START LIST", 16)
    pen.text(20, 32, "Operator")
    pen.line(40, 32.5, 110, 32.5)
    pen.text(20, 42, "X = faulty, G = good")
    for n, item in enumerate(ITEMS):
        pen.line(20, 55 + 8 * n, 32, 55 + 8 * n)
        pen.text(34, 54.5 + 8 * n, item)


def test_a_short_rule_before_each_item_is_a_place_for_its_sign(tmp_path: Path) -> None:
    fields = fields_of(propose(printed(tmp_path, short_rules), "x"))
    assert fields["item.service-brake"].box_mm == pytest.approx((20, 72, 12, 7), abs=0.3)
    assert [made for made in fields if not made.startswith("item.")] == ["operator"]


def test_cells_whose_upright_lines_were_lost_are_where_their_row_and_column_say(tmp_path: Path) -> None:
    whole = printed(tmp_path, week_card)
    lost = [cell for cell in whole.cells if cell.x_mm > 150 and cell.y_mm > 76]
    assert len(lost) == 10
    worn = replace(whole, cells=tuple(cell for cell in whole.cells if cell not in lost))
    again = fields_of(propose(worn, "x"))
    assert again.keys() == fields_of(propose(whole, "x")).keys()
    assert again["item.horn.sun"].box_mm == pytest.approx((174, 93, 16, 8), abs=0.3)


def test_an_answer_whose_head_was_not_read_is_the_one_left_over_and_not_sure(tmp_path: Path) -> None:
    whole = printed(tmp_path, day_card)
    proposal = propose(replace(whole, words=tuple(w for w in whole.words if w.text != "Repair")), "x")
    horn = fields_of(proposal)["item.horn"]
    assert [answer.answer for answer in horn.answers] == ["ok", "defect"]
    assert proposal.sure["item.horn"] < 0.7


def test_yes_and_no_are_said_to_be_taken_for_in_order_and_not(tmp_path: Path) -> None:
    whole = printed(tmp_path, day_card)
    heads = {"Good": "Yes", "Repair": "No"}
    words = tuple(replace(word, text=heads.get(word.text, word.text)) for word in whole.words)
    proposal = propose(replace(whole, words=words), "x")
    assert [answer.answer for answer in fields_of(proposal)["item.horn"].answers] == ["ok", "defect"]
    assert any("turn its answers round" in note for note in proposal.notes)
