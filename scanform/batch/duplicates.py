"""See whether a sheet was read before: the same file under another name, or the same paper scanned twice.

The same paper is told by its serial and its ink; if one scan shows no serial, by its ink alone; if neither does, by its
ink and what it is filed under. Where two scans of one paper disagree, one of them was misread: both stay on record, and
the fields in question are doubtful on both. Where the later says more, the paper was written on since: it stays on
record, and what is new on it is doubtful. The paper of a void sheet stays void.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from rapidfuzz import fuzz

from scanform.batch.written_since import written_since
from scanform.binder import Binder, Objection, PageHead, PageRecord, RecordedPage
from scanform.intake import shown
from scanform.settle import Outcome, SettledField, State, goes_on, same_ink

__all__ = ["another_scan_differs", "repeated_sheet", "seen_before"]

_FILED_UNDER = ("unit", "date")
_HEAD = (*_FILED_UNDER, "hours")
_DISAGREE = (
    "this is the same sheet as {}, by its ink, but the two scans were read differently; both are kept, and the fields "
    "that differ are doubtful on both"
)
# Of 1,683 pairs of sheets of an old form one was taken for the same by the six marks that both had.
_PERHAPS = (
    "this may be the same sheet as {}, by its ink; neither shows a serial, and unit or date is doubtful on one of "
    "them, so both are kept"
)
_WRITTEN_SINCE = (
    "this is the same sheet as {}, by its ink, and says more than that scan of it: something seems to have been "
    "written on the paper since; both are kept, and what is new waits for a person"
)
_MAY_BE_VOID = (
    "this seems to be the same sheet as {}, which is void, and it was not read as that scan was: a person must say "
    "whether it counts, or void it too"
)
_VOID_STAYS = "{}, which is void, and so is its paper; take the void of sheet {} back if it is to count"
_SCANNED_AGAIN, _SCANNED_BEFORE = "the same sheet, scanned again as", "the same sheet, scanned before as"
# A field as this scan has it, and as the earlier one does.
_Pair = tuple[SettledField, SettledField]
_SAME_WORDS = 60.0  # two readings of the same defect words are more alike than this (0 to 100)


def seen_before(
    record: PageRecord, fields: tuple[SettledField, ...], warnings: tuple[str, ...], binder: Binder
) -> PageRecord:
    """The record as ``duplicate`` with the reason, or as ``read`` with its fields and any warnings."""
    notes = list(warnings)
    same_bytes = binder.head_with_bytes(record.sha256, record.page_number, record.part)
    if same_bytes is not None and (same_bytes.outcome is Outcome.READ or same_bytes.void):
        return _duplicate(record, same_bytes, "the very same file")
    objections: list[Objection] = []
    doubts: dict[str, str] = {}
    in_other_ink: list[PageHead] = []
    for head in _those_that_count_first(binder.heads_with_serial(record.serial) if record.serial else []):
        told_by_ink = _told_by_ink(record, head)
        earlier = None if told_by_ink is False else binder.page_as_read(head.number)
        if earlier is None:  # whatever its fields say, it is another sheet of paper
            in_other_ink.append(head)
            continue
        if head.void and not earlier.record.fields:
            continue  # it was laid aside unread: what can be read of its paper now was never said to be void
        # Calling a sheet a duplicate takes its values off the lists, so without ink its head must speak for it.
        same_paper = told_by_ink or _agree_in(_HEAD, fields, earlier)
        against, more = _contradictions(fields, earlier), written_since(earlier.record.fields, fields)
        if same_paper and not against and not more:
            return _duplicate(record, head, "the same sheet, scanned again")
        if head.void:
            notes.append(_MAY_BE_VOID.format(_place(head)))
            doubts |= _doubt_that_it_counts(fields, head)
        elif _one_is_fuller(fields, earlier):
            notes.append(
                f"this week's sheet was also scanned as {_place(head)}, on another day of the week; lists go by the "
                "scan with more on it, once that is sure of what the other says of defects"
            )
        elif told_by_ink or (same_paper and not against):
            notes.append((_DISAGREE if against else _WRITTEN_SINCE).format(_place(head)))
            objections += _objections(record, against, earlier)
            doubts |= _doubts((*more, *against), head)
        else:
            in_other_ink.append(head)
    if in_other_ink:
        more_sheets = f" and {len(in_other_ink) - 1} more" if len(in_other_ink) > 1 else ""
        notes.append(
            f"serial {record.serial} was read before with other ink ({_place(in_other_ink[0])}{more_sheets}); "
            "a printed sheet seems to have been photocopied and filled in twice"
        )
    for head, earlier in _alike_without_serial(record, fields, binder):
        against, more = _contradictions(fields, earlier), written_since(earlier.record.fields, fields)
        known_again = record.serial or head.serial or _agree_in(_FILED_UNDER, fields, earlier)
        if known_again and not against and not more:
            return _duplicate(record, head, "the same sheet by its ink, scanned again")
        if head.void:
            notes.append(_MAY_BE_VOID.format(_place(head)))
            doubts |= _doubt_that_it_counts(fields, head)
        elif against or known_again:
            notes.append((_DISAGREE if against else _WRITTEN_SINCE).format(_place(head)))
            objections += _objections(record, against, earlier)
            doubts |= _doubts((*more, *against), head)
        else:
            notes.append(_PERHAPS.format(_place(head)))
    fields = _doubted(fields, doubts)
    by_id = {f.id: f for f in fields}
    unit, day = (by_id[name].value if name in by_id else None for name in ("unit", "date"))  # an old form may lack them
    return replace(
        record,
        fields=fields,
        reason="; ".join(notes) or None,
        unit=str(unit) if unit else None,
        date=date.fromisoformat(str(day)) if day else None,
        objections=tuple(objections),
    )


def another_scan_differs(field: SettledField) -> bool:
    """Whether a field is doubtful because another scan of the same sheet says otherwise."""
    return any(reason.startswith((_SCANNED_AGAIN, _SCANNED_BEFORE)) for reason in field.reasons)


def repeated_sheet(binder: Binder, page: RecordedPage) -> PageHead | None:
    """The sheet that a ``duplicate`` was taken for, which its reason names; None for any other page."""
    record = page.record
    if record.outcome is not Outcome.DUPLICATE or record.reason is None:
        return None
    named = (head for head in _might_repeat(record, record.reason, binder) if _names(record.reason, head))
    return next((head for head in named if head.number != page.number and head.outcome is Outcome.READ), None)


def _might_repeat(record: PageRecord, reason: str, binder: Binder) -> Iterator[PageHead]:
    """Sheets that a duplicate may be another scan of, those first that are found fastest."""
    same_bytes = binder.head_with_bytes(record.sha256, record.page_number, record.part)
    if same_bytes is not None:
        yield same_bytes
    if record.serial is not None:
        yield from binder.heads_with_serial(record.serial)
    if record.template is not None and record.version is not None:
        yield from binder.heads_named_in(reason, record.template, record.version)


def _alike_without_serial(
    record: PageRecord, fields: tuple[SettledField, ...], binder: Binder
) -> Iterator[tuple[PageHead, RecordedPage]]:
    """Sheets on record that are this one by their ink, where one of the two scans does not show the serial."""
    said = {f.id: f.value for f in fields if f.id in ("unit", "date")}
    unit, day = said.get("unit"), said.get("date")
    if record.template is None or record.version is None:
        return
    filed_under = str(unit) if unit else None, date.fromisoformat(str(day)) if day else None
    alike = binder.heads_alike(record.template, record.version, *filed_under, record.serial)
    for head in _those_that_count_first(alike):
        earlier = binder.page_as_read(head.number) if _told_by_ink(record, head) else None
        if earlier is not None:
            yield head, earlier


def _those_that_count_first(heads: Sequence[PageHead]) -> list[PageHead]:
    return sorted(heads, key=lambda head: head.void)


def _objections(record: PageRecord, against: Sequence[_Pair], earlier: RecordedPage) -> list[Objection]:
    """What this scan says against the earlier one."""
    where = f"page {record.page_number} of {shown(record.source)}"
    return [
        Objection(earlier.number, new.id, f"{_SCANNED_AGAIN} {where}, was read as '{new.value}'") for new, _ in against
    ]


def _doubts(pairs: Sequence[_Pair], head: PageHead) -> dict[str, str]:
    """Why fields are doubtful of which the earlier scan says otherwise, or says nothing."""
    return {
        new.id: f"{_SCANNED_BEFORE} {_place(head)}, "
        + (f"was read as '{old.value}'" if old.value not in (None, "", False) else "had nothing here")
        for new, old in pairs
    }


def _doubt_that_it_counts(fields: tuple[SettledField, ...], head: PageHead) -> dict[str, str]:
    """One field waits for a person: the day for which the sheet would speak, or its first field if it has none."""
    asked = next((f.id for f in fields if f.id == "date"), fields[0].id)
    return {asked: f"{_SCANNED_BEFORE} {_place(head)}, is void: confirm this if it counts, or void this scan too"}


def _doubted(fields: tuple[SettledField, ...], doubts: Mapping[str, str]) -> tuple[SettledField, ...]:
    return tuple(
        replace(f, state=State.DOUBTFUL, reasons=(*f.reasons, doubts[f.id])) if f.id in doubts else f for f in fields
    )


def _duplicate(record: PageRecord, earlier: PageHead, what: str) -> PageRecord:
    place = _place(earlier)
    named = _VOID_STAYS.format(place, earlier.number) if earlier.void else place
    return replace(record, outcome=Outcome.DUPLICATE, reason=f"{what} as {named}.")


def _names(reason: str, head: PageHead) -> bool:
    """Whether a duplicate's reason names this sheet."""
    place = _place(head)
    return reason.endswith((f" as {place}.", f" as {_VOID_STAYS.format(place, head.number)}."))


