"""Sheets of a pad that never came back are named, whichever stack the others came in."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from recorded_sheets import BYTES, TEMPLATE, a_page, a_sheet, sheet_fields

from scanform.binder import open_binder
from scanform.form import serial_number
from scanform.report import batch_summary, pads_back, tables
from scanform.settle.types import Outcome

PAD = "F7K2QD"


@pytest.fixture
def binder(tmp_path):
    with open_binder(tmp_path / "binder", create=True) as opened:
        opened.remember_template(TEMPLATE)
        yield opened


def come_back(binder, content: bytes, *sheets: int, pad: str = PAD, of: int = 7, unit: str = "LD-01") -> int:
    """A stack with these sheets of a pad, each of its own day; returns the batch."""
    sha256 = binder.archive(content, ".pdf")
    batch_id = binder.begin_batch(["stack.pdf"])
    records = [
        a_sheet(sha256, n, sheet_fields(unit, f"2026-11-{22 + sheet}"), serial=serial_number(pad, sheet, of))
        for n, sheet in enumerate(sheets, start=1)
    ]
    numbers = [binder.record_page(replace(record, batch_id=batch_id)).number for record in records]
    binder.end_batch(batch_id, numbers, pages_in=len(numbers))
    return batch_id


def test_the_sheets_of_a_pad_that_never_came_back_are_named_in_its_order(binder):
    batch = come_back(binder, BYTES, 1, 2, 6, 4)
    (pad,) = pads_back(binder)
    assert (pad.unit, pad.sheets, pad.missing_sheets) == ("LD-01", 7, "3, 5 and 7")
    assert pad.missing == tuple(serial_number(PAD, n, 7) for n in (3, 5, 7))
    assert (pad.first, pad.last) == (dt.date(2026, 11, 23), dt.date(2026, 11, 28))
    assert batch_summary(binder, batch).incomplete_pads == (pad,)
    (row,) = tables(binder)["pads"].to_dict("records")
    assert (row["sheets"], row["back"], row["not_back"]) == (7, 4, " ".join(pad.missing))


def test_a_sheet_that_comes_with_a_later_stack_is_back(binder):
    come_back(binder, BYTES, 1, 2, of=3)
    assert pads_back(binder)[0].missing_sheets == "3"
    later = come_back(binder, b"another stack", 3, of=3)
    assert pads_back(binder)[0].missing == ()
    assert batch_summary(binder, later).incomplete_pads == ()


def test_a_summary_speaks_of_the_pads_of_its_own_stack(binder):
    come_back(binder, BYTES, 1, of=2)
    second = come_back(binder, b"another stack", 2, 3, pad="Q2M9XA", of=3, unit="LD-02")
    assert [pad.unit for pad in batch_summary(binder, second).incomplete_pads] == ["LD-02"]
    assert [pad.unit for pad in pads_back(binder)] == ["LD-01", "LD-02"]


def test_a_pad_that_is_still_being_written_on_is_in_the_list_and_not_in_the_summary(binder):
    batch = come_back(binder, BYTES, 1, 4, of=25)
    assert pads_back(binder)[0].missing_sheets == "2 to 3 and 5 to 25"
    assert batch_summary(binder, batch).incomplete_pads == ()


def test_blank_backs_and_sheets_without_a_serial_belong_to_no_pad(binder):
    sha256 = binder.archive(BYTES, ".pdf")
    binder.record_page(a_page(sha256, 1, Outcome.BLANK, "no ink"))
    binder.record_page(a_sheet(sha256, 2, serial=None))
    assert pads_back(binder) == []
