"""Boxes outside the check list, and answers that are none of OK, Defect and N/A."""

from __future__ import annotations

from pathlib import Path

import pytest
from blank_forms import HEIGHT_MM, ITEMS, Pen, fields_of, proposed
from reportlab.lib.units import mm

from scanform.adopt import Proposal
from scanform.form import AdoptedField, FieldKind


def loader_form(pen: Pen) -> None:
    """A list under Good, Monitor, Repair; boxes about other matters over it and under it."""
    pen.text(15, 20, "LOADER - BEFORE THE SHIFT", 15)
    pen.text(15, 35, "Plant no.")
    pen.line(33, 35.5, 80, 35.5)
    pen.text(15, 46, "Inspection type:")
    for x, words in ((45, "Daily"), (65, "Weekly"), (90, "Return from hire")):
        pen.box(x, 42.5, 4.5, 4.5)
        pen.text(x + 6, 46, words)
    for x, head in ((66, "Good"), (78, "Monitor"), (90, "Repair")):
        pen.canvas.setFont("Helvetica-Bold", 7)
        pen.canvas.drawCentredString((x + 2) * mm, (HEIGHT_MM - 57) * mm, head)
    for n, item in enumerate(ITEMS):
        pen.text(15, 64 + 8 * n, item)
        for k in range(3):
            pen.box(66 + 12 * k, 60.5 + 8 * n, 4, 4)
    pen.text(15, 160, "Is the machine safe to operate?")
    pen.text(75, 160, "Yes")
    pen.box(82, 156.5, 4.5, 4.5)
    pen.text(93, 160, "No")
    pen.box(99, 156.5, 4.5, 4.5)
    pen.text(115, 160, "Any defects found?")
    pen.text(150, 160, "Yes")
    pen.box(157, 156.5, 4.5, 4.5)
    pen.text(168, 160, "No")
    pen.box(174, 156.5, 4.5, 4.5)
    pen.box(15, 168, 4.5, 4.5)
    pen.text(21, 171.5, "Defect reported to supervisor")
    pen.box(80, 168, 4.5, 4.5)
    pen.text(86, 171.5, "Machine tagged out of service")
    pen.text(15, 185, "Signature")
    pen.line(33, 185.5, 100, 185.5)


@pytest.fixture(scope="module")
def loader(tmp_path_factory: pytest.TempPathFactory) -> Proposal:
    return proposed(tmp_path_factory.mktemp("loader"), loader_form)


@pytest.fixture(scope="module")
def fields(loader: Proposal) -> dict[str, AdoptedField]:
    return fields_of(loader)


def answers_of(made: AdoptedField) -> list[str]:
    return [answer.answer for answer in made.answers]


def test_whether_the_machine_is_safe_to_use_is_a_point_of_the_check(
    loader: Proposal, fields: dict[str, AdoptedField]
) -> None:
    safe = fields["item.is-machine-safe"]
    assert (safe.kind, answers_of(safe)) == (FieldKind.CHOICE, ["ok", "defect"])
    assert safe.answers[1].box_mm == pytest.approx((99, 156.5, 4.5, 4.5), abs=0.3)
    assert loader.template.items[-1].text == "Is the machine safe to operate?"


def test_a_question_whose_yes_is_the_finding_keeps_yes_and_no(fields: dict[str, AdoptedField]) -> None:
    assert answers_of(fields["any-defects-found"]) == ["yes", "no"]
    assert not any(name.startswith("item.any") for name in fields)


def test_boxes_over_the_list_are_no_part_of_it_though_one_stands_nearly_over_its_column(
    fields: dict[str, AdoptedField],
) -> None:
    asked = fields["inspection-type"]
    assert answers_of(asked) == ["daily", "weekly", "return-from-hire"]
    assert [round(answer.box_mm[0]) for answer in asked.answers] == [45, 65, 90]
    listed = [made for name, made in fields.items() if name.startswith("item.") and made.label in ITEMS]
    assert len(listed) == len(ITEMS)


def test_boxes_by_themselves_say_what_stands_beside_them(fields: dict[str, AdoptedField]) -> None:
    told = {made.label for made in fields.values() if answers_of(made) == ["ticked"]}
    assert told == {"Defect reported to supervisor", "Machine tagged out of service"}


def test_monitor_between_good_and_repair_is_an_answer_of_its_own_and_never_not_applicable(
    loader: Proposal, fields: dict[str, AdoptedField]
) -> None:
    assert answers_of(fields["item.horn"]) == ["ok", "monitor", "defect"]
    (said,) = [note for note in loader.notes if "'Monitor'" in note]
    assert "No list of defects shows" in said


def test_every_word_of_the_form_stays_among_its_print(loader: Proposal) -> None:
    said = {word.text for word in loader.template.words}
    assert {"Inspection", "Weekly", "safe", "tagged"} <= said


def framed_form(pen: Pen) -> None:
    """The same answers as heads of a table's columns, and a last question in a table's row."""
    pen.text(15, 20, "PUMP HOUSE ROUND", 15)
    pen.text(15, 35, "Pump no.")
    pen.line(33, 35.5, 80, 35.5)
    for n, words in enumerate(["Point", *ITEMS]):
        pen.box(15, 45 + 8 * n, 70, 8)
        pen.text(17, 50.5 + 8 * n, words)
        for k, head in enumerate(("OK", "Watch", "N/A", "Defect")):
            pen.box(85 + 18 * k, 45 + 8 * n, 18, 8)
            if n == 0:
                pen.text(87 + 18 * k, 50.5, head)
    pen.box(15, 140, 70, 9)
    pen.text(17, 146, "Pump fit for use")
    pen.box(85, 140, 72, 9)
    for x, words in ((90, "Yes"), (120, "No")):
        pen.box(x, 142.5, 4, 4)
        pen.text(x + 6, 146, words)


