"""Draw sheets and pads as vector PDF."""

from scanform.press.draw import sheets_pdf, write_sheets
from scanform.press.pads import Sheet, StillOpen, pad_sheets, parse_day, parse_week
from scanform.press.symbols import code_matrix, mark_matrix

__all__ = [
    "Sheet",
    "StillOpen",
    "code_matrix",
    "mark_matrix",
    "pad_sheets",
    "parse_day",
    "parse_week",
    "sheets_pdf",
    "write_sheets",
]
