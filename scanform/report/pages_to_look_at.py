"""Pages that are no sheets yet: of an unknown form, or unreadable. They stand in no list, so they are named."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from scanform.binder import NOT_READ, Binder
from scanform.binder.types import is_void
from scanform.report.frames import rows
from scanform.settle.types import Outcome

__all__ = ["NO_REASON", "PageToLookAt", "in_lines", "pages_to_look_at"]

NO_REASON = "no reason is on record"


class PageToLookAt(NamedTuple):
    """Where a page lies, what became of it, and why."""

    source: str
    page: int
    outcome: Outcome
    reason: str


def pages_to_look_at(binder: Binder) -> list[PageToLookAt]:
    """Those of the whole record, by record number; sheets that a person has said to be void are none."""
    return [
        PageToLookAt(row.source, row.page, Outcome(row.outcome), row.reason or NO_REASON)
        for row in rows(binder.page_columns())
        if row.outcome in NOT_READ and not is_void(row.outcome, row.reason)
    ]


def in_lines(pages: Iterable[PageToLookAt]) -> list[str]:
    """A line each, in the order given; pages of one file that follow each other for the same reason share one."""
    runs: list[list[PageToLookAt]] = []
    for page in pages:
        last = runs[-1][-1] if runs else None
        if last is not None and page == last._replace(page=page.page) and page.page - last.page in (0, 1):
            runs[-1].append(page)
        else:
            runs.append([page])
    return [_line(run[0], run[-1].page) for run in runs]


def _line(first: PageToLookAt, last: int) -> str:
    where = f"page {first.page}" if last == first.page else f"pages {first.page} to {last}"
    return f"{first.source}, {where}, {first.outcome.value}: {first.reason}"
