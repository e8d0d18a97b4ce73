"""The benchmark's own arithmetic, and that the published table is of the models and thresholds that are here."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from scanform.errors import UsageError
from scanform.simulate import Grade
from scanform.training.bench import _PACE, _PACE_SEEDS, BENCH_SEEDS, page_counts, plans, report, with_report
from scanform.training.bench_pace import pace_plans, paced
from scanform.training.bench_table import reading_rows, table
from scanform.training.measured import changes, recorded, state
from scanform.training.reliability import expected_calibration_error
from scanform.training.settling import CALIBRATION_SEEDS
from scanform.training.trial import FieldTrial, PageTrial, Plan
from scanform.training.wrong_fields import CONTACT_SHEET, silent_errors, write_pictures

ITEM = FieldTrial("item.horn", "choice", True, "ok", "ok", True, False, 0.999, 1.0, False, True, None, 0.999)
DATE = replace(ITEM, id="date", kind="date", item=False, truth="2026-01-02", value="2026-01-02")
INK = cv2.imencode(".png", np.full((40, 120), 255, np.uint8))[1].tobytes()
WRONG_DATE = replace(DATE, value="2026-01-03", right=False, picture=INK)
OPEN_ITEM = replace(ITEM, truth=None, value=None, accepted=False, barred=True)


def a_page(*fields: FieldTrial, grade: Grade = Grade.OFFICE, seed: int = BENCH_SEEDS) -> PageTrial:
    return PageTrial(Plan(grade, seed, None), True, "", (0.01,), fields, (), 0.01, 0.01, 0.01, 0.01, grade.value)


# What the table is of


def test_the_published_table_is_of_these_models_and_thresholds() -> None:
    # Whoever changes a network, a calibration or a threshold measures anew: make bench-full.
    differs = changes(recorded(), state())
    assert not differs, f"the table in DEVELOPERS.md is of something else ({'; '.join(differs)}): run make bench-full"


def test_a_changed_network_a_moved_threshold_and_a_new_file_are_noticed(tmp_path: Path) -> None:
    for room in ("models", "locate", "read", "settle"):
        (tmp_path / room).mkdir()
    (tmp_path / "models" / "marks.onnx").write_bytes(b"weights")
    rules = tmp_path / "settle" / "rules.py"
    rules.write_text("_FAINT = 0.25  # of solid\n_ONE, TWO = 1.5, 2\nlower = 3\n_WORDS = ('a', 'b')\n")
    before = state(tmp_path)
    assert before["thresholds"] == {
        "settle/rules.py:_FAINT": "0.25",
        "settle/rules.py:_ONE": "(1.5, 2)",
        "settle/rules.py:TWO": "(1.5, 2)",
    }
    assert changes(before, state(tmp_path)) == []
    rules.write_text("_FAINT = 0.35  # another remark\n_ONE, TWO = 1.5, 2\n")
    (tmp_path / "models" / "marks.onnx").write_bytes(b"other weights")
    (tmp_path / "models" / "signs.onnx").write_bytes(b"new")
    assert changes(before, state(tmp_path)) == [
        "file marks.onnx has changed",
        "file signs.onnx is new",
        "threshold settle/rules.py:_FAINT has changed (0.25 became 0.35)",
    ]


def test_every_model_and_many_thresholds_are_watched() -> None:
    found = state()
    assert {"calibration.json", "characters.onnx", "marks.onnx"} <= found["models"].keys()
    assert "settle/calibration.py:LEAST_THRESHOLD" in found["thresholds"]
    assert len(found["thresholds"]) > 50


def test_the_report_takes_the_place_between_the_marks_and_nothing_else() -> None:
    document = "before\n<!-- bench -->\nold \\1 table\n<!-- end of bench -->\nafter\n"
    written = with_report(document, "new \\d table")
    assert written == "before\n<!-- bench -->\nnew \\d table\n<!-- end of bench -->\nafter\n"
    assert with_report(written, "new \\d table") == written
    with pytest.raises(UsageError, match="no part between"):
        with_report("nothing here", "x")


# Which pages


def test_the_whole_has_the_pages_that_were_asked_for_and_the_short_one_a_tenth() -> None:
    whole, tenth = page_counts(full=True), page_counts(full=False)
    assert whole[Grade.OFFICE] >= 2000 <= whole[Grade.BITONAL]
    assert min(whole.values()) >= 400
    assert all(whole[grade] == 10 * tenth[grade] for grade in Grade)


def test_no_page_is_made_twice_and_none_is_one_that_was_fitted_on() -> None:
    made = plans(page_counts(full=True), strange=True)
    assert len({(plan.grade, plan.seed) for plan in made}) == len(made)
    assert min(plan.seed for plan in made) >= BENCH_SEEDS > CALIBRATION_SEEDS + 1_000_000
    assert sum(plan.strange_hand for plan in made) == 1300


# What the cells say


def cells(*pages: PageTrial) -> dict[str, str]:
    lines = table(pages, reading_rows()).splitlines()[2:]
    return {line.split(" | ")[0].removeprefix("| "): line.split(" | ")[1].removesuffix(" |") for line in lines}


def test_a_cell_states_counts_and_the_exact_bound() -> None:
    found = cells(a_page(*[ITEM] * 299), a_page(replace(ITEM, accepted=False)))
    assert found["choices accepted"] == "99.66 % (299 of 300)"
    # No failure in 299 shows 1 in 100 (n = ln 0.05 / ln 0.99).
    assert found["choices silently wrong"] == "0 of 299 (at most 1 in 100)"


def test_nearly_all_is_never_rounded_up_to_all() -> None:
    found = cells(a_page(*[ITEM] * 99_999, replace(ITEM, accepted=False)))
    assert found["choices accepted"].startswith("99.99 %")


def test_answers_taken_back_are_counted_apart_and_a_weeks_signs_are_no_choices() -> None:
    changed = replace(ITEM, taken_back=True, accepted=False, barred=True)
    sign = replace(ITEM, id="item.horn.mon", kind="mark")
    found = cells(a_page(ITEM, changed, sign))
    assert found["choices accepted"] == "50.00 % (1 of 2)"
    assert found["the same without answers taken back"] == "100.00 % (1 of 1)"
    assert found["of these answers taken back and changed: accepted; wrong"] == "0.00 % (0 of 1); -"


def test_an_item_that_the_paper_leaves_open_is_no_failure_to_accept() -> None:
    both = replace(OPEN_ITEM, truth="ok", unclear=True)
    found = cells(a_page(ITEM, OPEN_ITEM, both))
    assert found["choices accepted"] == "100.00 % (1 of 1)"
    assert found["choices without a single answer on the paper, doubted"] == "2 of 2"


def test_an_open_item_that_is_accepted_with_an_answer_is_silently_wrong() -> None:
    guessed = replace(OPEN_ITEM, truth="ok", value="ok", unclear=True, accepted=True)
    assert cells(a_page(ITEM, guessed))["choices silently wrong"].startswith("1 of 2")


def test_every_silent_error_is_listed_and_left_as_a_picture(tmp_path: Path) -> None:
    page = a_page(ITEM, WRONG_DATE, replace(WRONG_DATE, accepted=False))
    (error,) = silent_errors([page])
    assert "date: paper says '2026-01-02', accepted as '2026-01-03'" in error.said
    (tmp_path / "wrong").mkdir()
    (tmp_path / "wrong" / "of last time.png").write_bytes(b"")
    written = write_pictures([error], tmp_path / "wrong")
    assert {path.name for path in (tmp_path / "wrong").iterdir()} == {path.name for path in written}
    assert written[-1].name == CONTACT_SHEET
    assert cv2.imread(str(written[-1])) is not None
    assert error.name in report([page], 0.1)


def test_errors_made_without_help_are_listed_once() -> None:
    page = replace(a_page(WRONG_DATE), unaided=(WRONG_DATE,))
    assert [error.aided for error in silent_errors([page])] == [True]
    assert [error.aided for error in silent_errors([replace(a_page(DATE), unaided=(WRONG_DATE,))])] == [False]


# How fast


def test_the_pace_is_of_pages_without_defect_words_and_states_them_with_their_names_and_without() -> None:
    words = replace(ITEM, id="defect.1.words", kind="words", item=False, truth="horn dead", value="horn dead")
    slow = replace(a_page(words), read_s=9.0)
    plain = replace(a_page(ITEM), decode_s=0.02, locate_s=0.01, read_s=0.05, settle_s=0.01, text_s=0.015)
    said = paced([plain, slow, plain, plain])
    assert "of 3 office pages" in said
    assert "Bare decode 20.0 ms; a page 90.0 ms = 4.50 x" in said
    assert "75.0 ms = 3.75 x" in said


def test_the_pace_is_taken_on_pages_that_no_other_figure_is_of() -> None:
    whole = {(plan.grade, plan.seed) for plan in plans(page_counts(full=True), strange=True)}
    assert not whole & {(plan.grade, plan.seed) for plan in pace_plans(_PACE, BENCH_SEEDS + _PACE_SEEDS)}


# How far confidences can be believed


def test_expected_calibration_error_by_hand() -> None:
    # Guo et al., ICML 2017, eq. 5: two bins, 4 fields at 0.9 of which 3 are right, 6 at 0.5 of which 3 are right.
    confidence = np.array([0.9] * 4 + [0.5] * 6)
    right = np.array([True] * 3 + [False] + [True, False] * 3)
    assert expected_calibration_error(confidence, right) == pytest.approx(0.4 * 0.15)
    assert expected_calibration_error(np.array([]), np.array([], bool)) == 0.0
