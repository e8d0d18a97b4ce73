"""The days of a week's and of a month's sheet: in field ids and in the calendar."""

from __future__ import annotations

from datetime import date

import pytest

from scanform.form import date_of, day_title, parted


@pytest.mark.parametrize(
    ("field_id", "stem", "day"),
    [
        ("item.tires.tue", "item.tires", "tue"),
        ("item.tires.13", "item.tires", "13"),
        ("hours.31", "hours", "31"),
        ("initials.2", "initials", "2"),
        ("item.tue", "item.tue", None),
        ("item.tires", "item.tires", None),
        ("remarks.2", "remarks.2", None),
        ("defect.3", "defect.3", None),
        ("item.tires.32", "item.tires.32", None),
    ],
)
def test_a_fields_day_is_told_from_its_line(field_id: str, stem: str, day: str | None) -> None:
    assert parted(field_id) == (stem, day)


def test_a_months_day_is_in_that_month_or_nowhere() -> None:
    assert date_of(date(2024, 2, 1), "29") == date(2024, 2, 29)
    assert date_of(date(2024, 2, 1), "30") is None
    assert date_of(date(2024, 2, 26), "sun") == date(2024, 3, 3)
    assert date_of(None, "3") is None


def test_days_have_names_for_a_person() -> None:
    assert (day_title("wed"), day_title("7")) == ("Wed", "day 7")
