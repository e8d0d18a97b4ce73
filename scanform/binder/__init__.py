"""The record: pages, fields, people's decisions, the page archive, and the journal that proves them."""

from scanform.binder.binder import Binder, open_binder
from scanform.binder.decisions import split_ref
from scanform.binder.people import ROLES, password_fits
from scanform.binder.settings import Settings
from scanform.binder.types import (
    BatchRecord,
    Decision,
    Doubt,
    FiledSheet,
    ItemLabel,
    JournalEntry,
    JudgedField,
    LentDoubt,
    LoadReport,
    PageRecord,
    Person,
    RecordedPage,
    VerifyReport,
    WaitingSort,
)
from scanform.binder.values import checked_initials, checked_value

__all__ = [
    "ROLES",
    "BatchRecord",
    "Binder",
    "Decision",
    "Doubt",
    "FiledSheet",
    "ItemLabel",
    "JournalEntry",
    "JudgedField",
    "LentDoubt",
    "LoadReport",
    "PageRecord",
    "Person",
    "RecordedPage",
    "Settings",
    "VerifyReport",
    "WaitingSort",
    "checked_initials",
    "checked_value",
    "open_binder",
    "password_fits",
    "split_ref",
]
