"""What one batch came to: the balance of pages, the sheets of each unit, what is doubtful, what is dangerous."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from scanform.binder import NOT_READ, Binder
from scanform.errors import BinderError
from scanform.report.assurance import Assurance, assurance
from scanform.report.defects import DefectEntry, Labels, in_order_of_danger, standing
from scanform.report.pads import PadBack, pads_back
from scanform.report.unread_pages import NO_REASON, UnreadPage
from scanform.settle.types import Outcome, State

__all__ = ["BatchSummary", "batch_summary"]


@dataclass(frozen=True)
class BatchSummary:
    """A batch in figures. ``balance`` has every outcome and sums to ``pages_in`` and ``more_sheets``; ``void``: how
    many of the unreadable ones are so because a person has said that they are void.

    ``sheets_by_unit`` counts sheets that were read, ``""`` where no unit could be read, in order of unit.
    ``fields`` counts fields by state. ``critical_doubts`` are doubtful safety-critical fields: each may hide a
    defect. ``trust``: what the spot checks of the whole record say. ``defects`` come safety-critical first.
    ``to_look_at``: the pages that are of an unknown form or unreadable, void ones left out, in input order.
    ``incomplete_pads``: pads that sheets of the batch belong to, and of which half is back and others are not.
    """

    batch_id: int
    pages_in: int
    more_sheets: int
    balance: Mapping[Outcome, int]
    void: int
    sheets_by_unit: Mapping[str, int]
    fields: Mapping[State, int]
    critical_doubts: int
    trust: Assurance
    defects: tuple[DefectEntry, ...]
    to_look_at: tuple[UnreadPage, ...]
    incomplete_pads: tuple[PadBack, ...]

    @property
    def critical_defects(self) -> tuple[DefectEntry, ...]:
        """The safety-critical ones among the defects."""
        return tuple(entry for entry in self.defects if entry.critical)


def batch_summary(binder: Binder, batch_id: int) -> BatchSummary:
    """The summary of a batch that has ended; its balance is counted anew from the record.

    BinderError if the batch has not ended, or if pages in and pages accounted for are not the same number.
    """
    batch = binder.batch(batch_id)
    if batch.pages_in is None:
        raise BinderError(f"Batch {batch_id} was stopped before its end; read the same files again to finish it.")
    balance = binder.balance(batch_id)
    changed = balance != batch.balance  # by a page that was read again, or entered by hand since, and else by nothing
    if sum(balance.values()) != batch.pages_in + batch.more_sheets or (
        changed and balance != binder.balance_in_journal(batch_id)
    ):
        raise BinderError(
            f"Batch {batch_id} does not balance: {batch.pages_in} pages came in with {batch.more_sheets} more sheets, "
            f"{sum(balance.values())} are accounted for, and it was closed with {dict(batch.balance or {})}."
        )
    labels = Labels(binder)
    # A page fed twice in one batch is one sheet.
    fed = binder.batch_pages(batch_id)
    pages = {page.number: page for page in fed}
    sheets = [page for page in pages.values() if page.record.outcome == Outcome.READ]
    units = Counter(sheet.record.unit or "" for sheet in sheets)
    fields = [field for sheet in sheets for field in sheet.record.fields]
    states = Counter(field.state for field in fields)
    defects = [entry for sheet in standing(sheets) for entry in labels.defects(sheet)]
    serials = [page.record.serial for page in pages.values()]
    return BatchSummary(
        batch_id=batch_id,
        pages_in=batch.pages_in,
        more_sheets=batch.more_sheets,
        balance=balance,
        void=sum(page.void for page in fed),
        sheets_by_unit={unit: units[unit] for unit in sorted(units)},
        fields={state: states[state] for state in State},
        critical_doubts=sum(f.critical and f.state == State.DOUBTFUL for f in fields),
        trust=assurance(binder),
        defects=tuple(in_order_of_danger(defects)),
        to_look_at=tuple(
            UnreadPage(
                page.record.source, page.record.page_number, page.record.outcome, page.record.reason or NO_REASON
            )
            for page in pages.values()
            if page.record.outcome in NOT_READ and not page.void
        ),
        incomplete_pads=tuple(pad for pad in pads_back(binder, serials) if pad.missing and pad.half_back),
    )
