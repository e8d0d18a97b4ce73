"""What a sheet says about itself: the code in the symbol, the same in plain characters, serials and pads."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from scanform.form import SheetCode, new_pad_id, pad_of, parse_code, serial_number

SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"  # ISO/IEC 7064: values 0 to 35
ROAD = SheetCode("road-truck", 2, "A", "RT-05", date(2026, 11, 23), "F7K2QD0107")
HAND = SheetCode("forklift", 12, "L", None, None, "Z9ZZZZ0A0B")

units = st.from_regex(r"\A[0-9A-Z](?:[0-9A-Z ./-]{0,14}[0-9A-Z])?\Z")
codes = st.builds(
    SheetCode,
    template=st.from_regex(r"\A[a-z][a-z0-9]{0,7}(-[a-z0-9]{1,5}){0,2}\Z"),
    version=st.integers(1, 999),
    paper=st.sampled_from("AL"),
    unit=st.none() | units,
    on=st.none() | st.dates(date(2000, 1, 1), date(2099, 12, 31)),
    serial=st.from_regex(r"\A[0-9A-HJKMNP-TV-Z]{10}\Z"),
)


def hybrid_37_36(characters: str) -> str:
    """The check character of the hybrid system MOD 37,36, worked as ISO/IEC 7064 describes the recursion (from memory).

    P(1) = 36; S(j) = P(j) mod 37 + a(j); P(j+1) = S(j) mod 36, or 36 where that is 0, times 2; the check
    character brings the last sum to 1 modulo 36.
    """
    p = 36
    for sign in characters:
        s = p % 37 + SIGNS.index(sign)
        p = 2 * (s % 36 or 36)
    return SIGNS[(1 - p % 37) % 36]


@given(codes)
@settings(max_examples=60, deadline=None)
def test_the_check_character_is_that_of_iso_iec_7064_by_python_stdnum_and_by_hand(code: SheetCode) -> None:
    body, check = code.text().rsplit("*", 1)
    signs = "".join(c for c in body if c in SIGNS)
    assert check == mod_37_36.calc_check_digit(signs)
    assert check == hybrid_37_36(signs)


def test_the_check_character_agrees_with_the_standards_own_example() -> None:
    # ISO/IEC 7064, MOD 37,36: "A12425GABC1234002" takes M (the worked example of python-stdnum's documentation).
    assert hybrid_37_36("A12425GABC1234002") == "M"
    assert mod_37_36.calc_check_digit("A12425GABC1234002") == "M"


@given(codes)
@settings(max_examples=100, deadline=None)
def test_a_code_comes_back_as_it_was_printed(code: SheetCode) -> None:
    assert parse_code(code.text()) == code
    assert parse_code(f"  {code.text().lower()}\n") == code  # keyed in by a person


def test_a_unit_number_keeps_its_hyphen() -> None:
    assert "*RT-05*" in ROAD.text()
    assert parse_code(ROAD.text()) == ROAD


def test_what_is_to_be_written_by_hand_is_left_open_in_the_code() -> None:
    again = parse_code(HAND.text())
    assert again is not None
    assert again.unit is None
    assert again.on is None


@pytest.mark.parametrize("code", [ROAD, HAND])
def test_one_wrong_letter_or_digit_anywhere_is_refused(code: SheetCode) -> None:
    text = code.text()
    for place, right in enumerate(text):
        if right not in SIGNS:
            continue
        for wrong in SIGNS.replace(right, ""):
            assert parse_code(text[:place] + wrong + text[place + 1 :]) is None, (place, wrong)


PUNCTUATION = "*-./ $%+:"


@pytest.mark.parametrize("code", [ROAD, HAND])
def test_a_wrong_punctuation_mark_is_refused_or_still_names_the_same_sheet(code: SheetCode) -> None:
    # ISO/IEC 7064 MOD 37,36 has values for letters and digits only; the form of each part guards the rest. At worst
    # the unit comes back with another sign between the same characters.
    text = code.text()
    for place, right in enumerate(text):
        if right in SIGNS:
            continue
        for wrong in PUNCTUATION.replace(right, ""):
            read = parse_code(text[:place] + wrong + text[place + 1 :])
            if read is not None:
                assert replace(read, unit=code.unit) == code
                assert _signs(read.unit) == _signs(code.unit)


def test_a_letter_taken_for_punctuation_or_the_other_way_passes_no_more_often_than_one_check_sign_in_36_lets_it() -> (
    None
):
    tries = passed = 0
    for code in (ROAD, HAND):
        text = code.text()
        for place, right in enumerate(text):
            for wrong in PUNCTUATION if right in SIGNS else SIGNS:
                tries += 1
                passed += parse_code(text[:place] + wrong + text[place + 1 :]) is not None
    assert tries > 800
    assert passed <= tries / 36


def _signs(unit: str | None) -> str:
    return "".join(c for c in unit or "" if c in SIGNS)


@pytest.mark.parametrize("code", [ROAD, HAND])
def test_two_neighbours_exchanged_are_refused(code: SheetCode) -> None:
    # ISO/IEC 7064: hybrid systems find nearly all transpositions of neighbours; for MOD 37,36 all but 35 and 0,
    # that is Z and 0, one pair in 630 (from memory; the test counts what passes).
    text = code.text()
    for place in range(len(text) - 1):
        a, b = text[place], text[place + 1]
        if a == b or a not in SIGNS or b not in SIGNS or {a, b} == {"0", "Z"}:
            continue
        assert parse_code(text[:place] + b + a + text[place + 2 :]) is None


def checked(body: str) -> str:
    return f"{body}*{mod_37_36.calc_check_digit(''.join(c for c in body if c in SIGNS))}"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "https://example.org/",
        "SF1*ROAD-TRUCK*2*A*RT-05*20261123*F7K2QD0107",
        checked("SF2*ROAD-TRUCK*2*A*RT-05*20261123*F7K2QD0107"),
        checked("SF1*ROAD-TRUCK*2*A*RT-05*20261323*F7K2QD0107"),
        checked("SF1*ROAD-TRUCK*2*A*RT-05*20260230*F7K2QD0107"),
        checked("SF1*ROAD-TRUCK*2*A*RT-05*2026112*F7K2QD0107"),
        checked("SF1*ROAD-TRUCK*TWO*A*RT-05*20261123*F7K2QD0107"),
        checked("SF1*ROAD-TRUCK*0*A*RT-05*20261123*F7K2QD0107"),
        checked("SF1*ROAD-TRUCK*2*B*RT-05*20261123*F7K2QD0107"),
        checked("SF1**2*A*RT-05*20261123*F7K2QD0107"),
        checked("SF1*ROAD--TRUCK*2*A*RT-05*20261123*F7K2QD0107"),
        checked("SF1*ROAD-TRUCK*2*A**20261123*F7K2QD0107"),
        checked("SF1*ROAD-TRUCK*2*A*RT-05*20261123*"),
        checked("SF1*ROAD-TRUCK*2*A*RT-05*20261123*F7K2QD01"),
        checked("SF1*ROAD-TRUCK*2*A*RT-05*20261123*F7K2QDO1O7"),
        "SF1*\u2460*2*A*RT-05*20261123*F7K2QD0107*A",
    ],
)
def test_what_is_not_a_code_of_ours_is_none(text: str) -> None:
    assert parse_code(text) is None


@given(st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_no_text_whatever_breaks_the_reading_of_a_code(text: str) -> None:
    assert parse_code(text) is None
    parse_code(f"SF1*ROAD-TRUCK*2*A*{text}*-*F7K2QD0107*A")


def test_a_serial_names_pad_place_and_length_so_that_missing_sheets_can_be_counted() -> None:
    assert serial_number("F7K2QD", 1, 7) == "F7K2QD0107"
    assert serial_number("F7K2QD", 33, 40) == "F7K2QD1118"  # base 32: 33 is 1,1 and 40 is 1,8
    assert pad_of("F7K2QD1118") == ("F7K2QD", 33, 40)
    every = [serial_number("F7K2QD", sheet, 999) for sheet in range(1, 1000)]
    assert len(set(every)) == 999
    assert [pad_of(serial) for serial in every] == [("F7K2QD", sheet, 999) for sheet in range(1, 1000)]


@pytest.mark.parametrize(("sheet", "of"), [(0, 7), (8, 7), (1, 1024), (-1, 7)])
def test_a_place_outside_its_pad_is_refused(sheet: int, of: int) -> None:
    with pytest.raises(ValueError, match=f"sheet {sheet} of {of}"):
        serial_number("F7K2QD", sheet, of)


@pytest.mark.parametrize("serial", ["", "F7K2QD010", "F7K2QD01077", "F7K2QDI107", "f7k2qd0107"])
def test_what_is_no_serial_of_a_pad_is_none(serial: str) -> None:
    assert pad_of(serial) is None


def test_a_serial_that_claims_a_place_outside_its_pad_is_none() -> None:
    assert pad_of("F7K2QD0807") is None
    assert pad_of("F7K2QD0007") is None


def test_pads_get_names_without_signs_that_look_alike() -> None:
    names = {new_pad_id() for _ in range(300)}
    assert len(names) == 300
    assert not set("ILOU") & set("".join(names))
    assert all(len(name) == 6 for name in names)
