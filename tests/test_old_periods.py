"""What a week's or a month's sheet of an old form is filed under, by what people write on it."""

from __future__ import annotations

from datetime import date

import pytest

from scanform.settle.combs import CombResult
from scanform.settle.old.date_forms import month_meanings, month_ways
from scanform.settle.old.periods import as_week


def settled(day: str) -> CombResult:
    return CombResult(day, 0.98, [], [(day, 0.98), ("2024-05-19", 0.02)])


@pytest.mark.parametrize(
    ("label", "written", "monday"),
    [
        ("Week beginning", "2024-05-06", "2024-05-06"),
        ("Week beginning", "2024-05-05", "2024-05-06"),  # a Sunday
        ("Week ending", "2024-05-12", "2024-05-06"),
        ("W/E", "2024-05-10", "2024-05-06"),  # the Friday
    ],
)
def test_a_weeks_sheet_is_filed_under_its_monday(label: str, written: str, monday: str) -> None:
    result = as_week(settled(written), label)
    assert (result.value, result.reasons) == (monday, [])
    assert result.alternatives[0].value == monday


def test_a_week_that_begins_in_its_middle_is_a_doubt_that_names_the_monday() -> None:
    result = as_week(settled("2024-05-08"), "Week of")
    assert result.value == "2024-05-06"
    assert "Wednesday" in result.reasons[0]
    assert "2024-05-06" in result.reasons[0]


def test_a_sunday_may_begin_a_week_or_end_it() -> None:
    assert as_week(settled("2024-05-12"), "Week").reasons


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("march 2024", "2024-03-01"),
        ("mar 24", "2024-03-01"),
        ("03/2024", "2024-03-01"),
        ("3.24", "2024-03-01"),
        ("2024-03", "2024-03-01"),
    ],
)
def test_months_are_written_in_many_ways(text: str, first: str) -> None:
    assert month_ways().has(text)
    assert [meaning.day for meaning in month_meanings(text, 2026)] == [date.fromisoformat(first)]


def test_a_thirteenth_month_means_nothing() -> None:
    assert month_meanings("13/2024", 2026) == ()
