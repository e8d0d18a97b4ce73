"""A sheet that was read before: told from a second sheet with the same serial by its ink, its values and its bytes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from recorded_sheets import a_field, a_page, a_sheet, doubtful, sheet_fields, with_field

from scanform.batch.duplicates import repeated_sheet, seen_before
from scanform.binder import Binder, PageRecord, open_binder
from scanform.form import Layout, Paper
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.read import ink_signature
from scanform.read.boxes import MarkNet
from scanform.read.choices import read_choices
from scanform.settle import Outcome, SettledField, State, same_ink
from scanform.simulate import ANSWER_MARKS, CREW, Grade, Writer, fill, random_truth, random_writer, scan

GRADES = (Grade.OFFICE, Grade.BITONAL, Grade.WORN)
# A ring lies round the box, outside of what the signature looks at: same_ink then has nothing to go by and says so.
MARKS = [mark for mark in ANSWER_MARKS if mark != "ring"]


def all_ok(layout: Layout, rng: np.random.Generator, writer: Writer, blank: np.ndarray) -> np.ndarray:
    """The commonest sheet there is: every item OK, fit for use."""
    truth = random_truth(layout, rng, ["WL-014"], CREW, date(2026, 11, 23), hours=None)
    values = {
        field.id: "ok" if field.id.startswith("item.") else None if field.id.startswith("defect.") else value
        for field, value in ((f, truth.values[f.id]) for f in layout.fields)
    }
    truth = replace(truth, values=values | {"fit": "fit", "told": None})
    return fill(layout, blank, truth, writer, rng, printed=("unit", "date"))[0]


Signed = tuple[Grade, str, bytes, bytes, bytes]


@pytest.fixture(scope="module")
def pairs(
    layout_of: Callable[[str, Paper], Layout],
    blank_sheet: Callable[[str, Paper], np.ndarray],
    known: KnownLayouts,
) -> list[Signed]:
    """Twelve writers: grade, kind of mark, two scans of one sheet, a scan of a second sheet.

    Every second writer's sheet was scanned the second time in the office, whatever the first scanner was.
    """
    layout, blank = layout_of("site-machine", Paper.A4), blank_sheet("site-machine", Paper.A4)
    net = MarkNet()

    def signature(paper: np.ndarray, grade: Grade, seed: int) -> bytes:
        found = locate(Page("scan", 1, "0" * 64, scan(paper, grade, np.random.default_rng(seed)).pixels), known)
        assert isinstance(found, LocatedSheet)
        return ink_signature(read_choices(found, [field for field in layout.fields if field.answers], net))

    made = []
    for n in range(12):
        grade, mark = GRADES[n % 3], MARKS[n % len(MARKS)]
        writer = replace(random_writer(np.random.default_rng([4, n])), marks=((mark, 1.0),))
        first, second = (all_ok(layout, np.random.default_rng([5, n, k]), writer, blank) for k in (0, 1))
        later = Grade.OFFICE if n % 2 else grade
        scans = [signature(first, grade, n), signature(first, later, 50 + n), signature(second, grade, 100 + n)]
        made.append((grade, mark, *scans))
    return made


def test_two_scans_of_one_sheet_are_one_sheet_whatever_the_scanner(pairs: list[Signed]) -> None:
    for grade, mark, one, again, _ in pairs:
        assert same_ink(one, again) is True, (grade, mark)


def test_two_sheets_by_one_hand_with_the_same_answers_are_two(pairs: list[Signed]) -> None:
    for grade, mark, one, _, other_sheet in pairs:
        assert same_ink(one, other_sheet) is False, (grade, mark)


def test_sheets_of_two_hands_are_two(pairs: list[Signed]) -> None:
    for (*_, one, _, _), (*_, other, _, _) in pairwise(pairs):
        assert same_ink(one, other) is False


def test_too_little_ink_tells_nothing_and_another_form_is_another_sheet(pairs: list[Signed]) -> None:
    inked = pairs[0][2]
    empty = bytes(len(inked))
    assert same_ink(empty, empty) is None
    assert same_ink(inked, empty) is None
    assert same_ink(inked, inked[64:]) is False


# What the batch makes of it


INK = bytes(np.random.default_rng(1).integers(0, 256, 64 * 12, np.uint8))
OTHER_INK = bytes(np.random.default_rng(2).integers(0, 256, 64 * 12, np.uint8))


@pytest.fixture
def binder(tmp_path: Path) -> Iterator[Binder]:
    with open_binder(tmp_path / "binder", create=True) as opened:
        yield opened


def on_record(binder: Binder, **other: object) -> PageRecord:
    sha256 = binder.archive(b"%PDF-1.7 Monday's stack", ".pdf")
    return binder.record_page(a_sheet(sha256, 3, **({"serial": "F7K2QD0101", "ink_signature": INK} | other))).record


def next_scan(binder: Binder, **other: object) -> PageRecord:
    sha256 = binder.archive(b"%PDF-1.7 Friday's stack", ".pdf")
    of_today = {"source": "friday.pdf", "source_path": "/scans/friday.pdf", "serial": "F7K2QD0101"}
    return replace(a_sheet(sha256, 8, **(of_today | {"ink_signature": INK} | other)), fields=(), unit=None, date=None)


def test_the_same_serial_and_the_same_ink_are_the_same_sheet(binder: Binder) -> None:
    on_record(binder)
    found = seen_before(next_scan(binder), sheet_fields(), (), binder)
    assert found.outcome is Outcome.DUPLICATE
    assert found.fields == ()
    assert "page 3 of monday.pdf" in (found.reason or "")


def test_the_same_serial_with_other_ink_is_a_second_sheet_and_says_so(binder: Binder) -> None:
    on_record(binder)
    found = seen_before(next_scan(binder, ink_signature=OTHER_INK), sheet_fields(), (), binder)
    assert found.outcome is Outcome.READ
    assert (found.unit, found.date) == ("LD-01", date(2026, 11, 23))
    assert "F7K2QD0101" in (found.reason or "")
    assert "page 3 of monday.pdf" in (found.reason or "")
    assert "photocopied" in (found.reason or "")


@pytest.mark.parametrize("changed", [{"date": "2026-11-24"}, {"hours": "1242.0"}, {"unit": "LD-02"}, {"horn": "na"}])
def test_a_scan_with_a_value_that_surely_differs_is_kept_whatever_the_ink(
    binder: Binder, changed: dict[str, str]
) -> None:
    on_record(binder)
    found = seen_before(next_scan(binder), sheet_fields(**changed), (), binder)
    assert found.outcome is Outcome.READ
    assert found.reason is not None


def put_on_record(binder: Binder, scanned: PageRecord, fields: tuple[SettledField, ...]) -> PageRecord:
    return binder.record_page(seen_before(scanned, fields, (), binder)).record


def states(record: PageRecord) -> dict[str, State]:
    return {f.id: f.state for f in record.fields}


@pytest.mark.parametrize("serial", ["F7K2QD0101", None])
def test_two_scans_of_one_sheet_that_disagree_are_both_doubtful_there(binder: Binder, serial: str | None) -> None:
    on_record(binder, serial=serial)
    later = put_on_record(binder, next_scan(binder, serial=serial), sheet_fields(hours="1242.0"))
    earlier = binder.page_numbered(1).record
    assert (later.outcome, earlier.outcome) == (Outcome.READ, Outcome.READ)
    assert "both are kept" in (later.reason or "")
    for page, other in ((earlier, "1242.0"), (later, "1234.5")):
        doubted = [f for f in page.fields if f.state is State.DOUBTFUL]
        assert [f.id for f in doubted] == ["hours"]
        assert f"was read as '{other}'" in doubted[0].reasons[-1]
    assert [doubt.ref for doubt in binder.queue()] == ["1.hours", "2.hours"]
    assert binder.verify().problems == ()


def test_what_a_person_has_confirmed_is_not_doubted_by_a_second_scan(binder: Binder) -> None:
    on_record(binder)
    binder.confirm("1.hours", "1234.5", "AB")
    later = put_on_record(binder, next_scan(binder), sheet_fields(hours="1242.0"))
    assert states(binder.page_numbered(1).record)["hours"] is State.CONFIRMED
    assert states(later)["hours"] is State.DOUBTFUL
    assert binder.verify().problems == ()


def test_a_doubt_cast_by_a_second_scan_is_settled_like_any_other_and_can_be_taken_back(binder: Binder) -> None:
    on_record(binder)
    put_on_record(binder, next_scan(binder), sheet_fields(hours="1242.0"))
    binder.confirm("1.hours", "1234.5", "AB")
    assert [doubt.ref for doubt in binder.queue()] == ["2.hours"]
    binder.undo_last("AB")
    assert [doubt.ref for doubt in binder.queue()] == ["1.hours", "2.hours"]
    assert binder.verify().problems == ()


@pytest.mark.parametrize(("first", "second"), [(None, None), ("F7K2QD0101", None), (None, "F7K2QD0101")])
def test_a_sheet_whose_serial_does_not_show_is_known_again_by_its_ink(
    binder: Binder, first: str | None, second: str | None
) -> None:
    on_record(binder, serial=first)
    found = seen_before(next_scan(binder, serial=second), sheet_fields(), (), binder)
    assert found.outcome is Outcome.DUPLICATE
    assert "by its ink" in (found.reason or "")
    twin = repeated_sheet(binder, binder.record_page(found))
    assert twin is not None
    assert twin.number == 1
    other = next_scan(binder, serial=second, ink_signature=OTHER_INK)
    assert seen_before(other, sheet_fields(), (), binder).outcome is Outcome.READ


def test_without_serial_and_without_ink_two_sheets_are_two(binder: Binder) -> None:
    on_record(binder, serial=None, ink_signature=bytes(64 * 12))
    scanned = next_scan(binder, serial=None, ink_signature=bytes(64 * 12))
    assert seen_before(scanned, sheet_fields(), (), binder).outcome is Outcome.READ


@pytest.mark.parametrize("name", ["unit", "date"])
def test_where_neither_scan_shows_a_serial_a_doubtful_unit_or_date_keeps_both(binder: Binder, name: str) -> None:
    on_record(binder, serial=None)
    unsure = tuple(doubtful(f) if f.id == name else f for f in sheet_fields())
    found = seen_before(next_scan(binder, serial=None), unsure, (), binder)
    assert found.outcome is Outcome.READ
    assert "may be the same sheet" in (found.reason or "")
    shown = seen_before(next_scan(binder), unsure, (), binder)
    assert shown.outcome is Outcome.DUPLICATE


def test_two_sheets_in_one_picture_are_not_the_very_same_file(binder: Binder) -> None:
    earlier = on_record(binder, serial=None, parts=2)
    beside = replace(
        next_scan(binder, serial=None, ink_signature=OTHER_INK),
        sha256=earlier.sha256,
        page_number=earlier.page_number,
        part=2,
        parts=2,
    )
    assert seen_before(beside, sheet_fields(), (), binder).outcome is Outcome.READ


def test_a_doubtful_value_does_not_make_two_sheets_of_one(binder: Binder) -> None:
    on_record(binder)
    fields = with_field(sheet_fields(), doubtful(a_field("hours", "comb", "7234.5")))
    assert seen_before(next_scan(binder), fields, (), binder).outcome is Outcome.DUPLICATE


def test_words_read_a_little_differently_are_the_same_words_and_others_are_not(binder: Binder) -> None:
    words = "horn is dead when it rains"
    on_record(binder, fields=with_field(sheet_fields(), a_field("defect.1", "text", words)))
    for read_as, outcome in (("horn is deed whem it rains", Outcome.DUPLICATE), ("left mirror cracked", Outcome.READ)):
        fields = with_field(sheet_fields(), a_field("defect.1", "text", read_as))
        assert seen_before(next_scan(binder), fields, (), binder).outcome is outcome


def test_without_ink_to_compare_the_head_of_the_sheet_must_speak_for_it(binder: Binder) -> None:
    on_record(binder, ink_signature=bytes(64 * 12))
    scanned = next_scan(binder, ink_signature=bytes(64 * 12))
    assert seen_before(scanned, sheet_fields(), (), binder).outcome is Outcome.DUPLICATE
    unsure = with_field(sheet_fields(), doubtful(a_field("hours", "comb", "1234.5")))
    assert seen_before(scanned, unsure, (), binder).outcome is Outcome.READ


def test_the_same_bytes_under_another_name_are_a_duplicate_even_without_a_serial(binder: Binder) -> None:
    earlier = on_record(binder, serial=None)
    again = replace(next_scan(binder, serial=None), sha256=earlier.sha256, page_number=earlier.page_number)
    found = seen_before(again, sheet_fields(), (), binder)
    assert found.outcome is Outcome.DUPLICATE
    assert "the very same file" in (found.reason or "")
    other_page = replace(again, page_number=earlier.page_number + 1, ink_signature=OTHER_INK)
    assert seen_before(other_page, sheet_fields(), (), binder).outcome is Outcome.READ


def test_bytes_that_were_no_sheet_before_may_be_one_now(binder: Binder) -> None:
    sha256 = binder.archive(b"%PDF-1.7 a form of the contractor's", ".pdf")
    binder.record_page(a_page(sha256, 8, Outcome.UNKNOWN_FORM, "other paper"))
    found = seen_before(replace(next_scan(binder), sha256=sha256), sheet_fields(), (), binder)
    assert found.outcome is Outcome.READ


def test_what_was_odd_in_finding_the_sheet_stays_with_the_page(binder: Binder) -> None:
    found = seen_before(next_scan(binder), sheet_fields(), ("the sheet's code could not be read",), binder)
    assert (found.outcome, found.reason) == (Outcome.READ, "the sheet's code could not be read")
