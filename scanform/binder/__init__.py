"""The record: pages, fields, people's decisions, the page archive, and the journal that proves them."""

from scanform.binder.binder import Binder, open_binder
from scanform.binder.settings import Settings
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
    PageRecord,
    RecordedPage,
    VerifyReport,
)

__all__ = [
    "BatchRecord",
    "Binder",
    "CalendarDay",
    "Closing",
    "ClosingWish",
    "Decision",
    "Doubt",
    "FiledSheet",
    "ItemLabel",
    "JournalEntry",
    "JudgedField",
    "LoadReport",
    "PageRecord",
    "RecordedPage",
    "Settings",
    "VerifyReport",
    "open_binder",
]
