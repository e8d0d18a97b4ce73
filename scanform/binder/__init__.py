"""The record: pages, fields, people's decisions, the page archive, and the journal that proves them."""

from scanform.binder.binder import Binder, open_binder
from scanform.binder.pages import NOT_READ
from scanform.binder.settings import Settings
from scanform.binder.turn import held_alone
from scanform.binder.types import (
    BatchRecord,
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

__all__ = [
    "NOT_READ",
    "BatchRecord",
    "Binder",
    "Decision",
    "Doubt",
    "FiledSheet",
    "ItemLabel",
    "JournalEntry",
    "JudgedField",
    "LoadReport",
    "Objection",
    "PageRecord",
    "RecordedPage",
    "Settings",
    "VerifyReport",
    "held_alone",
    "open_binder",
]
