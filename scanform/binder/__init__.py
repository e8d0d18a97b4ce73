"""The record: pages, fields, people's decisions, the page archive, and the journal that proves them."""

from scanform.binder.binder import Binder, open_binder
from scanform.binder.settings import Settings
from scanform.binder.types import (
    BatchRecord,
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
from scanform.binder.values import checked_initials

__all__ = [
    "BatchRecord",
    "Binder",
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
    "checked_initials",
    "open_binder",
]
