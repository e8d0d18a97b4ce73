"""The blank form, recovered from copies that were written on."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from scanform.adopt.fineness import LEAST_DPI, MM_PER_IN, page_px_per_mm
from scanform.adopt.print_stack import common_print
from scanform.adopt.registering import registered, stacked_ink
from scanform.adopt.stacking import laid_together, sheet_of
from scanform.errors import TemplateError
from scanform.form import BLANK_PX_PER_MM, Box
from scanform.intake import Page

__all__ = ["ENOUGH_COPIES", "FEWEST_COPIES", "RecoveredBlank", "evenly", "recovered_blank", "too_coarse"]

T = TypeVar("T")

FEWEST_COPIES = 3  # of two copies, nobody can say which of them a stroke belongs to
ENOUGH_COPIES = 12
_MOST_COPIES = 24  # more add time and memory (4 MB a copy) but no sharpness
_SURE_AGREEMENT = 0.8


@dataclass(frozen=True, eq=False)
class RecoveredBlank:
    """``page``: the blank as a page of 8 px/mm, upright as most copies were, as if it had been scanned.

    ``copies``: how many it was made from. ``agreement``: 0 to 1, the share of the print's edges that nearly all of them
    show. ``left_out_mm``: where ink recurs that was not taken for print, largest first. ``notes``: what a person should
    know, in plain words.
    """

    page: Page
    copies: int
    agreement: float
    left_out_mm: tuple[Box, ...]
    notes: tuple[str, ...]


def recovered_blank(pages: Sequence[Page]) -> RecoveredBlank:
    """The blank that the pages are filled copies of; twelve are enough for a form of ordinary quality.

    Raises TemplateError if there are too few copies, or too few that show the same form.
    """
    said = [note for page in pages if (note := too_coarse(page))]
    sheets = [sheet_of(page) for page in evenly([page for page in pages if too_coarse(page) is None], _MOST_COPIES)]
    if len(sheets) < FEWEST_COPIES:
        raise TemplateError(_too_few(len(sheets), said))
    stack = laid_together(sheets)
    if len(stack.laid) < FEWEST_COPIES:
        raise TemplateError(
            f"{pages[0].source} and {len(pages) - 1} more: no {FEWEST_COPIES} of these pages show the same form; give "
            "filled copies of one form, or scan them again at 300 dots an inch."
        )
    said += [f"{s.source}, page {s.number}: does not show the same form as most; left out." for s in stack.others]
    fine = registered(stack)
    found = common_print(stacked_ink(fine.laid, fine.size_mm, BLANK_PX_PER_MM), BLANK_PX_PER_MM)
    count = len(fine.laid)
    if count < ENOUGH_COPIES:
        said.append(f"Made from {count} copies; {ENOUGH_COPIES} give a cleaner blank.")
    if found.agreement < _SURE_AGREEMENT:
        said.append(
            f"Only {100 * found.agreement:.0f} % of the print's edges coincide on nearly all copies; look the blank "
            "over, and take cleaner copies, or fewer print runs, if lines are missing."
        )
    pixels = (255 - found.ink).astype(np.uint8)
    first = fine.laid[0].sheet
    page = Page(
        source=f"{first.source} and {count - 1} more",
        number=first.number,
        sha256=hashlib.sha256(pixels.tobytes()).hexdigest(),
        pixels=pixels,
        dpi=BLANK_PX_PER_MM * MM_PER_IN,
    )
    return RecoveredBlank(page, count, found.agreement, found.left_out_mm, tuple(said))


def too_coarse(page: Page) -> str | None:
    """What is to be said of a page whose print cannot be told; None if it is fine enough."""
    dpi = page_px_per_mm(page) * MM_PER_IN
    if dpi >= LEAST_DPI:
        return None
    return f"{page.source}, page {page.number}: has only {dpi:.0f} dots an inch and is left out; scan it at 300."


def evenly(things: Sequence[T], most: int) -> list[T]:
    """At most so many, spread evenly over all, so that every part of a binder has its say."""
    if len(things) <= most:
        return list(things)
    return [things[k * len(things) // most] for k in range(most)]


def _too_few(count: int, notes: Sequence[str]) -> str:
    wanted = f"A blank needs at least {FEWEST_COPIES} filled copies of one form, better {ENOUGH_COPIES}; "
    got = "there is none" if count == 0 else "there is 1" if count == 1 else f"there are {count}"
    return wanted + got + (f" ({notes[0].rstrip('.')})." if notes else ".")
