"""What printed words on a form that was made elsewhere say: its legend, its heads, its labels."""

from __future__ import annotations

import pytest

from scanform.adopt.answers import legend_of, said_by, week_of
from scanform.adopt.found import FoundWord, text_of
from scanform.adopt.labels import asked_by, guessed_by
from scanform.form import Box


def legend(line: str) -> dict[str, str]:
    signs, _ = legend_of([FoundWord(line, Box(10, 10, 100, 4))])
    return {sign.sign: sign.answer for sign in signs}


def test_unsatisfactory_is_not_satisfactory() -> None:
    told = legend("S = satisfactory    U = unsatisfactory    N = not fitted / not used")
    assert told == {"S": "ok", "U": "defect", "N": "na"}


@pytest.mark.parametrize(
    "line",
    ["\u2713 in order   X stop, call the engineer", "Check mark if OK, X if it needs repair"],
    ids=["no sign of equality", "if"],
)
def test_a_legend_need_not_say_equals(line: str) -> None:
    assert legend(line) == {"tick": "ok", "cross": "defect"}


def test_a_forms_own_letters_count_before_the_usual_ones() -> None:
    signs, _ = legend_of([FoundWord("F = fine   B = broken   1 = good", Box(10, 10, 100, 4))])
    says = said_by(signs)
    assert [says(word) for word in ("F", "B", "1", "Fail")] == ["ok", "defect", "ok", "defect"]


def test_single_letters_in_turn_are_the_days_of_a_week() -> None:
    assert week_of(["M", "T", "W", "Th", "F", "S"]) == ["mon", "tue", "wed", "thu", "fri", "sat"]
    assert week_of(["S", "M", "T", "W", "T", "F", "S"])[0] == "sun"
    assert week_of(["A", "B", "C", "D", "E"]) == []


def test_print_turned_a_quarter_is_read_from_below() -> None:
    words = [
        FoundWord("fan", Box(24, 40, 3, 4)),
        FoundWord("Radiator", Box(24, 50, 3, 11)),
        FoundWord("and", Box(24, 45, 3, 4.5)),
    ]
    assert text_of(words) == "Radiator and fan"


def test_whose_name_and_whose_signature_a_label_asks_for() -> None:
    asks = {
        label: (asked_by(label) or guessed_by(label))
        for label in (
            "Supervisor sign",
            "Operator (sign)",
            "Round done by",
            "Vehicle no. / Uimh. feithicle",
            "Who looked",
        )
    }
    assert {label: asked and asked.id for label, asked in asks.items()} == {
        "Supervisor sign": "foreman",
        "Operator (sign)": "signature",
        "Round done by": "operator",
        "Vehicle no. / Uimh. feithicle": "unit",
        "Who looked": "operator",
    }
    assert guessed_by("Repaired by") is None


@pytest.mark.parametrize(
    ("label", "asks"),
    [
        ("M/C No.", "unit"),
        ("Eqpt. I.D.", "unit"),
        ("Genset tag", "unit"),
        ("Docket for pump set", "unit"),
        ("Vehicel reg", "unit"),
        ("d / m / y", "date"),
        ("Attended on", "date"),
        ("Date of duty", "date"),
        ("Hr. mtr", "hours"),
        ("Meter on", "hours"),
        ("Perc. hrs (start)", "hours"),
        ("Insp'd by (print)", "operator"),
        ("Name of checker", "operator"),
        ("Opr.", "operator"),
        ("Supvr. sign-off", "foreman"),
        ("Authorised by", "foreman"),
        ("Operator's sig.", "signature"),
        ("D/S or N/S", "shift"),
        ("Day / night shift", "shift"),
        ("Client\u2019s station", "site"),
        ("Bench no.", "site"),
        ("Not right:", "remarks"),
    ],
)
def test_a_label_is_understood_by_the_sense_of_its_words(label: str, asks: str) -> None:
    said = asked_by(label) or guessed_by(label)
    assert said is not None
    assert said.id == asks


@pytest.mark.parametrize(
    "label",
    ["Date repaired", "Next service hours", "Job no.", "Water meter", "Customer", "Driver's licence no.", "Meter off"],
)
def test_a_label_about_another_matter_is_not_taken_for_a_usual_one(label: str) -> None:
    assert (asked_by(label) or guessed_by(label)) is None
