"""What crosses the binder's doorway: pages, doubts, items, batches, journal entries. All frozen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from scanform.settle.types import Outcome, SettledField, State

__all__ = [
    "BatchRecord",
    "CalendarDay",
    "Closing",
    "ClosingWish",
    "Decision",
    "DeletedSheet",
    "Doubt",
    "ItemLabel",
    "JournalEntry",
    "JudgedField",
    "LentDoubt",
    "LoadReport",
    "Objection",
    "PageHead",
    "PageRecord",
    "Person",
    "RecordedPage",
    "VerifyReport",
    "WaitingSort",
]


@dataclass(frozen=True)
class Objection:
    """Why an accepted field of a sheet on record (by its number) is to be doubted after all, as a sentence."""

    number: int
    field_id: str
    reason: str


@dataclass(frozen=True)
class Resolution:
    """What a doubtful field of a sheet on record (by its number) says after all, and what showed it, as a sentence."""

    number: int
    field_id: str
    value: str | bool | None
    reason: str


@dataclass(frozen=True)
class PageRecord:
    """One page as the rooms above hand it over.

    ``source`` is the file as the user named it, ``source_path`` the same resolved to an absolute path,
    ``page_number`` counts from 1. ``fields`` are in the order of the sheet; empty unless ``outcome`` is read.
    ``unit`` and ``date`` are what the sheet is filed under. ``ink_signature`` is whatever tells two scans of
    one sheet apart from two sheets; the binder only keeps it. ``part`` of ``parts``: which sheet of its picture it is.
    ``objections``: fields of earlier sheets that this one casts doubt on; recorded along with it.
    """

    source: str
    source_path: str
    page_number: int
    sha256: str
    outcome: Outcome
    reason: str | None = None
    template: str | None = None
    version: int | None = None
    serial: str | None = None
    unit: str | None = None
    date: dt.date | None = None
    width_px: int | None = None
    height_px: int | None = None
    residual_mm: float | None = None
    fields: tuple[SettledField, ...] = ()
    ink_signature: bytes | None = None
    batch_id: int | None = None
    part: int = 1
    parts: int = 1
    objections: tuple[Objection, ...] = ()

    def field(self, field_id: str) -> SettledField | None:
        """The field with that id, None if the page has none."""
        return next((f for f in self.fields if f.id == field_id), None)


# So begins the reason of a page that somebody has said is void; no machine's reason does.
VOID = "void: "


def is_void(outcome: str, reason: str | None) -> bool:
    """Whether a page with this outcome and reason was a sheet until somebody said that it is void."""
    return outcome == Outcome.UNREADABLE and (reason or "").startswith(VOID)


@dataclass(frozen=True)
class RecordedPage:
    """A page in the binder. ``number`` is its place in the record and the first part of a field's reference.

    ``new`` is True only in the answer to the call that recorded it.
    """

    number: int
    record: PageRecord
    new: bool = False

    @property
    def void(self) -> bool:
        """Whether somebody has said that the sheet as a whole is void."""
        return is_void(self.record.outcome, self.record.reason)


@dataclass(frozen=True)
class Doubt:
    """A field that waits for a person. ``ref`` is what the person types, such as ``12.hours``.

    ``label`` is the item's printed text where the field belongs to an item, else empty.
    """

    ref: str
    number: int
    source: str
    page_number: int
    sha256: str
    template: str | None
    version: int | None
    serial: str | None
    unit: str | None
    date: dt.date | None
    label: str
    field: SettledField


@dataclass(frozen=True)
class LentDoubt:
    """A doubt as it stands before one person. ``seen``: the journal entry that last changed the field, 0 if none has.

    ``spot_check``: the machine was sure; what it read is left out.
    """

    doubt: Doubt
    seen: int
    spot_check: bool


@dataclass(frozen=True)
class WaitingSort:
    """How many fields of one sort wait, such as all hours. ``critical``: of safety-critical items."""

    sort: str
    critical: bool
    spot_check: bool
    fields: int


@dataclass(frozen=True)
class Decision:
    """What a person said about a field, in the order of the journal; ``seq`` is its journal entry.

    ``undone_by`` is the entry that took it back, None while it stands.
    """

    seq: int
    ref: str
    at: dt.datetime
    initials: str
    old_value: str | bool | None
    old_state: State
    new_value: str | bool | None
    new_state: State
    undone_by: int | None


@dataclass(frozen=True)
class DeletedSheet:
    """A sheet whose file was deleted because its time was over, as the journal still tells of it.

    ``days``: those that it spoke for; ``left_free``: of a week or a month that it was of, those without any entry.
    ``on``: the day of the deletion, UTC. ``rule``: what let it go.
    """

    number: int
    unit: str
    days: tuple[dt.date, ...]
    left_free: tuple[dt.date, ...]
    on: dt.date
    rule: str


@dataclass(frozen=True)
class ClosingWish:
    """What a person says closed a defect. ``ref`` is any one report of it, such as ``12.defect.1``.

    ``repair``: ``repaired`` or ``not-needed``. ``closed_by``: the competent person. ``paper``: the work order, list or
    screen that says so.
    """

    ref: str
    repair: str
    closed_on: dt.date
    closed_by: str
    paper: str


@dataclass(frozen=True)
class Closing:
    """A closing on the record; ``seq`` is its journal entry, ``initials`` are of whoever entered it.

    ``undone_by`` is the entry that took it back, None while it stands.
    """

    seq: int
    ref: str
    at: dt.datetime
    initials: str
    repair: str
    closed_on: dt.date
    closed_by: str
    paper: str
    undone_by: int | None


@dataclass(frozen=True)
class CalendarDay:
    """A day of which the office says whether a unit was in use; unit ``*`` stands for every unit."""

    unit: str
    day: dt.date
    in_use: bool
    note: str | None = None


@dataclass(frozen=True)
class JudgedField:
    """A field of a sheet as the machine read it, and whether a person has found it right.

    ``accepted``: the machine was sure. ``only_unsure``: it was doubtful for its low confidence alone. ``drawn``: it is
    a spot check. ``right``: None until a person has confirmed or corrected the field.
    """

    ref: str
    field_id: str
    kind: str
    confidence: float
    accepted: bool
    only_unsure: bool
    drawn: bool
    right: bool | None


@dataclass(frozen=True)
class PageHead:
    """A page on record without its fields, which are nearly all of it: for looking through many pages."""

    number: int
    source: str
    page_number: int
    part: int
    parts: int
    outcome: Outcome
    serial: str | None
    ink_signature: bytes | None
    void: bool = False


@dataclass(frozen=True)
class ItemLabel:
    """An item as the template that printed the sheet words it; ``field_id`` is ``item.<name>``."""

    field_id: str
    number: int
    text: str
    critical: bool


@dataclass(frozen=True)
class BatchRecord:
    """One run over a stack. ``ended_at``, ``pages_in`` and ``balance`` are None while it has not ended.

    ``pages``: record numbers in input order; pages that were known from an earlier batch are among them.
    ``more_sheets``: how many of them are further sheets of one picture; the outcomes come to ``pages_in`` and these.
    """

    id: int
    begun_at: dt.datetime
    sources: tuple[str, ...]
    ended_at: dt.datetime | None
    pages_in: int | None
    pages: tuple[int, ...]
    balance: Mapping[Outcome, int] | None
    more_sheets: int = 0


@dataclass(frozen=True)
class JournalEntry:
    """One entry of the history; ``body`` is plain JSON data."""

    seq: int
    at: dt.datetime
    kind: str
    body: Mapping[str, Any]
    previous_hash: str
    hash: str


@dataclass(frozen=True)
class FiledSheet:
    """What a sheet on record is filed under, without its fields. Any but the serial may be None."""

    serial: str
    unit: str | None
    template: str | None
    date: dt.date | None


@dataclass(frozen=True)
class Person:
    """Somebody who may come to the desk. ``role``: reader, clerk or coordinator; None for somebody who no longer may.

    ``password_hash``: Argon2id, None without a password.
    """

    initials: str
    name: str
    role: str | None
    password_hash: str | None = field(default=None, repr=False)


@dataclass(frozen=True)
class LoadReport:
    """What loading a register changed; each a tuple of unit numbers or names in the file's order."""

    added: tuple[str, ...]
    changed: tuple[str, ...]
    unchanged: tuple[str, ...]


@dataclass(frozen=True)
class VerifyReport:
    """What the check of a whole binder found. ``problems`` and ``notes`` are sentences; notes are harmless."""

    entries: int
    pages: int
    files: int
    head_hash: str
    problems: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.problems
