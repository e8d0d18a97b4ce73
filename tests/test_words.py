"""Defect words: the vocabulary helps where the ink is unclear and stays out of it where the ink is clear."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from made_readings import KNOWN, TODAY, comb, plain, readings, settle, sheet, verdicts, written

from scanform.form import FieldKind
from scanform.read import Alternative, Reading
from scanform.read.lines import LineReader
from scanform.settle import Known, State, TradeWord, calibration, settle_sheet
from scanform.settle.ctc import SearchSettings, folded_steps, log_likelihood, search
from scanform.settle.prior import Prior
from scanform.settle.short_form import ShortForm, short_form
from scanform.settle.ties import items_by_words
from scanform.settle.verdict import Verdict, settled
from scanform.settle.vocabulary import split_words, trade_words, vocabulary_for
from scanform.settle.words import settle_words, word_settings
from scanform.simulate.complaints import ANYTHING, COMPLAINTS
from scanform.training.word_lines import complaint_lines

HARD = Path(__file__).parent.parent / "fixtures" / "hard" / "words"
CASES = json.loads((HARD / "cases.json").read_text())
TRADE = vocabulary_for((), ())


# Reading


def test_an_unclear_letter_is_read_as_the_word_it_makes() -> None:
    signs = ["h", "o", "r", "n", " ", "d", {"e": 0.9, "o": 0.1}, {"o": 0.6, "a": 0.4}, "d"]
    result = settle_words(written("defect.1", signs), TRADE)
    assert result.value == "horn dead"
    assert "horn deod" in {a.value for a in result.alternatives}, "what the ink says by itself is kept"


def test_a_gap_that_the_recogniser_missed_is_put_between_two_words() -> None:
    signs = ["m", "a", "s", "t", {"": 0.97, " ": 0.03}, "n", "o", "i", "s", "y"]
    assert settle_words(written("defect.1", signs, says="mastnoisy"), TRADE).value == "mast noisy"


@pytest.mark.parametrize("said", ["zerk gnawed by marmot", "spn 520 fmi 3", "p/n 33-b-908", "kettleby pit", "olm"])
def test_clear_words_that_no_list_has_stay_as_written(said: str) -> None:
    result = settle_words(written("defect.1", list(said)), TRADE)
    assert result.value == said
    assert result.raw > 0.9


def test_a_clear_misspelling_is_not_put_right() -> None:
    assert settle_words(written("defect.1", list("brakes sqeal")), TRADE).value == "brakes sqeal"


def test_words_that_no_list_has_count_as_less_clean() -> None:
    listed, unlisted = (
        settle_words(written("defect.1", list(said)), TRADE).clean for said in ("horn dead", "horn zerk")
    )
    assert unlisted < listed == 1.0


def test_numbers_in_a_line_are_no_unknown_words() -> None:
    assert settle_words(written("defect.1", list("added 2 qt oil")), TRADE).clean == 1.0


def test_a_sites_own_word_is_expected_there() -> None:
    signs = ["z", "e", "r", {"b": 0.97, "k": 0.03}, " ", "d", "r", "y"]
    assert settle_words(written("defect.1", signs), TRADE).value == "zerb dry"
    site = vocabulary_for((TradeWord("zerk", "grease fitting", "part", 6.0),), ())
    assert settle_words(written("defect.1", signs), site).value == "zerk dry"


def test_the_items_of_the_template_are_words_too() -> None:
    signs = ["p", "i", "n", "t", "l", {"o": 0.6, "e": 0.4}, " ", "b", "e", "n", "t"]
    assert (
        settle_words(written("defect.1", signs), vocabulary_for((), ("Pintle hook and latch",))).value == "pintle bent"
    )


def test_capitals_stay_where_the_writer_made_them() -> None:
    signs = ["R", "R", " ", "T", "I", {"P": 0.6, "R": 0.4}, "E", " ", "F", "L", "A", "T"]
    assert settle_words(written("defect.1", signs), TRADE).value == "RR TIRE FLAT"
    assert settle_words(written("defect.1", list("Two lug nuts loose LF")), TRADE).value == "Two lug nuts loose LF"


def test_an_empty_line_stays_empty() -> None:
    assert settle_words(plain("defect.1", None), TRADE).value is None


def test_ink_in_which_no_letter_is_seen_is_a_doubt_and_no_empty_line() -> None:
    field = settle(plain("defect.1", None, 0.5))["defect.1"]
    assert (field.value, field.state) == (None, State.DOUBTFUL)


def test_a_line_is_the_less_sure_the_more_of_it_is_unclear() -> None:
    odd = {"a": 0.5, "o": 0.5}
    lines = ([*"zaq kav"], [*"zaq k", odd, "v"], [*"z", odd, *"q k", odd, "v"])
    clear, one, two = (settle_words(written("defect.1", signs), TRADE).raw for signs in lines)
    assert clear > 0.95
    assert clear > one > two


def test_the_settled_field_keeps_what_the_ink_says_beside_what_is_meant() -> None:
    signs = [*"horn d", "e", {"o": 0.6, "a": 0.4}, "d"]
    field = settle(written("defect.1", signs), comb("defect.1.item", "20"), plain("item.horn", "defect"))["defect.1"]
    assert (field.value, field.original) == ("horn dead", "horn deod")


# The search itself


def _every_reading(steps: np.ndarray, characters: str) -> dict[str, float]:
    """All strings with their probabilities, by going through every path: Graves et al. (ICML 2006), equation 3."""
    shares: dict[str, float] = {}
    for path in itertools.product(range(steps.shape[1]), repeat=steps.shape[0]):
        signs = [column for column, _ in itertools.groupby(path) if column]
        text = "".join(characters[column - 1] for column in signs)
        shares[text] = shares.get(text, 0.0) + float(np.prod(steps[np.arange(len(path)), path]))
    return shares


def test_search_and_likelihood_agree_with_going_through_every_path() -> None:
    steps = np.random.default_rng(3).dirichlet(np.ones(4), size=5)
    every = _every_reading(steps, "abc")
    settings = SearchSettings(0.0, 0.0, 1000, 0.0)
    result = search(steps, "abc", Prior({"abc": 1.0}, 0.5), settings)
    assert result.found[0].text == max(every, key=lambda text: every[text])
    texts = list(every)
    assert np.allclose(np.exp(log_likelihood(steps, "abc", texts)), [every[text] for text in texts])
    for found in result.found[:10]:
        assert np.isclose(np.exp(found.ink), every[found.text], rtol=0.01)


def test_the_prior_is_a_probability() -> None:
    prior = Prior({"oil": 3.0, "oils": 1.0, "on": 2.0}, 0.2)
    alphabet = "abcdefghijklmnopqrstuvwxyz"
    begun = [prior.extend(prior.start, letter).log for letter in alphabet]
    assert 0.8 < float(np.exp(begun).sum()) <= 1.0 + 1e-9, "the rest are figures and apostrophes"
    state = prior.start
    for letter in "oil":
        state = prior.extend(state, letter)
    assert np.exp(prior.ended(state)) > 0.8 * 3 / 6 * 0.95


def test_capitals_and_small_letters_are_one_sign() -> None:
    steps = np.array([[0.1, 0.3, 0.4, 0.2]])
    folded, signs = folded_steps(steps, "aAb")
    assert signs == "ab"
    assert np.allclose(folded, [[0.1, 0.7, 0.2]])


# The list itself


def test_the_trade_list_is_usable() -> None:
    words = trade_words()
    assert len(words) > 600
    assert {word.category for word in words} == {"part", "position", "complaint", "other"}
    assert all(word.word == word.word.casefold() and word.normal and word.weight > 0 for word in words)
    meanings = [(word.word, word.category) for word in words]
    assert len(set(meanings)) == len(meanings)


def test_the_complaints_that_reading_is_measured_on_were_written_apart() -> None:
    fit, test = ({(c.text, c.kind) for c in complaint_lines(split)} for split in ("fit", "test"))
    simulated = {text for texts in COMPLAINTS.values() for text in texts} | set(ANYTHING)
    assert not fit & test
    assert not {text for text, _ in fit | test} & simulated
    unusual = [word for text, kind in test if kind == "unusual" for word in split_words(text)]
    unlisted = [word for word in unusual if word not in TRADE.weights]
    assert len(unlisted) > 0.5 * len(unusual)


@pytest.mark.parametrize(
    ("said", "part", "position", "complaint"),
    [
        ("brk lt rh out", "brake light", "right", "not working"),
        ("LH brk lts out", "brake light", "left", "not working"),
        ("lt front tire low", "tire", "left front", "low"),
        ("RR tire worn to cords", "tire", "right rear", "worn"),
        ("two lug nuts loose LF", "wheel nut", "left front", "loose"),
        ("hyd oil low, hose weeping", "hydraulic oil", "", "low, weeping"),
        ("park brake won't hold on ramp", "parking brake", "", "not holding"),
        ("eng runs hot on hill", "engine", "", "overheating"),
        ("no backup alarm", "reverse alarm", "", "missing"),
        ("noise when cold", "", "", "noisy"),
        ("seat stuck, won't slide", "seat", "", "stuck, does not slide"),
        ("same as yesterday", "", "", ""),
        ("", "", "", ""),
    ],
)
def test_a_complaint_has_a_short_form(said: str, part: str, position: str, complaint: str) -> None:
    assert short_form(said, TRADE) == ShortForm(part, position, complaint)


# Ties


ITEMS = [(item.number, item.text) for item in sheet().template.items]
WORDS = vocabulary_for((), tuple(text for _, text in ITEMS))


@pytest.mark.parametrize(
    ("said", "item"),
    [
        ("park brake slips", "Parking brake"),
        ("left tail light out", "Work lights"),
        ("horn dead", "Horn"),
        ("fire ext pin missing", "Fire extinguisher"),
        ("right mirror cracked", "Windows and mirrors"),
        ("two lug nuts loose", "Tires"),
        ("fan belt frayed", "Belts"),
        ("seat belt frayed", "Seat and seat belt"),
        ("bottom step bent", "Steps"),
    ],
)
def test_words_name_their_item(said: str, item: str) -> None:
    shares = items_by_words(said, ITEMS, WORDS)
    best = max(shares, key=lambda number: shares[number])
    assert dict(ITEMS)[best].startswith(item)
    assert sum(shares.values()) < 1.0


def test_words_that_fit_anything_name_no_item() -> None:
    assert max(items_by_words("bolt missing, replace soon", ITEMS, WORDS).values()) < 0.5


def test_a_number_and_words_about_different_items_are_doubted_with_both_named() -> None:
    fields = settle(comb("defect.1.item", "20"), plain("defect.1", "park brake slips"), plain("item.horn", "defect"))
    number = fields["defect.1.item"]
    assert (number.value, number.state) == ("20", State.DOUBTFUL)
    (reason,) = [reason for reason in number.reasons if "speak of" in reason]
    assert "item 20 (Horn)" in reason
    assert "item 25 (Parking brake" in reason


def test_words_decide_between_two_numbers_that_the_ink_allows() -> None:
    unclear = comb("defect.1.item", ["2", {"0": 0.5, "6": 0.5}])
    for said, number in (("horn dead", "20"), ("e stop stuck", "26")):
        assert verdicts(unclear, plain("defect.1", said))["defect.1.item"].value == number


def test_words_never_make_a_number_that_the_ink_rules_out() -> None:
    clear = comb("defect.1.item", ["2", {"0": 0.96, "6": 0.04}])
    assert verdicts(clear, plain("defect.1", "e stop stuck"))["defect.1.item"].value == "20"


def test_words_without_a_number_are_doubted_with_the_item_they_speak_of() -> None:
    number = settle(plain("defect.1", "left tail light out"), plain("item.lights", "defect"))["defect.1.item"]
    assert (number.value, number.state) == (None, State.DOUBTFUL)
    assert "item 6 (Work lights" in " ".join(number.reasons)
    assert [a.value for a in number.alternatives] == ["6"]


def test_an_empty_line_says_nothing_about_items() -> None:
    empty = verdicts()["defect.1.item"]
    assert (empty.value, empty.reasons) == (None, [])


# Names


CREW = ("Dora Pell", "Abel Thorne", "Otis Granger")


def operator(signs: list, crew: tuple[str, ...] = CREW, says: str | None = None):
    known = Known(units=KNOWN.units, crew=crew, today=TODAY)
    fields = settle_sheet(sheet(), readings(written("operator", signs, says=says)), known)
    return next(field for field in fields if field.id == "operator")


def test_a_name_is_told_by_letters_that_the_greedy_reading_leaves_out() -> None:
    odd = {"o": 0.52, "e": 0.48}
    two = ("Pat Hollis", "Pat Helles")
    signs = [*"Pat H", odd, *"ll", {"i": 0.05, "e": 0.95}, "s"]
    field = operator(signs, two, says="Pat Holles")  # one letter from either; the ink has little for the i
    assert field.value in ("Pat Helles", "Pat Holles")
    assert field.alternatives[0].value == "Pat Helles"


def test_two_similar_names_are_a_doubt_when_the_ink_allows_both() -> None:
    field = operator([*"J", {"o": 0.5, "a": 0.5}, *"n Brook"], ("Jon Brook", "Jan Brook", "Dora Pell"))
    assert field.state is State.DOUBTFUL
    assert "Jon Brook" in " ".join(field.reasons)
    assert "Jan Brook" in " ".join(field.reasons)


def test_two_similar_names_are_told_apart_by_clear_ink() -> None:
    for name in ("Jon Brook", "Jan Brook"):
        assert operator(list(name), ("Jon Brook", "Jan Brook", "Dora Pell")).value == name


@pytest.mark.parametrize("said", ["A. Thorne", "A Thorne", "Thorne", "ABEL THORNE", "Abel"])
def test_people_write_their_names_short(said: str) -> None:
    assert operator(list(said)).value == "Abel Thorne"


def test_a_surname_that_two_people_share_is_a_doubt() -> None:
    field = operator(list("Thorne"), ("Abel Thorne", "Bess Thorne"))
    assert (field.value, field.state) == ("Thorne", State.DOUBTFUL)


def test_accents_on_the_crew_list_are_no_hindrance() -> None:
    assert operator(list("Jose Ibanez"), ("José Ibáñez", "Dora Pell")).value == "José Ibáñez"


# Cases that once went wrong, through the real recogniser


@pytest.fixture(scope="module")
def reader() -> LineReader:
    return LineReader()


@pytest.mark.parametrize("case", CASES, ids=[case["file"] for case in CASES])
def test_a_hard_line_is_read_right_or_doubted(case: dict, reader: LineReader) -> None:
    line = cv2.imread(str(HARD / case["file"]), cv2.IMREAD_GRAYSCALE)
    text = reader.read(line)
    assert text.text.casefold() != case["written"].casefold(), "the ink alone would do; no hard case any more"
    first = (Alternative(text.text, text.probability),)
    place = ((0.0, 0.0),) * 4
    spec = sheet().field("defect.1")
    reading = Reading(
        "defect.1", FieldKind.TEXT, first, place, 0.0, line_steps=text.steps, line_characters="".join(reader.alphabet)
    )
    result = settle_words(reading, TRADE)
    field = settled(
        Verdict(spec, reading, result.value, result.raw, "words", [], result.alternatives, result.clean), calibration()
    )
    assert field.original == text.text
    if case["right"] == "doubt":
        assert field.state is State.DOUBTFUL
    else:
        assert str(field.value).casefold() == case["right"].casefold()


def test_hard_lines_are_small_and_many() -> None:
    assert len(CASES) >= 15
    assert {case["file"] for case in CASES} == {path.name for path in HARD.glob("*.png")}
    assert all(path.stat().st_size <= 15_000 for path in HARD.glob("*.png"))


def test_the_settings_in_force_come_with_their_measure() -> None:
    data = json.loads((Path(__file__).parent.parent / "scanform" / "models" / "words.json").read_text())
    assert data["search"]["prior_weight"] == word_settings().search.prior_weight
    for lines in data["character_error"].values():
        assert lines["all"]["with_prior"] <= lines["all"]["ink_alone"]
