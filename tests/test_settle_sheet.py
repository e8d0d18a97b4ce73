"""Item numbers, names, printed values, choices and signatures; and what holds for every field of a settled sheet."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_readings import KNOWN, SURE, TODAY, UnitRecord, comb, plain, readings, reasons_of, settle, sheet, verdicts

from scanform.form import FieldKind
from scanform.read import Alternative
from scanform.settle import Known, State, calibration, settle_sheet

CREW = ("Dora Pell", "Dana Peel", "Quentin Rudd", "Moss Tadley")
WITH_CREW = replace(KNOWN, crew=CREW)


def test_a_clean_sheet_is_accepted_in_every_field_and_in_the_layouts_order() -> None:
    fields = settle_sheet(sheet(), readings(), KNOWN)
    assert [f.id for f in fields] == [spec.id for spec in sheet().fields]
    assert [(f.id, f.reasons) for f in fields if f.state is not State.ACCEPTED] == []
    assert {f.id for f in fields if f.critical} == {spec.id for spec in sheet().fields if spec.critical}


# Item numbers


@pytest.mark.parametrize("cells", ["7", " 7", "07"])
def test_an_item_number_may_stand_left_or_right_or_behind_a_nought(cells: str) -> None:
    line = [comb("defect.1.item", cells), plain("defect.1", "beacon dead"), plain("item.reflectors", "defect")]
    field = settle(*line)["defect.1.item"]
    assert (field.value, field.state) == ("7", State.ACCEPTED)


def test_an_empty_item_number_on_an_empty_line_is_nothing() -> None:
    field = settle()["defect.1.item"]
    assert (field.value, field.state, field.reasons) == (None, State.ACCEPTED, ())


def test_a_number_that_the_sheet_has_no_item_for_is_doubted() -> None:
    for cells in ("28", "99", "00", "0"):
        field = settle(comb("defect.1.item", cells), plain("defect.1", "beacon dead"))["defect.1.item"]
        assert field.state is State.DOUBTFUL
        assert "no item number of this sheet" in reasons_of(field)


def test_an_item_answered_defect_is_likelier_than_one_that_is_not() -> None:
    unclear = comb("defect.1.item", [" ", {"1": 0.5, "7": 0.5}])
    words = plain("defect.1", "beacon dead")
    assert verdicts(unclear, words, plain("item.reflectors", "defect"))["defect.1.item"].value == "7"
    assert verdicts(unclear, words, plain("item.leaks", "defect"))["defect.1.item"].value == "1"


def test_ink_that_clearly_prefers_a_number_without_an_item_is_not_overruled_in_silence() -> None:
    unclear = comb("defect.1.item", ["2", {"9": 0.97, "7": 0.03}])
    field = settle(unclear, plain("defect.1", "pulls left"), plain("item.steering", "defect"))["defect.1.item"]
    assert field.state is State.DOUBTFUL


# Names


def test_a_name_close_to_one_person_of_the_crew_is_that_person() -> None:
    for read_as in ("Quentin Rudd", "QUENTIN RUDD", "Quentln Rudd", "quentin  rud"):
        field = settle(plain("operator", read_as, 0.4), known=WITH_CREW)["operator"]
        assert field.value == "Quentin Rudd"
        assert field.reasons == () or field.reasons == ("the ink is not clear enough to be sure",)


def test_a_name_between_two_people_of_the_crew_is_doubted_as_read() -> None:
    crew = ("Dora Pell", "Dana Pell", "Abel Thorne")
    field = settle(plain("operator", "Dona Pell"), known=replace(KNOWN, crew=crew))["operator"]
    assert (field.value, field.state) == ("Dona Pell", State.DOUBTFUL)
    assert {"Dora Pell", "Dana Pell"} <= {str(a.value) for a in field.alternatives}
    assert "Dora Pell" in reasons_of(field)
    assert "Dana Pell" in reasons_of(field)


def test_a_stranger_is_doubted_and_not_made_one_of_the_crew() -> None:
    for crew in (CREW, ("Dora Pell",)):
        field = settle(plain("operator", "Zebulon Kraft"), known=replace(KNOWN, crew=crew))["operator"]
        assert (field.value, field.state) == ("Zebulon Kraft", State.DOUBTFUL)
        assert "Zebulon Kraft" in reasons_of(field)


def test_without_a_crew_list_a_name_stands_as_read() -> None:
    field = settle(plain("operator", "Zebulon Kraft"), known=Known(today=TODAY))["operator"]
    assert (field.value, field.state) == ("Zebulon Kraft", State.ACCEPTED)


def test_a_missing_operator_is_doubted_and_nobody_told_is_not() -> None:
    fields = settle(plain("operator", None))
    assert fields["operator"].reasons == ("no name is written",)
    assert (fields["told"].value, fields["told"].state) == (None, State.ACCEPTED)


# Words


def test_clear_words_stay_as_read() -> None:
    for said in ("horn dead", "Horn dead", "HORN DEAD", "zorp quimbled"):
        field = settle(plain("defect.1", said), comb("defect.1.item", "20"), plain("item.horn", "defect"))["defect.1"]
        assert (field.value, field.original) == (said, said)


# Printed values


def test_a_printed_unit_and_date_stand_in_the_registers_spelling() -> None:
    fields = settle(comb("unit", "WL07", printed="WL07"), comb("date", "20261126", printed="2026-11-26"))
    assert (fields["unit"].value, fields["unit"].state) == ("WL-07", State.ACCEPTED)
    assert (fields["date"].value, fields["date"].state) == ("2026-11-26", State.ACCEPTED)


def test_a_printed_value_that_somebody_wrote_over_is_doubted() -> None:
    over = comb("unit", "WL09", printed="WL-07")
    field = settle(over)["unit"]
    assert field.state is State.DOUBTFUL
    assert field.value == "WL-07"
    assert "written over" in reasons_of(field)
    scribbled = settle(comb("date", "20261126", printed="2026-11-26", other=0.5))["date"]
    assert scribbled.state is State.DOUBTFUL
    assert "written over" in reasons_of(scribbled)


def test_a_printed_unit_that_the_register_lacks_is_doubted() -> None:
    field = settle(comb("unit", "WL99", printed="WL-99"))["unit"]
    assert (field.value, field.state) == ("WL-99", State.DOUBTFUL)
    assert "not in the register" in reasons_of(field)
    assert settle(comb("unit", "WL99", printed="WL-99"), known=Known(today=TODAY))["unit"].state is State.ACCEPTED


def test_a_printed_day_that_is_yet_to_come_is_doubted() -> None:
    day = TODAY + timedelta(days=2)
    field = settle(comb("date", day.strftime("%Y%m%d"), printed=day.isoformat()))["date"]
    assert (field.value, field.state) == (day.isoformat(), State.DOUBTFUL)
    assert "future" in reasons_of(field)


# Choices and signatures


def test_exactly_one_marked_answer_is_an_answer() -> None:
    for answer in ("ok", "na"):
        field = settle(plain("item.leaks", answer))["item.leaks"]
        assert (field.value, field.state) == (answer, State.ACCEPTED)


@pytest.mark.parametrize(
    ("value", "evidence"),
    [
        (None, "OK and Defect are both marked"),
        ("ok", "Defect is struck out and OK marked instead"),
        (None, "OK is struck out and nothing else marked"),
        ("ok", "there is ink in the box N/A that may be a mark"),
    ],
)
def test_everything_else_is_a_doubt_that_says_what_was_seen(value: str | None, evidence: str) -> None:
    field = settle(plain("item.horn", value, evidence=(evidence,)))["item.horn"]
    assert (field.value, field.state) == (value, State.DOUBTFUL)
    assert evidence in field.reasons


def test_an_item_without_an_answer_is_a_doubt_however_clean_the_paper() -> None:
    field = settle(plain("item.horn", None))["item.horn"]
    assert (field.value, field.state, field.reasons) == (None, State.DOUBTFUL, ("no answer is marked",))


def test_a_workshop_box_that_nobody_ticked_is_no_doubt() -> None:
    field = settle()["defect.1.repair"]
    assert (field.value, field.state) == (None, State.ACCEPTED)


def test_an_unclear_tick_is_a_doubt_that_names_the_other_answer() -> None:
    field = settle(plain("item.horn", "ok", 0.6))["item.horn"]
    assert field.state is State.DOUBTFUL
    assert "'defect'" in reasons_of(field)


def test_a_signature_is_ink_or_no_ink() -> None:
    assert settle()["signature"].value is True
    field = settle(plain("signature", False))["signature"]
    assert (field.value, field.state, field.reasons) == (False, State.DOUBTFUL, ("the sheet is not signed",))


# What holds for every field


def test_a_box_far_from_its_place_is_a_doubt_however_clear_the_ink() -> None:
    field = settle(comb("unit", "WL07", residual_mm=0.9))["unit"]
    assert (field.value, field.state) == ("WL-07", State.DOUBTFUL)
    assert "0.9 mm" in reasons_of(field)


def test_a_field_that_the_scan_does_not_show_is_a_doubt_even_if_it_looks_empty() -> None:
    field = settle(comb("unit", "WL07", residual_mm=float("inf")))["unit"]
    assert field.state is State.DOUBTFUL
    assert "cannot be seen; the page is torn, covered or cut off here" in reasons_of(field)


@pytest.mark.parametrize("kind", calibration().kinds)
def test_confidence_never_falls_when_the_raw_probability_rises(kind: str) -> None:
    raw = np.linspace(0, 1, 500)
    confidence = [calibration().confidence(kind, float(p)) for p in raw]
    assert confidence == sorted(confidence)
    assert 0 <= confidence[0] < confidence[-1] <= 1
    assert 0 < calibration().threshold(kind) <= 1


def test_clearer_ink_never_gets_less_confidence() -> None:
    for field_id, value in (("item.horn", "ok"), ("operator", "Dora Pell"), ("fit", "fit"), ("signature", True)):
        known = Known(today=TODAY)  # a crew list would speak for the name whatever the ink
        settled = [settle(plain(field_id, value, p), known=known)[field_id] for p in (0.6, 0.9, 0.99, 0.9999, SURE)]
        confidences = [field.confidence for field in settled]
        assert confidences == sorted(confidences)
    for share in (0.0, 0.2, 0.5):
        digits = [comb("date", [*"2026112", {"3": p, "8": 1 - p}], other=share) for p in (0.6, 0.9, 0.999)]
        confidences = [settle(reading)["date"].confidence for reading in digits]
        assert confidences == sorted(confidences)


probabilities = st.floats(0.34, SURE)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(["ok", "defect", "na", None]), probabilities), min_size=27, max_size=27),
    st.tuples(st.sampled_from(["fit", "parked", None]), probabilities),
    st.tuples(st.booleans(), st.floats(0.5, SURE)),
    st.lists(st.sampled_from(["", "2", "20", "7", "27", "31"]), min_size=5, max_size=5),
    st.lists(st.sampled_from([None, "horn dead", "leaks"]), min_size=5, max_size=5),
    st.text("WL0175 ", max_size=7),
    st.text("0123456789 ", min_size=8, max_size=8) | st.just("20261126"),
)
def test_a_field_is_accepted_exactly_when_nothing_speaks_against_it(
    answers: list[tuple[str | None, float]],
    fit: tuple[str | None, float],
    signed: tuple[bool, float],
    numbers: list[str],
    words: list[str | None],
    unit: str,
    day: str,
) -> None:
    items = [spec.id for spec in sheet().fields if spec.kind is FieldKind.CHOICE]
    changed = [plain(item, *answer) for item, answer in zip(items, answers, strict=True)]
    changed += [plain("fit", *fit), plain("signature", *signed), comb("unit", unit), comb("date", day)]
    for n, (number, said) in enumerate(zip(numbers, words, strict=True), start=1):
        changed += [comb(f"defect.{n}.item", number), plain(f"defect.{n}", said)]
    for field in settle(*changed).values():
        assert (field.state is State.ACCEPTED) == (field.reasons == ())
        assert 0 <= field.confidence <= 1
        if field.state is State.ACCEPTED:
            assert field.confidence >= calibration().threshold(_kind_of(field.id)) - 1e-6
        assert all(isinstance(a, Alternative) for a in field.alternatives)


def _kind_of(field_id: str) -> str:
    last = field_id.rpartition(".")[2]
    if field_id.startswith("item.") or last in ("fit", "repair"):
        return "choice"
    named = {"operator": "name", "told": "name", "item": "item-number"}
    if last in ("unit", "date", "hours", "signature"):
        return last
    return named.get(last, "words")


def test_a_units_register_entry_without_hours_settles_like_any_other() -> None:
    assert settle(known=Known(units=(UnitRecord("WL-07", "wheel loader"),), today=TODAY))["hours"].value == "4521.3"
