"""Real digits whose label is not what readers see, and the numbers of the benchmark that hold one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scanform.form import Box
from scanform.simulate import Grade, SheetTruth, random_writer, write_comb
from scanform.training.bench_table import reading_rows, table
from scanform.training.digits import disputed, readings, test_split
from scanform.training.trial import FieldTrial, PageTrial, Plan, _disputed_combs

HOURS = FieldTrial("hours", "hours", False, "81.2", "81.2", True, False, 0.999, 1.0, False, True, None, 0.999)


def test_both_readings_are_of_every_digit_and_none_has_slipped_by_a_row() -> None:
    labels = test_split().labels.astype(str)
    for reading in readings():
        assert len(reading) == len(labels)
        right = np.array(list(reading)) == labels
        assert right.mean() > 0.99
        assert max(np.convolve(~right, np.ones(10, int))) < 5, "ten in a row are one line of a sheet"


def test_a_digit_is_disputed_where_both_readings_see_the_same_other_one() -> None:
    first, second = readings()
    labels = test_split().labels
    for n in np.flatnonzero(disputed()):
        assert first[n] == second[n] != str(labels[n])
        assert first[n].isdigit()
    either = sum(a != str(label) or b != str(label) for a, b, label in zip(first, second, labels, strict=True))
    assert 0 < disputed().sum() < either, "one reading against the other and the label is no dispute"


def test_a_comb_tells_which_pictures_were_pasted_into_it() -> None:
    rng = np.random.default_rng(3)
    cells = [Box(5.0 + 6 * n, 5.0, 6.0, 8.0) for n in range(4)]
    images = np.full((3, 28, 28), 200, np.uint8)
    pasted = write_comb(np.full((300, 400), 255, np.uint8), cells, "7A 7", random_writer(rng), rng, 150, {"7": images})
    assert [sign for sign, _ in pasted] == ["7", "7"]
    assert all(0 <= which < 3 for _, which in pasted)
    assert write_comb(np.full((300, 400), 255, np.uint8), cells, "7A 7", random_writer(rng), rng, 150) == ()


def test_a_comb_with_a_disputed_digit_is_known_by_it() -> None:
    labels = test_split().labels
    at = int(np.flatnonzero(disputed())[0])
    sign, place = str(labels[at]), int((labels[:at] == labels[at]).sum())
    clean = next(n for n in range(9) if not disputed()[np.flatnonzero(labels == int(sign))[n]])
    truth = SheetTruth("t", 1, "", {}, pasted={"hours": ((sign, clean), (sign, place)), "date": ((sign, clean),)})
    assert _disputed_combs(truth) == {"hours"}


def test_a_number_with_a_disputed_digit_counts_in_its_own_row_neither_way() -> None:
    wrong = replace(HOURS, value="81.1", right=False, disputed=True)
    pages = [
        PageTrial(Plan(Grade.OFFICE, n, "test"), True, "", (0.01,), (field,), (), 0.01, 0.01, 0.01, 0.01, "office")
        for n, field in enumerate((HOURS, wrong))
    ]
    rows = {line.split(" | ")[0].strip("| "): line for line in table(pages, reading_rows()).splitlines()}
    assert "1 of 2 (" in rows["the same, silently wrong"]
    undisputed = rows["the same without numbers that hold a digit whose label no reader gives: accepted; wrong"]
    assert "100.00 % (1 of 1); 0 of 1 (" in undisputed
