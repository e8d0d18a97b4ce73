"""Reports on a week's sheet that was scanned again with more on it: by what name the lists know them now.

Lists go by the fuller scan, and name its reports by its number. What a person said of a report on the earlier scan was
said of the same ink.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from scanform.binder import Binder, RecordedPage
from scanform.report.defects import DefectEntry, Labels, defects_of, marked_again
from scanform.report.same_complaint import same_complaint
from scanform.settle import Outcome, stands_for

__all__ = ["named_now"]


def named_now(binder: Binder, refs: Iterable[str], counted: Collection[int]) -> dict[str, str]:
    """Names of reports on scans that do not count any more, each with that of the same report on the scan that does.

    ``counted``: the sheets that lists go by. A name that is not in the answer is still its own, or is of no report.
    """
    by_sheet: dict[int, list[str]] = {}
    for ref in refs:
        sheet = ref.partition(".")[0]
        if sheet.isdecimal():
            by_sheet.setdefault(int(sheet), []).append(ref)
    labels, found = Labels(binder), {}
    for number in by_sheet.keys() - set(counted):
        earlier = binder.page_numbered(number)
        later = _counts_for(binder, earlier, counted) if earlier is not None else None
        if earlier is None or later is None:
            continue
        now = _reports(labels, later)
        for entry in _reports(labels, earlier):
            same = _same_report(entry, now)
            if entry.ref in by_sheet[number] and same is not None:
                found[entry.ref] = same.ref
    return found


def _reports(labels: Labels, page: RecordedPage) -> list[DefectEntry]:
    """All of a sheet, a week's marked days each."""
    items, words, record = labels.of(page), labels.vocabulary(page), page.record
    entries = defects_of(page, items, words)
    return entries + marked_again(page.number, record.unit, record.date, record.fields, items, entries, words)


def _counts_for(binder: Binder, earlier: RecordedPage, counted: Collection[int]) -> RecordedPage | None:
    if earlier.record.serial is None or earlier.record.outcome != Outcome.READ:
        return None
    numbers = [head.number for head in binder.heads_with_serial(earlier.record.serial) if head.number in counted]
    later = (page for page in binder.pages_numbered(numbers) if stands_for(page.record.fields, earlier.record.fields))
    return next(later, None)


def _same_report(entry: DefectEntry, later: Iterable[DefectEntry]) -> DefectEntry | None:
    """The report of the same day and complaint; in the same place if there is one, for a line may have been added."""
    same = [one for one in later if one.date == entry.date and same_complaint(one, entry)]
    return next((one for one in same if one.field == entry.field), same[0] if len(same) == 1 else None)
