"""Pages that were not read: nobody knows what they say, so every list that a decision rests on has to name them."""

from __future__ import annotations

from scanform.binder import Binder, SheetQuery
from scanform.report.wording import counted

__all__ = ["unread_pages", "unread_sentence"]


def unread_pages(binder: Binder) -> int:
    """How many pages were not read, nor entered by hand, nor laid aside by a person as void."""
    return binder.find_sheets(SheetQuery(unread=True), at_most=1).total


def unread_sentence(pages: int) -> str:
    """What pages that were not read mean for a list, without a full stop; "" if there are none."""
    if not pages:
        return ""
    return f"{counted(pages, 'page')} {'was' if pages == 1 else 'were'} not read and may fill a gap or hold a defect"
