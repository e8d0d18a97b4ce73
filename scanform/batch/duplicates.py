"""See whether a sheet was read before: the same file under another name, or the same paper scanned twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from rapidfuzz import fuzz

from scanform.binder import Binder, PageRecord, RecordedPage
from scanform.settle import Outcome, SettledField, State, goes_on, same_ink

__all__ = ["seen_before"]

_HEAD = ("unit", "date", "hours")
_SAME_WORDS = 60.0  # two readings of the same defect words are more alike than this (0 to 100)


def seen_before(
    record: PageRecord, fields: tuple[SettledField, ...], warnings: tuple[str, ...], binder: Binder
) -> PageRecord:
    """The record as ``duplicate`` with the reason, or as ``read`` with its fields and any warnings."""
    notes = list(warnings)
    same_bytes = binder.page_with_bytes(record.sha256, record.page_number)
    if same_bytes is not None and same_bytes.record.outcome is Outcome.READ:
        return _duplicate(record, same_bytes, "the very same file")
    for earlier in binder.sheets_with_serial(record.serial) if record.serial else []:
        if _same_sheet(record, fields, earlier):
            return _duplicate(record, earlier, "the same sheet, scanned again")
        if _one_is_fuller(record, fields, earlier):
            notes.append(
                f"this week's sheet was also scanned as {_place(earlier)}, on another day of the week; lists go by the "
                "scan with more on it"
            )
            continue
        notes.append(
            f"serial {record.serial} was read before with other ink ({_place(earlier)}); "
            "a printed sheet seems to have been photocopied and filled in twice"
        )
    by_id = {f.id: f for f in fields}
    unit, day = by_id["unit"].value, by_id["date"].value
    return replace(
        record,
        fields=fields,
        reason="; ".join(notes) or None,
        unit=str(unit) if unit else None,
        date=date.fromisoformat(str(day)) if day else None,
    )


def _duplicate(record: PageRecord, earlier: RecordedPage, what: str) -> PageRecord:
    return replace(record, outcome=Outcome.DUPLICATE, reason=f"{what} as {_place(earlier)}.")


def _place(page: RecordedPage) -> str:
    return f"page {page.record.page_number} of {page.record.source}"


def _same_sheet(record: PageRecord, fields: tuple[SettledField, ...], earlier: RecordedPage) -> bool:
    """The same paper: its values do not contradict each other, and its ink lies in the same places."""
    before = {f.id: f for f in earlier.record.fields}
    if any(_contradicts(f, before[f.id]) for f in fields if f.id in before):
        return False
    one, other = record.ink_signature, earlier.record.ink_signature
    told_by_ink = same_ink(one, other) if one is not None and other is not None else None
    # Calling a sheet a duplicate takes its values off the lists, so without ink its head must speak for it.
    return all(_agrees(f, before[f.id]) for f in fields if f.id in _HEAD) if told_by_ink is None else told_by_ink


def _one_is_fuller(record: PageRecord, fields: tuple[SettledField, ...], earlier: RecordedPage) -> bool:
    """The same paper, scanned again after more days were filled in (or before)."""
    before = earlier.record.fields
    one, other = record.ink_signature, earlier.record.ink_signature
    if not (goes_on(before, fields) or goes_on(fields, before)):
        return False
    return one is None or other is None or same_ink(one, other) is not False


def _agrees(one: SettledField, other: SettledField) -> bool:
    return one.value is not None and one.value == other.value and _sure(one, other)


def _contradicts(one: SettledField, other: SettledField) -> bool:
    if one.kind == "text":
        if not one.value or not other.value:
            return False
        return fuzz.ratio(str(one.value).lower(), str(other.value).lower()) < _SAME_WORDS
    return _sure(one, other) and one.value != other.value


def _sure(one: SettledField, other: SettledField) -> bool:
    return one.state is not State.DOUBTFUL and other.state is not State.DOUBTFUL
