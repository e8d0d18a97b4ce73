"""Hour meters on old sheets that are told by each other."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from scanform.settle import MeterReading
from scanform.settle.old import readings_that_go_on

FIRST = date(2024, 3, 4)


def readings(*hours: str) -> list[MeterReading]:
    return [MeterReading("WL40", FIRST + timedelta(days=n), Decimal(h)) for n, h in enumerate(hours)]


def test_a_misread_meter_stands_out_from_those_that_go_on() -> None:
    read = readings("1432", "1437.9", "7446.9", "1453", "1461", "146.7", "1475.2")
    assert readings_that_go_on(read) == tuple(read[n] for n in (0, 1, 3, 4, 6))


def test_meters_that_contradict_each_other_say_nothing() -> None:
    assert readings_that_go_on(readings("1432", "8437", "446.9", "9453", "61", "5467", "75.2")) == ()


def test_a_few_readings_say_nothing() -> None:
    assert readings_that_go_on(readings("1432", "1437.9", "1446.9")) == ()


def test_a_meter_runs_no_faster_than_the_clock() -> None:
    read = readings("100", "110", "120", "190", "130", "140", "150")
    assert read[3] not in readings_that_go_on(read)
