"""Draw sheets and pads as vector PDF."""

from typing import TYPE_CHECKING

from scanform.doors import given_when_asked
from scanform.press.pads import Sheet, StillOpen, can_be_printed, pad_sheets, parse_day, parse_week

if TYPE_CHECKING:
    from scanform.press.draw import sheets_pdf, write_sheets
    from scanform.press.symbols import code_matrix, mark_matrix

__all__ = [
    "Sheet",
    "StillOpen",
    "can_be_printed",
    "code_matrix",
    "mark_matrix",
    "pad_sheets",
    "parse_day",
    "parse_week",
    "sheets_pdf",
    "write_sheets",
]

__getattr__ = given_when_asked(
    __name__,
    {
        "draw": ("sheets_pdf", "write_sheets"),
        "symbols": ("code_matrix", "mark_matrix"),
    },
)
