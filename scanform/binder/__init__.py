"""The record: pages, fields, people's decisions, the page archive, and the journal that proves them."""

from scanform.binder.binder import Binder, open_binder
from scanform.binder.by_hand import MAY_BE_ENTERED, entered_fields
from scanform.binder.decisions import split_ref
from scanform.binder.history import FieldEvent
from scanform.binder.pages import NOT_READ
from scanform.binder.people import ROLES, password_fits
from scanform.binder.search import MOST_AT_ONCE, Filing, FoundSheet, FoundSheets, SheetQuery, SheetState
from scanform.binder.settings import Settings
from scanform.binder.turn import held_alone
from scanform.binder.types import (
    VOID,
    BatchRecord,
    CalendarDay,
    Closing,
    ClosingWish,
    Decision,
    DeletedSheet,
    Doubt,
    FiledSheet,
    ItemLabel,
    JournalEntry,
    JudgedField,
    LentDoubt,
    LoadReport,
    Objection,
    PageHead,
    PageRecord,
    Person,
    RecordedPage,
    Resolution,
    VerifyReport,
    WaitingSort,
    is_void,
)
from scanform.binder.values import checked_initials, checked_value

__all__ = [
    "MAY_BE_ENTERED",
    "MOST_AT_ONCE",
    "NOT_READ",
    "ROLES",
    "VOID",
    "BatchRecord",
    "Binder",
    "CalendarDay",
    "Closing",
    "ClosingWish",
    "Decision",
    "DeletedSheet",
    "Doubt",
    "FieldEvent",
    "FiledSheet",
    "Filing",
    "FoundSheet",
    "FoundSheets",
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
    "Resolution",
    "Settings",
    "SheetQuery",
    "SheetState",
    "VerifyReport",
    "WaitingSort",
    "checked_initials",
    "checked_value",
    "entered_fields",
    "held_alone",
    "is_void",
    "open_binder",
    "password_fits",
    "split_ref",
]
