"""The record: pages, fields, people's decisions, the page archive, and the journal that proves them."""

from scanform.binder.binder import Binder, open_binder
from scanform.binder.by_hand import MAY_BE_ENTERED
from scanform.binder.history import FieldEvent
from scanform.binder.pages import NOT_READ
from scanform.binder.search import MOST_AT_ONCE, Filing, FoundSheet, FoundSheets, SheetQuery, SheetState
from scanform.binder.settings import Settings
from scanform.binder.turn import held_alone
from scanform.binder.types import (
    BatchRecord,
    CalendarDay,
    Closing,
    ClosingWish,
    Decision,
    Doubt,
    FiledSheet,
    ItemLabel,
    JournalEntry,
    JudgedField,
    LoadReport,
    Objection,
    PageRecord,
    RecordedPage,
    VerifyReport,
)
from scanform.binder.values import checked_initials

__all__ = [
    "MAY_BE_ENTERED",
    "MOST_AT_ONCE",
    "NOT_READ",
    "BatchRecord",
    "Binder",
    "CalendarDay",
    "Closing",
    "ClosingWish",
    "Decision",
    "Doubt",
    "FieldEvent",
    "FiledSheet",
    "Filing",
    "FoundSheet",
    "FoundSheets",
    "ItemLabel",
    "JournalEntry",
    "JudgedField",
    "LoadReport",
    "Objection",
    "PageRecord",
    "RecordedPage",
    "Settings",
    "SheetQuery",
    "SheetState",
    "VerifyReport",
    "checked_initials",
    "held_alone",
    "open_binder",
]
