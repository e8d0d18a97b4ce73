"""The order of day and month, told by the row that a stack's dates make."""

from __future__ import annotations

from datetime import date, timedelta

from scanform.settle.old import may_be_monthly, order_by_row


def turned(row: list[date]) -> list[date]:
    """The same numbers, read in the other order."""
    return [date(day.year, day.day, day.month) for day in row]


def test_days_that_follow_each_other_tell_the_order() -> None:
    row = [date(2024, 9, 2) + timedelta(days=n // 3) for n in range(18)]
    row[3] = row[4] = date(2024, 9, 3)
    spelt = date(2024, 9, 5)  # a month's name leaves no choice
    days, months = [*row, spelt], [*turned(row), spelt]
    assert order_by_row(days, months) == "dmy"
    assert order_by_row(months, days) == "mdy"


def test_a_stack_in_no_order_tells_it_too() -> None:
    row = [date(2024, 9, day) for day in (5, 2, 7, 3, 3, 6, 4)] + [date(2024, 10, 1)]
    assert order_by_row(row, turned(row)) == "dmy"


def test_sheets_that_may_be_one_a_month_are_told() -> None:
    monthly = [date(2024, month, 1) for month in range(1, 9)]
    assert may_be_monthly([*monthly, None])
    assert not may_be_monthly(turned(monthly))


def test_a_few_sheets_tell_nothing() -> None:
    row = [date(2024, 9, 2), None, date(2024, 9, 3)]
    assert order_by_row(row, [day and date(day.year, day.day, day.month) for day in row]) == ""