def test_an_unknown_head_of_a_tables_column_names_its_answer(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, framed_form))
    assert answers_of(fields["item.horn"]) == ["ok", "watch", "na", "defect"]
    fit = fields["item.pump-fit-use"]
    assert answers_of(fit) == ["ok", "defect"]
    assert not any(made.box_mm is not None and made.box_mm[1] > 135 for made in fields.values())


def dumper_form(pen: Pen) -> None:
    """Yes and No before each line for what is wrong; the last question's Yes stands under a column of the list."""
    pen.text(15, 20, "SITE DUMPER", 15)
    pen.text(15, 32, "Plant no.")
    pen.line(33, 32.5, 80, 32.5)
    for x, head in ((97, "OK"), (108, "Bad"), (119, "N/A"), (135, "If bad, what is wrong")):
        pen.text(x, 42, head, 8)
    for n, item in enumerate(ITEMS):
        pen.text(15, 49 + 9 * n, item)
        for x in (96, 107, 118):
            pen.box(x, 45 + 9 * n, 5, 5)
        pen.line(135, 50.2 + 9 * n, 195, 50.2 + 9 * n)
    pen.text(15, 125, "Is this dumper safe to use today?")
    for x, words in ((118, "Yes"), (150, "No")):
        pen.text(x - 9, 125, words)
        pen.box(x, 121, 5, 5)
    pen.text(15, 140, "Signature")
    pen.line(33, 140.5, 100, 140.5)


def test_a_question_may_stand_far_from_its_boxes_and_one_of_them_under_the_lists_column(tmp_path: Path) -> None:
    safe = fields_of(proposed(tmp_path, dumper_form))["item.is-this-dumper-safe"]
    assert [(answer.answer, round(answer.box_mm[0])) for answer in safe.answers] == [("ok", 118), ("defect", 150)]


def test_writing_lines_beside_the_items_are_for_words_on_each(tmp_path: Path) -> None:
    fields = fields_of(proposed(tmp_path, dumper_form))
    notes = [made for name, made in fields.items() if name.startswith("note.")]
    assert len(notes) == len(ITEMS)
    assert {made.label for made in notes} == {"If bad, what is wrong"}
    assert fields["note.horn"].box_mm == pytest.approx((135, 50.2 + 45 - 6.5, 60, 6.5), abs=0.4)


def framed_label(pen: Pen) -> None:
    """Two blocks of rows that do not lie level; one item's words happen to be framed, as high as its row."""
    pen.text(15, 20, "REACH STACKER", 15)
    pen.text(15, 32, "Unit no.")
    pen.line(33, 32.5, 80, 32.5)
    for block, higher in ((0, 0.0), (100, 2.2)):
        for k, head in enumerate(("OK", "Defect")):
            pen.text(15 + block + 58 + 12 * k, 42 - higher, head, 8)
        for n, item in enumerate(ITEMS):
            pen.text(17 + block, 51 + 8 * n - higher, f"{item} {block}")
            for k in range(2):
                pen.box(15 + block + 60 + 12 * k, 48 + 8 * n - higher, 4.2, 4.2)
    pen.box(15, 46 + 8 * 3, 58, 8)


def test_an_items_words_may_stand_in_a_frame_as_high_as_its_row(tmp_path: Path) -> None:
    proposal = proposed(tmp_path, framed_label)
    labels = {made.label for name, made in fields_of(proposal).items() if name.startswith("item.")}
    assert labels == {f"{item} {block}" for item in ITEMS for block in (0, 100)}
    assert not any("no words beside them" in note for note in proposal.notes)


def nameless_row(pen: Pen) -> None:
    """A row of boxes without words among the others."""
    pen.text(15, 20, "ROLLER", 15)
    for k, head in enumerate(("OK", "Defect")):
        pen.text(75 + 14 * k, 42, head, 8)
    for n, item in enumerate([*ITEMS[:3], "", *ITEMS[3:]]):
        pen.text(17, 51 + 9 * n, item)
        for k in range(2):
            pen.box(76 + 14 * k, 47 + 9 * n, 5, 5)


def test_boxes_of_the_list_that_have_no_words_are_said_to_be_left_out(tmp_path: Path) -> None:
    (said,) = [note for note in proposed(tmp_path, nameless_row).notes if "no words beside them" in note]
    assert said.startswith("2 places")
    assert "78 mm from the left, 76 mm from the top" in said


def boxes_before(pen: Pen) -> None:
    """A sign box before each item; the words of one begin with No, those of another are an answer's."""
    pen.text(15, 20, "PAVER", 15)
    pen.text(15, 30, "tick = in order   X = needs seeing to   - = not fitted", 9)
    for n, item in enumerate(["No leaks underneath", *ITEMS]):
        pen.box(15, 40 + 9 * n, 5.5, 5.5)
        pen.text(23, 44.5 + 9 * n, item)


def test_no_at_the_head_of_an_items_words_is_no_answer(tmp_path: Path) -> None:
    proposal = proposed(tmp_path, boxes_before)
    leaks = fields_of(proposal)["item.no-leaks-underneath"]
    assert (leaks.kind, leaks.label) == (FieldKind.MARK, "No leaks underneath")
    assert {sign.sign: sign.answer for sign in proposal.template.signs} == {
        "tick": "ok",
        "cross": "defect",
        "dash": "na",
    }
