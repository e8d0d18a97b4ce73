"""Pages that are no sheets are named with file, page, outcome and reason, so that somebody can look at the paper."""

from __future__ import annotations

import pytest
from recorded_sheets import BYTES, a_sheet

from scanform.binder import PageRecord, open_binder
from scanform.cli.options import console
from scanform.cli.summary import show_summary
from scanform.report import batch_summary, settling_pace
from scanform.settle import Outcome

OTHER = "No registration marks and no code of ours on this page; it is other paper."
TORN = "Only 0 of eight marks can be seen."


@pytest.fixture
def binder(tmp_path):
    """A stack of six pages on record: a sheet, two of other paper, one torn, two more of other paper."""
    with open_binder(tmp_path / "binder", create=True) as opened:
        sha = opened.archive(BYTES, "pdf")
        batch = opened.begin_batch(["friday.pdf"])
        pages = [a_sheet(sha, 1, batch_id=batch)]
        for number, (outcome, reason) in enumerate(
            [(Outcome.UNKNOWN_FORM, OTHER)] * 2 + [(Outcome.UNREADABLE, TORN)] + [(Outcome.UNKNOWN_FORM, OTHER)] * 2, 2
        ):
            pages.append(PageRecord("friday.pdf", "/scans/friday.pdf", number, sha, outcome, reason, batch_id=batch))
        numbers = [opened.record_page(page).number for page in pages]
        opened.end_batch(batch, numbers, len(numbers))
        yield opened


NAMED = [
    f"  friday.pdf, pages 2 to 3, unknown-form: {OTHER}",
    f"  friday.pdf, page 4, unreadable: {TORN}",
    f"  friday.pdf, pages 5 to 6, unknown-form: {OTHER}",
]


def test_the_summary_of_a_stack_names_each_page_that_is_no_sheet(binder, tmp_path):
    with console.capture() as caught:
        show_summary(batch_summary(binder, 1), settling_pace(binder), tmp_path, to_stderr=False)
    lines = caught.get().splitlines()
    balance = next(n for n, line in enumerate(lines) if line.startswith("Pages in: 6"))
    assert lines[balance + 1 : balance + 4] == NAMED


def test_where_nothing_is_doubtful_pages_that_are_no_sheets_are_named_all_the_same(binder, run):
    ran = run("doubts", "--binder", binder.folder)
    assert "Nothing is doubtful" in ran.out
    assert "5 pages are no sheets yet and stand in no list (4 unknown-form + 1 unreadable)" in ran.out
    assert [line for line in ran.out.splitlines() if line.startswith("  friday.pdf")] == NAMED


def test_a_sheet_that_a_person_has_said_to_be_void_is_no_page_to_look_at(binder, run):
    binder.void_sheet(1, "AB", "crossed out")
    ran = run("doubts", "--binder", binder.folder)
    assert "5 pages are no sheets yet" in ran.out
