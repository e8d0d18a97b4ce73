"""Read a stack: every page of every file through the rooms, into the binder, with a balance at the end."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from scanform.batch.counting import counted_pages
from scanform.batch.duplicates import seen_before
from scanform.batch.keeping import KeptPages, keep
from scanform.batch.knowledge import MeterBook, learn, with_pad
from scanform.batch.on_record import PagesOnRecord
from scanform.batch.pool import carried_in_order
from scanform.batch.reconciling import LeftInDoubt
from scanform.batch.worker import CarriedPage, Task
from scanform.binder import NOT_READ, Binder, PageHead, PageRecord, RecordedPage
from scanform.errors import FileUnreadable, StorageFailed
from scanform.form import AdoptedTemplate, Layout, Paper, Template, built_in_templates, lay_out
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
    """What a batch came to; ``pages`` are in input order. ``damaged``: a sentence for each file that cannot be opened
    or was no longer there to be read. ``pages`` are fetched while the binder is open.
    """

    batch_id: int
    pages: Sequence[RecordedPage] = ()
    balance: dict[Outcome, int] = field(default_factory=dict)
    damaged: tuple[str, ...] = ()


_OWN = "it is written by scanform, and no scanner puts anything there"

OnPage = Callable[[RecordedPage, CarriedPage | None], None]


def gather(scans: Sequence[Path], apart: Collection[Path] = ()) -> Stack:
    """List files and folders, and count the pages. UsageError if a path does not exist.

    ``apart``: folders of scanform's own that may lie in those of the scans; what is in them came from scans already.
    """
    found = list_sources(scans, apart)
    own = [folder for folder in apart if folder.is_dir() and _lies_in_one_of(folder, scans)]
    tasks: list[Task] = []
    broken: list[tuple[Path, str]] = []
    refused: list[tuple[Path, str]] = []
    files = tuple(dict.fromkeys(found.files))  # a file named twice, or beside its folder, is one file
    for path, counted in zip(files, counted_pages([(path, str(path)) for path in files]), strict=True):
        if counted.why:
            (broken if _can_be_kept(path) else refused).append((path, counted.why))
        tasks += [Task(path, number, str(path)) for number in range(1, counted.pages + 1)]
    sources = tuple(path for path in files if path not in dict(refused))
    return Stack(
        sources, tuple(tasks), tuple(broken), (*((path, _OWN) for path in own), *found.skipped), tuple(refused)
    )


def _lies_in_one_of(folder: Path, scans: Sequence[Path]) -> bool:
    return any(scan.is_dir() and folder.resolve().is_relative_to(scan.resolve()) for scan in scans)


def _can_be_kept(path: Path) -> bool:
    try:
        sha256_of(path)
    except (FileUnreadable, StorageFailed):
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
    on_wait: Callable[[str], None] = lambda _: None,
    second_look: Collection[Outcome] = (),
) -> BatchResult:
    """Carry the stack's pages through the rooms and record each; a page that is on record is not read again.

    A stack that was read to its end before leaves no trace: the result is that batch. ``on_page`` is called for every
    page in input order, with None for what was on record already; ``on_wait`` with a sentence now and then while
    another run holds the binder; either may raise to stop. Pages on record with an outcome of ``second_look`` (of
    ``NOT_READ``) are read anew.
    FileUnreadable if none of the files is there any more.
    """
    for template in templates:
        binder.remember_template(template)
    stacked = keep(stack.sources, binder)
    if stacked.gone and not stacked.pages:
        raise FileUnreadable(stacked.gone[0])
    layouts = _Layouts(templates)
    with binder.one_reader(on_wait), LeftInDoubt() as in_doubt:
        plan = _planned(stacked, binder, templates, second_look)
        before = _batch_over([kept for kept, _, _ in plan], binder)
        result = BatchResult(binder.begin_batch([str(path) for path in stack.sources]) if before is None else before)
        result.damaged = (*stacked.broken, *stacked.gone)
        meters = MeterBook(binder)
        known = replace(binder.known(), recall=meters.of, today=today or date.today())
        numbers: list[int] = []
        for on_record, picture in _carried(plan, templates, workers or os.cpu_count() or 1):
            for head in on_record:
                numbers.append(head.number)
                if on_page is not None:
                    on_page(binder.pages_numbered([head.number])[0], None)
            for page in () if picture is None else (picture, *picture.beside):
                record = _record(page, layouts, known, binder, result.batch_id)
                kept = _put_on_record(binder, record)
                known = learn(known, kept.record)
                meters.note(kept.record)
                if kept.record.outcome is Outcome.READ:
                    in_doubt.note(kept, layouts.of(page), page.readings, known.place - 1)
                numbers.append(kept.number)
                if on_page is not None:
                    on_page(kept, page)
            if picture is not None:
                # Known templates never make sheets of a picture disappear that were on record while they were unknown.
                numbers += [head.number for head in _on_record(binder, picture.task)[picture.parts :]]
        in_doubt.settle(binder, known, layouts.of_record)
        if before is None:
            binder.end_batch(result.batch_id, numbers, len(stacked.pages))
        result.pages = PagesOnRecord(binder, numbers)
        result.balance = binder.balance(result.batch_id)
    return result


def _put_on_record(binder: Binder, record: PageRecord) -> RecordedPage:
    before = binder.page_for(record.sha256, record.page_number, record.source_path, record.part)
    nothing_read = before is not None and before.record.outcome in NOT_READ and not before.void
    if before is not None and nothing_read and record.outcome is not before.record.outcome:
        return binder.read_again(before.number, record)
    return binder.record_page(record)


# Every picture with the sheets of it that are on record, none if it is to be read, and why it cannot be opened.
Plan = list[tuple[tuple[PageHead, ...], Task, str | None]]


def _planned(
    stacked: KeptPages, binder: Binder, templates: Sequence[Template], second_look: Collection[Outcome]
) -> Plan:
    """Every page in input order, with what is on record of it; nothing if it is to be read."""
    anew = set(second_look)
    if set(templates) != set(built_in_templates()):
        # A form that was unknown may be known by now: these pages are worth a second look.
        anew.add(Outcome.UNKNOWN_FORM)
    plan = [(_whole_picture(binder, task), task, why) for task, why in stacked.pages]
    return [(() if any(head.outcome in anew for head in kept) else kept, task, why) for kept, task, why in plan]


def _whole_picture(binder: Binder, task: Task) -> tuple[PageHead, ...]:
    """The sheets on record of a picture; none if a run was stopped before all of them were."""
    kept = _on_record(binder, task)
    return kept if kept and len(kept) >= max(head.parts for head in kept) else ()


def _on_record(binder: Binder, task: Task) -> tuple[PageHead, ...]:
    return binder.heads_of_picture(task.sha256, task.number, str(task.path))


def _batch_over(pictures: Sequence[tuple[PageHead, ...]], binder: Binder) -> int | None:
    """The newest finished batch over exactly these pages, None if some are to be read or there is no such batch."""
    if not all(pictures):
        return None
    numbers = tuple(page.number for pages in pictures for page in pages)
    for batch_id in range(binder.last_batch() or 0, 0, -1):
        batch = binder.batch(batch_id)
        if batch.ended_at is not None and batch.pages == numbers:
            # Pages that were read anew since have other outcomes than the ones that it was closed with.
            return batch_id if batch.balance == binder.balance(batch_id) else None
    return None


def _carried(
    plan: Plan, templates: Sequence[Template], workers: int
) -> Iterator[tuple[tuple[PageHead, ...], CarriedPage | None]]:
    """Pages in input order: what is on record as it stands, the rest freshly read."""
    fresh = [task for kept, task, why in plan if not kept and why is None]
    pages = carried_in_order(fresh, tuple(templates), min(workers, max(1, len(fresh))))
    for kept, task, why in plan:
        if kept:
            yield kept, None
        elif why is not None:
            yield (), CarriedPage(task, Outcome.UNREADABLE.value, why)
        else:
            yield (), next(pages)


class _Layouts:
    """Layouts by the names that workers send back (a layout itself would be heavy to send with each page)."""

    def __init__(self, templates: Sequence[Template]) -> None:
        self._templates = {(t.name, t.version): t for t in templates}

    def of(self, page: CarriedPage) -> Layout:
        assert page.template is not None
        assert page.version is not None
        assert page.paper is not None
        return lay_out(self._templates[page.template, page.version], Paper(page.paper))

    def of_record(self, record: PageRecord) -> Layout:
        """The layout of a sheet on record that is of an adopted form, which has one paper alone."""
        assert record.template is not None
        assert record.version is not None
        template = self._templates[record.template, record.version]
        assert isinstance(template, AdoptedTemplate)
        return lay_out(template, template.paper)


def _record(page: CarriedPage, layouts: _Layouts, known: Known, binder: Binder, batch_id: int) -> PageRecord:
    """Settle a page and see whether it was seen before."""
    base = PageRecord(
        source=page.task.source,
        source_path=str(page.task.path),
        page_number=page.task.number,
        sha256=page.task.sha256,
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
        part=page.part,
        parts=page.parts,
    )
    if base.outcome is not Outcome.READ:
        return base
    fields = settle_sheet(layouts.of(page), page.readings, with_pad(known, page.serial, binder))
    return seen_before(base, fields, page.warnings, binder)
