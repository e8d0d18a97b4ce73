"""Unit numbers: the register chooses between readings that the ink allows, and never overrules the ink."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from made_readings import KNOWN, comb, readings, reasons_of, settle, sheet, unit_cells, verdicts

from scanform.settle import Known, State, UnitRecord, settle_sheet

PAIRS = [("0", "O"), ("1", "I"), ("5", "S"), ("8", "B"), ("2", "Z")]


def register(*units: str) -> Known:
    return Known(units=tuple(UnitRecord(unit) for unit in units), today=KNOWN.today, crew=KNOWN.crew)


def test_a_clear_unit_of_the_register_is_accepted_in_the_registers_own_spelling() -> None:
    field = settle(comb("unit", "WL07"), known=register("WL-01", "WL-07"))["unit"]
    assert (field.value, field.state, field.reasons) == ("WL-07", State.ACCEPTED, ())


def test_hyphens_dots_spaces_and_slashes_of_the_register_are_kept() -> None:
    for spelling in ("WL-07", "W.L.07", "WL 07", "W/L07", "wl-07"):
        assert settle(comb("unit", "WL07"), known=register(spelling, "EX-15"))["unit"].value == spelling


def test_the_register_chooses_between_characters_that_look_alike() -> None:
    for digit, letter in PAIRS:
        listed = f"WL{digit}7"
        unclear = comb("unit", unit_cells("WL_7", c2={digit: 0.499, letter: 0.501}))
        found = verdicts(unclear, known=register(listed, "EX15", "HT33"))["unit"]
        assert found.value == listed
        assert found.reasons == []
        listed = f"WL{letter}7"
        assert verdicts(unclear, known=register(listed, "EX15"))["unit"].value == listed


def test_a_clear_number_that_the_register_lacks_is_doubtful_and_both_are_named() -> None:
    field = settle(comb("unit", "WL81"), known=register("WL01", "EX15"))["unit"]
    assert field.state is State.DOUBTFUL
    assert field.value == "WL81", "the ink's own reading stands until a person has looked"
    assert "WL81" in reasons_of(field)
    assert "WL01" in reasons_of(field)


def test_ink_that_clearly_prefers_an_unlisted_number_is_not_overruled_in_silence() -> None:
    unclear = comb("unit", unit_cells("WL_1", c2={"8": 0.98, "0": 0.02}))
    field = settle(unclear, known=register("WL01", "EX15"))["unit"]
    assert field.state is State.DOUBTFUL
    assert "WL81" in {str(a.value) for a in field.alternatives}


def test_a_letter_that_no_unit_has_there_does_not_stand_against_its_digit() -> None:
    # Nobody numbers a machine "WL4O"; a listed "WL40" whose nought looks like an O is sure all the same.
    unclear = comb("unit", unit_cells("WL4_", c3={"O": 0.6, "0": 0.4}))
    field = settle(unclear, known=register("WL40", "EX15", "HT33"))["unit"]
    assert (field.value, field.state) == ("WL40", State.ACCEPTED)


def test_a_nine_like_a_y_is_no_letter_that_the_ink_prefers_where_units_have_digits() -> None:
    written = comb("unit", unit_cells("4_59", c1={"Y": 0.95, "9": 0.02, "4": 0.01}))
    field = settle(written, known=register("4959", "4140"))["unit"]
    assert (field.value, field.state) == ("4959", State.ACCEPTED)
    # Another digit, or another letter in a letter's place, may well be another unit's.
    for other, listed in (({"2": 0.95, "9": 0.02}, "4959"), ({"M": 0.95, "W": 0.02}, "4W59")):
        field = settle(comb("unit", unit_cells("4_59", c1=other)), known=register(listed, "4140"))["unit"]
        assert field.state is State.DOUBTFUL
        assert "rather says" in reasons_of(field)


def test_a_unit_numbered_next_to_a_listed_one_weighs_more_than_one_of_no_known_kind() -> None:
    def doubt(cell: dict[str, float]) -> float:
        known = register("WL40", "EX15", "HT33")
        return 1 - verdicts(comb("unit", unit_cells("WL4_", c3=cell)), known=known)["unit"].raw

    assert doubt({"1": 0.6, "0": 0.4}) > 1.5 * doubt({"O": 0.6, "0": 0.4})


def test_two_units_of_the_register_that_the_ink_allows_alike_are_a_doubt() -> None:
    field = settle(comb("unit", unit_cells("WL_7", c2={"0": 0.52, "6": 0.48})), known=register("WL07", "WL67"))["unit"]
    assert field.state is State.DOUBTFUL
    assert {"WL07", "WL67"} <= {str(a.value) for a in field.alternatives}
    assert "WL67" in reasons_of(field)


def test_the_register_may_hold_five_units_or_five_thousand() -> None:
    many = [f"{kind}-{n:03d}" for kind in ("WL", "HT", "EX", "DZ", "GR") for n in range(1000)]
    for units in (many[7:12], many):
        known = register(*units)
        assert settle(comb("unit", "WL009"), known=known)["unit"].value == "WL-009"
        unclear = comb("unit", unit_cells("W_009", c1={"L": 0.4, "1": 0.55}))
        assert verdicts(unclear, known=known)["unit"].value == "WL-009"
    # Among 5,000 the neighbour is on the list too, so the same unclear digit is a doubt.
    unclear = comb("unit", unit_cells("WL00_", c4={"9": 0.7, "4": 0.29}))
    field = settle(unclear, known=register(*many))["unit"]
    assert field.state is State.DOUBTFUL
    assert "WL-004" in reasons_of(field)


def test_without_a_register_the_ink_is_all_there_is() -> None:
    free = Known(today=KNOWN.today)
    field = settle(comb("unit", "WL07"), known=free)["unit"]
    assert (field.value, field.state) == ("WL07", State.ACCEPTED)
    unclear = settle(comb("unit", unit_cells("WL_7", c2={"0": 0.6, "O": 0.39})), known=free)["unit"]
    assert unclear.state is State.DOUBTFUL
    assert "WLO7" in reasons_of(unclear)


def test_an_empty_comb_is_no_unit() -> None:
    for known in (KNOWN, Known(today=KNOWN.today)):
        field = settle(comb("unit", ""), known=known)["unit"]
        assert field.value is None
        assert field.reasons == ("no unit number is written",)


def test_a_number_that_begins_in_a_later_cell_is_the_same_number() -> None:
    for lead in (1, 2, 3):
        field = settle(comb("unit", " " * lead + "WL07"))["unit"]
        assert (field.value, field.state) == ("WL-07", State.ACCEPTED)
        assert settle(comb("unit", " " * lead + "WL07"), known=Known(today=KNOWN.today))["unit"].value == "WL07"


def test_a_gap_inside_the_number_is_a_doubt_with_or_without_a_register() -> None:
    for known in (KNOWN, Known(today=KNOWN.today)):
        field = settle(comb("unit", "WL 07"), known=known)["unit"]
        assert field.state is State.DOUBTFUL
        assert field.value == "WL07"
        assert "empty cell" in reasons_of(field)


def test_a_register_whose_numbers_are_all_too_long_for_the_comb_is_a_doubt() -> None:
    field = settle(comb("unit", "WL 07"), known=register("LOADER-0007"))["unit"]
    assert field.state is State.DOUBTFUL
    assert field.value == "WL07"


def test_a_scribble_never_raises_the_confidence_and_one_that_was_seen_is_a_doubt() -> None:
    confidences = [settle(comb("unit", "WL07", other=share))["unit"].confidence for share in (0.0, 0.05, 0.3, 0.8)]
    assert confidences == sorted(confidences, reverse=True)
    seen = "cell 3 holds no single clean character"
    field = settle(comb("unit", "WL07", other=0.2, evidence=(seen,)))["unit"]
    assert (field.value, field.state) == ("WL-07", State.DOUBTFUL)
    assert seen in field.reasons


@settings(deadline=None)
@given(st.lists(st.text("WLEX0158", min_size=2, max_size=7), min_size=1, max_size=8, unique=True), st.data())
def test_a_clearly_written_unit_is_accepted_only_as_what_is_written(units: list[str], data: st.DataObject) -> None:
    written = data.draw(st.sampled_from(units) | st.text("WLEX0158", min_size=2, max_size=7))
    found = settle_sheet(sheet(), readings(comb("unit", written)), register(*units))[0]
    assert found.id == "unit"
    assert found.value == written
    assert (found.state is State.ACCEPTED) == (written in units)


def test_a_round_nought_is_no_letter_that_the_ink_prefers() -> None:
    field = settle(comb("unit", unit_cells("WL4_", c3={"O": 0.97, "0": 0.03})), known=register("WL40", "EX15"))["unit"]
    assert (field.value, field.reasons) == ("WL40", ())


def test_a_two_like_a_z_and_a_five_like_an_s_are_no_letters_that_the_ink_prefers() -> None:
    for digit, letter in (("2", "Z"), ("5", "S")):
        unit = f"WL4{digit}"
        shares = {letter: 0.97, digit: 0.03}
        field = settle(comb("unit", unit_cells("WL4_", c3=shares)), known=register(unit, "EX17"))["unit"]
        assert (field.value, field.reasons) == (unit, ())
