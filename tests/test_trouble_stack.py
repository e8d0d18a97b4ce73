"""A small stack with every kind of trouble, read as an office would: it balances, page by page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from scanform.batch import gather
from scanform.binder import Binder, RecordedPage, open_binder
from scanform.report import batch_summary
from scanform.settle import Outcome
from scanform.training.stack_pages import TROUBLES
from scanform.training.trouble_stack import TroubleStack, build_stack, differences, read_into


@pytest.fixture(scope="module")
def stack(tmp_path_factory: pytest.TempPathFactory) -> TroubleStack:
    return build_stack(tmp_path_factory.mktemp("trouble") / "stack", 34, workers=1)


@pytest.fixture(scope="module")
def binder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Binder]:
    with open_binder(tmp_path_factory.mktemp("trouble") / "binder", create=True) as opened:
        yield opened


@pytest.fixture(scope="module")
def pages(stack: TroubleStack, binder: Binder) -> list[RecordedPage]:
    return read_into(stack, binder, workers=1)


def test_every_kind_of_trouble_is_in_it_and_the_files_are_of_every_sort(stack: TroubleStack) -> None:
    assert {entry.trouble for entry in stack.expected} - {"plain"} == set(TROUBLES)
    assert len(TROUBLES) >= 20
    suffixes = {Path(entry.file).suffix for entry in stack.expected}
    assert suffixes == {".pdf", ".jpg", ".png", ".tif"}
    assert {len(Path(entry.file).parts) for entry in stack.expected} == {1, 2}
    assert gather([stack.folder]).pages_in == stack.pages_in


def test_it_balances_to_the_page(stack: TroubleStack, pages: list[RecordedPage], binder: Binder) -> None:
    summary = batch_summary(binder, 1)
    assert (summary.pages_in, summary.more_sheets) == (stack.pages_in, 1)
    assert sum(summary.balance.values()) == stack.pages_in + 1 == len(pages)
    assert binder.verify().problems == ()


def test_every_page_ends_as_the_builder_says_it_must(stack: TroubleStack, pages: list[RecordedPage]) -> None:
    assert differences(stack, pages) == []


def test_a_lost_page_a_wrong_outcome_and_a_page_too_many_are_all_named(
    stack: TroubleStack, pages: list[RecordedPage]
) -> None:
    read = [page for page in pages if page.record.outcome is Outcome.READ]
    changed = replace(read[0], record=replace(read[0].record, outcome=Outcome.UNREADABLE))
    strange = replace(read[1], record=replace(read[1].record, part=7))
    said = differences(stack, [changed, strange])
    assert any("not on record" in line for line in said)
    assert any("unreadable, should be" in line for line in said)
    assert any("nobody put it there" in line for line in said)
