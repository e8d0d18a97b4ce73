"""Doubtful meter readings that together go on as a meter does."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from scanform.settle import MeterReading
from scanform.settle.old import MayRead, readings_that_go_on

FIRST = date(2025, 1, 27)
MIDDLE = FIRST + timedelta(days=3)


def may_read(*days: dict[str, float] | str) -> list[MayRead]:
    """One sheet a day, each with what its ink may say; a number alone is as good as clear."""
    said = [{day: 0.97} if isinstance(day, str) else day for day in days]
    return [
        MayRead(FIRST + timedelta(days=n), tuple((Decimal(hours), share) for hours, share in values.items()))
        for n, values in enumerate(said)
    ]


def known(read: list[MayRead]) -> list[str]:
    return [str(reading.hours) for reading in readings_that_go_on("WL40", read, MIDDLE)]


def test_a_misread_meter_is_told_by_the_others() -> None:
    said = ("1432", "1437.9", "7446.9", "1453.3", "1461", "5467", "1475.2")
    assert known(may_read(*said)) == ["1432", "1437.9", "1453.3", "1461", "1475.2"]


def test_points_that_nobody_saw_are_found_by_the_run() -> None:
    def unseen(digits: str) -> dict[str, float]:
        return {digits: 0.76, f"{digits[:-1]}.{digits[-1]}": 0.23}

    read = may_read(unseen("18184"), unseen("18258"), unseen("18353"), unseen("18409"))
    assert known(read) == ["1818.4", "1825.8", "1835.3", "1840.9"]


def test_readings_of_no_run_are_not_known() -> None:
    assert known(may_read("1432", "8437", "446.9", "9453", "61", "5467", "75.2")) == []


def test_one_reading_goes_on_from_nothing() -> None:
    assert known(may_read("1432")) == []


def test_a_meter_that_runs_backwards_is_on_no_run() -> None:
    assert "1425.0" not in known(may_read("1432", "1437.9", "1446.9", "1425.0", "1461"))


def test_what_may_be_two_numbers_of_one_run_is_not_known() -> None:
    read = may_read("1432", "1437.9", {"1444": 0.5, "1447": 0.48}, "1453")
    assert known(read) == ["1432", "1437.9", "1453"]


def test_accepted_readings_hold_a_run() -> None:
    sure = MayRead.accepted(MeterReading("WL40", FIRST, Decimal("561.6")))
    later = MayRead(MIDDLE, ((Decimal("5862"), 0.76), (Decimal("586.2"), 0.23)))
    assert known([sure, later]) == ["561.6", "586.2"]
