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
