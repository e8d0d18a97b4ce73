"""Rules that no pixel can break: what must hold between the fields of one sheet."""

from __future__ import annotations

import pytest
from made_readings import comb, plain, reasons_of, settle

from scanform.read import Reading
from scanform.settle import SettledField, State

# Item 20 is the horn, 7 the reflectors; tests/test_templates.py holds the template to its numbers.


def defect_line(n: int, number: str, words: str | None) -> list[Reading]:
    return [comb(f"defect.{n}.item", number), plain(f"defect.{n}", words)]


def doubted(fields: dict[str, SettledField]) -> set[str]:
    for field in fields.values():
        assert (field.state is State.DOUBTFUL) == bool(field.reasons)
    return {field_id for field_id, field in fields.items() if field.reasons}


def test_a_defect_with_its_line_and_a_parked_machine_break_no_rule() -> None:
    fields = settle(plain("item.horn", "defect"), *defect_line(1, "20", "no sound"), plain("fit", "parked"))
    assert doubted(fields) == set()


def test_a_defect_on_a_harmless_item_may_be_fit_for_use() -> None:
    fields = settle(plain("item.reflectors", "defect"), *defect_line(1, "7", "one missing"), plain("fit", "fit"))
    assert doubted(fields) == set()


def test_a_defect_that_no_line_explains_is_doubted_at_the_item() -> None:
    fields = settle(plain("item.reflectors", "defect"))
    assert doubted(fields) == {"item.reflectors"}
    assert "no defect line" in reasons_of(fields["item.reflectors"])
    assert "item 7" in reasons_of(fields["item.reflectors"])


def test_each_of_two_defects_needs_a_line_of_its_own() -> None:
    fields = settle(
        plain("item.reflectors", "defect"), plain("item.steps", "defect"), *defect_line(1, "7", "one missing")
    )
    assert doubted(fields) == {"item.steps"}


def test_words_for_an_item_answered_ok_are_doubted_at_both_ends() -> None:
    for answer, said in (("ok", "answered OK"), ("na", "answered N/A"), (None, "not answered")):
        fields = settle(plain("item.reflectors", answer), *defect_line(1, "7", "one missing"))
        assert doubted(fields) == {"item.reflectors", "defect.1.item"}
        assert said in reasons_of(fields["defect.1.item"])
        assert "defect line 1" in reasons_of(fields["item.reflectors"])


def test_words_without_an_item_number_are_doubted() -> None:
    fields = settle(*defect_line(2, "", "one missing"))
    assert doubted(fields) == {"defect.2.item"}
    assert "no item number" in reasons_of(fields["defect.2.item"])


def test_a_line_without_number_may_be_the_defects_so_the_doubt_stands_at_the_number_alone() -> None:
    fields = settle(plain("item.reflectors", "defect"), *defect_line(1, "", "one missing"))
    assert doubted(fields) == {"defect.1.item"}


def test_one_line_without_number_cannot_explain_two_defects() -> None:
    fields = settle(
        plain("item.reflectors", "defect"), plain("item.steps", "defect"), *defect_line(1, "", "one missing")
    )
    assert doubted(fields) == {"defect.1.item", "item.reflectors", "item.steps"}


def test_an_item_number_without_words_is_doubted_at_the_words() -> None:
    fields = settle(plain("item.reflectors", "defect"), *defect_line(1, "7", None))
    assert doubted(fields) == {"defect.1"}
    assert "item number 7" in reasons_of(fields["defect.1"])


def test_an_unsigned_sheet_is_doubted() -> None:
    fields = settle(plain("signature", False))
    assert doubted(fields) == {"signature"}
    assert "not signed" in reasons_of(fields["signature"])


def test_a_sheet_that_leaves_open_what_happens_to_the_machine_is_doubted() -> None:
    fields = settle(plain("fit", None))
    assert doubted(fields) == {"fit"}
    assert fields["fit"].critical


def test_fit_for_use_with_a_safety_defect_is_doubted_and_the_items_named() -> None:
    fields = settle(
        plain("item.horn", "defect"),
        plain("item.service-brake", "defect"),
        *defect_line(1, "20", "no sound"),
        *defect_line(2, "24", "pedal sinks"),
    )
    assert doubted(fields) == {"fit"}
    assert "20, 24" in reasons_of(fields["fit"])
    assert "safety-critical" in reasons_of(fields["fit"])


@pytest.mark.parametrize("closed_as", ["repaired", "not-needed"])
def test_a_line_that_the_workshop_closed_needs_its_date_and_signature(closed_as: str) -> None:
    line = [
        plain("item.reflectors", "defect"),
        *defect_line(1, "7", "one missing"),
        plain("defect.1.repair", closed_as),
    ]
    fields = settle(*line)
    assert doubted(fields) == {"workshop.date", "workshop.signature"}
    dated = comb("workshop.date", "20261127")
    assert doubted(settle(*line, dated)) == {"workshop.signature"}
    assert doubted(settle(*line, dated, plain("workshop.signature", True))) == set()


def test_a_workshops_answer_on_a_line_without_words_is_doubted() -> None:
    closing = [comb("workshop.date", "20261127"), plain("workshop.signature", True)]
    assert doubted(settle(plain("defect.3.repair", "repaired"), *closing)) == {"defect.3.repair"}


def test_ink_where_the_workshop_signs_is_doubted_if_no_line_is_closed() -> None:
    # A coffee ring or a crease there looks like a signature; nothing else in the block says that anybody signed.
    fields = settle(plain("workshop.signature", True))
    assert doubted(fields) == {"workshop.signature"}
    assert "may be dirt" in reasons_of(fields["workshop.signature"])


def test_an_empty_workshop_block_is_no_doubt() -> None:
    fields = settle()
    assert doubted(fields) == set()
    assert fields["workshop.date"].value is None
    assert fields["workshop.signature"].value is False


def test_the_workshops_date_is_held_to_the_calendar_too() -> None:
    assert doubted(settle(comb("workshop.date", "20261327"))) == {"workshop.date"}
    assert doubted(settle(comb("workshop.date", "20261224"))) == {"workshop.date"}
