"""Read a stack: every page of every file through the rooms, into the binder, with a balance at the end."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from scanform.batch.counting import counted_pages
from scanform.batch.duplicates import seen_before
from scanform.batch.knowledge import learn, with_pad
from scanform.batch.pool import carried_in_order
from scanform.batch.worker import CarriedPage, Task
from scanform.binder import Binder, PageRecord, RecordedPage
from scanform.errors import FileUnreadable
from scanform.form import Layout, Paper, Template, built_in_templates, lay_out
from scanform.intake import list_sources, sha256_of
from scanform.settle import Known, Outcome, settle_sheet

__all__ = ["BatchResult", "Stack", "gather", "read_stack"]


@dataclass(frozen=True)
class Stack:
    """The files of a batch, opened far enough to count their pages.

    ``tasks``: every page in input order. ``broken``: files that cannot be opened, with the sentence why; each counts
    as one unreadable page. ``refused``: what has no bytes to be kept (no permission, a pipe, far too large), with
    the sentence why; no page can come of it. ``skipped``: files in folders that are no scans.
    """

    sources: tuple[Path, ...]
    tasks: tuple[Task, ...]
    broken: tuple[tuple[Path, str], ...]
    skipped: tuple[tuple[Path, str], ...]
    refused: tuple[tuple[Path, str], ...] = ()

    @property
    def pages_in(self) -> int:
        """Pages that must be accounted for at the end."""
        return len(self.tasks) + len(self.broken)


@dataclass
class BatchResult:
    """What a batch came to; ``pages`` are in input order."""

    batch_id: int
    pages: list[RecordedPage] = field(default_factory=list)
    balance: dict[Outcome, int] = field(default_factory=dict)


OnPage = Callable[[RecordedPage, CarriedPage | None], None]


def gather(scans: Sequence[Path]) -> Stack:
    """List files and folders, and count the pages. UsageError if a path does not exist."""
    found = list_sources(scans)
    tasks: list[Task] = []
    broken: list[tuple[Path, str]] = []
    refused: list[tuple[Path, str]] = []
    files = tuple(dict.fromkeys(found.files))  # a file named twice, or beside its folder, is one file
    for path, counted in zip(files, counted_pages(files), strict=True):
        if counted.why:
            (broken if _can_be_kept(path) else refused).append((path, counted.why))
        tasks += [Task(path, number, str(path)) for number in range(1, counted.pages + 1)]
    sources = tuple(path for path in files if path not in dict(refused))
    return Stack(sources, tuple(tasks), tuple(broken), tuple(found.skipped), tuple(refused))


def _can_be_kept(path: Path) -> bool:
    try:
        sha256_of(path)
    except FileUnreadable:
        return False
    return True


def read_stack(
    stack: Stack,
    binder: Binder,
    templates: Sequence[Template],
    *,
    workers: int | None = None,
    today: date | None = None,
    on_page: OnPage | None = None,
) -> BatchResult:
    """Carry the stack's pages through the rooms and record each; a page that is on record is not read again.

    A stack that was read to its end before leaves no trace: the result is that batch. ``on_page`` is called for every
    page in input order, with None for what was on record already.
    """
    for template in templates:
        binder.remember_template(template)
    layouts = _Layouts(templates)
    plan = _planned(stack, binder, templates)
    before = _batch_over([kept for kept, _ in plan], binder)
    result = BatchResult(binder.begin_batch([str(path) for path in stack.sources]) if before is None else before)
    known = replace(binder.known(), today=today or date.today())
    carried = _carried(plan, dict(stack.broken), templates, workers or os.cpu_count() or 1)
    for kept, page in carried:
        if kept is None:
            assert page is not None
            record = _record(page, layouts, known, binder, result.batch_id)
            kept = _put_on_record(binder, record)
            known = learn(known, kept.record)
        result.pages.append(kept)
        if on_page is not None:
            on_page(kept, page)
    if before is None:
        binder.end_batch(result.batch_id, [page.number for page in result.pages], stack.pages_in)
    result.balance = binder.balance(result.batch_id)
    return result


def _put_on_record(binder: Binder, record: PageRecord) -> RecordedPage:
    before = binder.page_for(record.sha256, record.page_number, record.source_path)
    if (
        before is not None
        and before.record.outcome is Outcome.UNKNOWN_FORM
        and record.outcome is not before.record.outcome
    ):
        return binder.read_again(before.number, record)
    return binder.record_page(record)


Plan = list[tuple[RecordedPage | None, Task]]


def _planned(stack: Stack, binder: Binder, templates: Sequence[Template]) -> Plan:
    """Every page in input order, with what is on record of it; None if it is to be read."""
    for path in stack.sources:
        binder.archive(path, path.suffix)  # the bytes are safe before anything is read from them
    place = {path: n for n, path in enumerate(stack.sources)}
    in_order = sorted(
        [*stack.tasks, *(Task(path, 1, str(path)) for path, _ in stack.broken)],
        key=lambda task: (place[task.path], task.number),
    )
    plan: Plan = [(binder.page_for(sha256_of(t.path), t.number, str(t.path.resolve())), t) for t in in_order]
    if set(templates) != set(built_in_templates()):
        # A form that was unknown may be known by now: these pages are worth a second look.
        plan = [(None if kept and kept.record.outcome is Outcome.UNKNOWN_FORM else kept, task) for kept, task in plan]
    return plan


def _batch_over(pages: Sequence[RecordedPage | None], binder: Binder) -> int | None:
    """The newest finished batch over exactly these pages, None if some are to be read or there is no such batch."""
    numbers = tuple(page.number for page in pages if page is not None)
    if len(numbers) < len(pages):
        return None
    for batch_id in range(binder.last_batch() or 0, 0, -1):
        batch = binder.batch(batch_id)
        if batch.ended_at is not None and batch.pages == numbers:
            return batch_id
    return None


def _carried(
    plan: Plan, broken: dict[Path, str], templates: Sequence[Template], workers: int
) -> Iterator[tuple[RecordedPage | None, CarriedPage | None]]:
    """Pages in input order: what is on record as it stands, the rest freshly read."""
    fresh = [task for kept, task in plan if kept is None and task.path not in broken]
    pages = carried_in_order(fresh, tuple(templates), min(workers, max(1, len(fresh))))
    for kept, task in plan:
        if kept is not None:
            yield kept, None
        elif task.path in broken:
            yield None, CarriedPage(task, Outcome.UNREADABLE.value, broken[task.path])
        else:
            yield None, next(pages)


class _Layouts:
    """Layouts by the names that workers send back (a layout itself would be heavy to send with each page)."""

    def __init__(self, templates: Sequence[Template]) -> None:
        self._templates = {(t.name, t.version): t for t in templates}

    def of(self, page: CarriedPage) -> Layout:
        assert page.template is not None
        assert page.version is not None
        assert page.paper is not None
        return lay_out(self._templates[page.template, page.version], Paper(page.paper))


def _record(page: CarriedPage, layouts: _Layouts, known: Known, binder: Binder, batch_id: int) -> PageRecord:
    """Settle a page and see whether it was seen before."""
    base = PageRecord(
        source=page.task.source,
        source_path=str(page.task.path.resolve()),
        page_number=page.task.number,
        sha256=sha256_of(page.task.path),
        outcome=Outcome(page.outcome),
        reason=page.reason,
        template=page.template,
        version=page.version,
        serial=page.serial,
        width_px=page.width_px,
        height_px=page.height_px,
        residual_mm=page.residual_mm,
        ink_signature=page.ink,
        batch_id=batch_id,
    )
    if base.outcome is not Outcome.READ:
        return base
    fields = settle_sheet(layouts.of(page), page.readings, with_pad(known, page.serial, binder))
    return seen_before(base, fields, page.warnings, binder)