def _place(page: PageHead) -> str:
    place = f"page {page.page_number} of {shown(page.source)}"
    return place if page.parts == 1 else f"sheet {page.part} on {place}"


def _told_by_ink(record: PageRecord, earlier: PageHead) -> bool | None:
    one, other = record.ink_signature, earlier.ink_signature
    return same_ink(one, other) if one is not None and other is not None else None


def _contradictions(fields: tuple[SettledField, ...], earlier: RecordedPage) -> list[_Pair]:
    """Fields that both scans are sure of, with other values: the new one and the one on record."""
    before = {f.id: f for f in earlier.record.fields}
    return [(f, before[f.id]) for f in fields if f.id in before and _contradicts(f, before[f.id])]


def _agree_in(names: Sequence[str], fields: tuple[SettledField, ...], earlier: RecordedPage) -> bool:
    """Whether those of the named fields that the sheet has are beyond doubt on both scans, and the same."""
    before = {f.id: f for f in earlier.record.fields}
    return all(f.id in before and _agrees(f, before[f.id]) for f in fields if f.id in names)


def _one_is_fuller(fields: tuple[SettledField, ...], earlier: RecordedPage) -> bool:
    """The same paper, scanned again after more days were filled in (or before)."""
    before = earlier.record.fields
    return goes_on(before, fields) or goes_on(fields, before)


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
