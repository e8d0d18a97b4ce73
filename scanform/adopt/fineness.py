"""How fine a scanned page is, by what its file says, else by its paper."""

from __future__ import annotations

from scanform.form import Paper
from scanform.intake import Page

__all__ = ["LEAST_DPI", "MM_PER_IN", "page_px_per_mm"]

MM_PER_IN = 25.4
LEAST_DPI = 140.0  # below, tick boxes have ten pixels a side and small print cannot be read
_LIKELY_DPI = (50.0, 1300.0)  # others are what a program writes that does not know


def page_px_per_mm(page: Page) -> float:
    """From what the file says, else from the paper: the one of A4 and Letter that has the page's shape."""
    if page.dpi is not None and _LIKELY_DPI[0] <= page.dpi <= _LIKELY_DPI[1]:
        return page.dpi / MM_PER_IN
    long, short = max(page.pixels.shape), min(page.pixels.shape)
    paper = min(Paper, key=lambda p: abs(p.size_mm[1] / p.size_mm[0] - long / short))
    return long / paper.size_mm[1]
