"""Pages that were not read: nobody knows what they say, so every list that a decision rests on has to name them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from scanform.binder import NOT_READ, Binder, SheetQuery, is_void
from scanform.report.frames import rows
from scanform.report.wording import counted
from scanform.settle.types import Outcome

__all__ = ["NO_REASON", "UnreadPage", "in_lines", "list_unread", "unread_pages", "unread_sentence"]

NO_REASON = "no reason is on record"


class UnreadPage(NamedTuple):
    """Where a page lies that is no sheet yet, what became of it, and why."""

    source: str
    page: int
    outcome: Outcome
    reason: str


def unread_pages(binder: Binder) -> int:
    """How many pages were not read, nor entered by hand, nor laid aside by a person as void."""
    return binder.find_sheets(SheetQuery(unread=True), at_most=1).total


def unread_sentence(pages: int) -> str:
    """What pages that were not read mean for a list, without a full stop; "" if there are none."""
    if not pages:
        return ""
    return f"{counted(pages, 'page')} {'was' if pages == 1 else 'were'} not read and may fill a gap or hold a defect"


def list_unread(binder: Binder) -> list[UnreadPage]:
    """Those that :func:`unread_pages` counts, by record number."""
    return [
        UnreadPage(row.source, row.page, Outcome(row.outcome), row.reason or NO_REASON)
        for row in rows(binder.page_columns())
        if row.outcome in NOT_READ and not is_void(row.outcome, row.reason)
    ]


def in_lines(pages: Iterable[UnreadPage]) -> list[str]:
    """A line each, in the order given; pages of one file that follow each other for the same reason share one."""
    runs: list[list[UnreadPage]] = []
    for page in pages:
        last = runs[-1][-1] if runs else None
        if last is not None and page == last._replace(page=page.page) and page.page - last.page in (0, 1):
            runs[-1].append(page)
        else:
            runs.append([page])
    return [_line(run[0], run[-1].page) for run in runs]


def _line(first: UnreadPage, last: int) -> str:
    where = f"page {first.page}" if last == first.page else f"pages {first.page} to {last}"
    return f"{first.source}, {where}, {first.outcome.value}: {first.reason}"
