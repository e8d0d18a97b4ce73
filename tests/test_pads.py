"""Which sheets a pad has: days of ISO 8601 weeks, copies, serials, unit numbers."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from scanform.binder import open_binder
from scanform.cli.options import load_lists
from scanform.errors import UsageError
from scanform.form import find_template, unit_characters
from scanform.press import pad_sheets, parse_day, parse_week


def test_two_copies_a_day_come_day_by_day() -> None:
    site = find_template("site-machine")
    sheets = pad_sheets(site, "a4", "F7K2QD", unit="WL-014", days=parse_week("2026-W48"), copies=2)
    days = [sheet.code.on for sheet in sheets]
    assert days == sorted(days)
    assert len(days) == 14
    assert [sheet.code.serial[6:] for sheet in sheets][:3] == ["010E", "020E", "030E"]  # of 14, in base 32


def test_iso_8601_gives_2026_a_week_53_that_ends_on_sunday_the_third_of_january() -> None:
    # ISO 8601: 2026 has 53 weeks.
    week = parse_week("2026-W53")
    assert (week[0], week[-1]) == (date(2026, 12, 28), date(2027, 1, 3))
    assert [day.isoweekday() for day in week] == [1, 2, 3, 4, 5, 6, 7]
    assert parse_week("2027-W01")[0] == week[-1] + timedelta(days=1)


@pytest.mark.parametrize("text", ["2027-W53", "2026-W54", "2026-W00", "2026-48", "W48", "", "2026-W4", "next week"])
def test_a_week_that_is_none_is_refused_with_the_text_that_was_given(text: str) -> None:
    with pytest.raises(UsageError, match=re.escape(f"--week {text}")):
        parse_week(text)


@pytest.mark.parametrize("text", ["2026-02-30", "2026-W48", "2026-W48-1", "23.11.2026", "11/23/2026", "", "today"])
def test_a_day_that_is_none_is_refused_with_the_text_that_was_given(text: str) -> None:
    with pytest.raises(UsageError, match=re.escape(f"--date {text}")):
        parse_day(text)
    assert parse_day("2026-11-23") == date(2026, 11, 23)


@pytest.mark.parametrize(
    ("unit", "says"),
    [("WL*14", "letters and digits"), ("", "letters and digits"), ("-", "letters and digits"), ("WL-", "letters"),
     ("\u0160-14", "letters and digits"), ("WHEELLOADER-14", "has 7 cells"),
     ("A" * 26, "26 characters; a sheet's code takes 16")],
)  # fmt: skip
def test_a_unit_number_that_cannot_stand_in_the_cells_is_refused(unit: str, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        pad_sheets(find_template("site-machine"), "a4", "F7K2QD", unit=unit, days=(), copies=1)


@pytest.mark.parametrize(("unit", "cells"), [("WL-014", "WL014"), ("wl 14", "WL14"), ("A.1/B", "A1B")])
def test_hyphens_and_spaces_of_a_unit_number_take_no_cell(unit: str, cells: str) -> None:
    assert unit_characters(unit) == cells


@pytest.mark.parametrize(("copies", "days"), [(0, ()), (-1, ()), (1000, ()), (143, parse_week("2026-W48"))])
def test_a_pad_has_one_to_999_sheets(copies: int, days: tuple[date, ...]) -> None:
    with pytest.raises(UsageError, match="--copies"):
        pad_sheets(find_template("site-machine"), "a4", "F7K2QD", unit=None, days=days, copies=copies)


def test_a_unit_of_the_register_that_no_sheet_can_carry_is_named_when_the_list_is_loaded(tmp_path, capsys) -> None:
    listed = tmp_path / "units.csv"
    listed.write_text("unit\nWL-07\nLOADER_7\nTHE OLD LOADER IN THE EAST PIT\n")
    with open_binder(tmp_path / "binder", create=True) as binder:
        load_lists(binder, listed, None, None)
        assert len(binder.units()) == 3, "paper from elsewhere may bear such a number"
    said = capsys.readouterr().err
    assert "LOADER_7, THE OLD LOADER IN THE EAST PIT cannot be printed" in said
    assert "WL-07" not in said
