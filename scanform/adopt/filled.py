"""From files of filled pages, perhaps of several forms, to the blank of one of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from scanform.adopt.recovered import (
    ENOUGH_COPIES,
    FEWEST_COPIES,
    RecoveredBlank,
    evenly,
    recovered_blank,
    too_coarse,
)
from scanform.adopt.sorting import GLANCE_PX_PER_MM, FormPages, sorted_by_form
from scanform.adopt.stacking import sheet_of
from scanform.errors import FileUnreadable, TemplateError
from scanform.intake import count_pages, list_sources, load_page

__all__ = ["MOST_SORTED", "PagePlace", "SortedPages", "blank_of", "pages_in", "sorted_pages"]

MOST_SORTED = 240  # pages of a large binder that are looked at, spread evenly over it; a page takes about a second


@dataclass(frozen=True)
class PagePlace:
    """A page by its file and its number in it, from 1."""

    path: Path
    number: int


@dataclass(frozen=True, eq=False)
class SortedPages:
    """``forms``: the pages by form and print run, the most pages first. ``notes``: pages left out, and why.

    ``places``: where each sheet's page is, by the sheet's source and number.
    """

    forms: tuple[FormPages, ...]
    notes: tuple[str, ...]
    places: dict[tuple[str, int], PagePlace] = field(repr=False)

    @property
    def usable(self) -> tuple[FormPages, ...]:
        """The forms of which there are copies enough for a blank."""
        return tuple(form for form in self.forms if len(form.sheets) >= FEWEST_COPIES)


def pages_in(paths: Sequence[Path]) -> list[PagePlace]:
    """Every page of the files and folders, in reading order. Raises UsageError or FileUnreadable."""
    return [PagePlace(path, k) for path in list_sources(paths).files for k in range(1, count_pages(path) + 1)]


def sorted_pages(places: Iterable[PagePlace]) -> SortedPages:
    """The pages sorted by what is printed on them. Pages that cannot be read are noted and left out."""
    sheets, notes, where = [], [], {}
    for place in places:
        try:
            page = load_page(place.path, place.number)
        except FileUnreadable as problem:
            notes.append(str(problem))
            continue
        coarse = too_coarse(page)
        if coarse:
            notes.append(coarse)
        else:
            sheets.append(sheet_of(page, GLANCE_PX_PER_MM))
            where[page.source, page.number] = place
    return SortedPages(tuple(sorted_by_form(sheets)), tuple(notes), where)


def blank_of(found: SortedPages, number: int | None = None) -> RecoveredBlank:
    """The blank of the form with that number, from 1; without one, of the only form there are copies enough of.

    Raises TemplateError if there is none, or several and no number.
    """
    usable = found.usable
    if not found.forms:
        why = f" ({found.notes[0].rstrip('.')})" if found.notes else ""
        raise TemplateError(f"A blank needs at least {FEWEST_COPIES} filled copies; no page could be used{why}.")
    if number is not None and not 1 <= number <= len(usable):
        raise TemplateError(f"There is no form {number}; of {len(usable)} there are {FEWEST_COPIES} copies or more.")
    if not usable:
        raise TemplateError(
            f"A blank needs at least {FEWEST_COPIES} filled copies of one form, better {ENOUGH_COPIES}; "
            f"of these pages no {FEWEST_COPIES} show the same form."
        )
    if number is None and len(usable) > 1:
        raise TemplateError(f"These pages are of {len(usable)} different forms; say with --form which one to adopt.")
    chosen = usable[(number or 1) - 1]
    places = [found.places[s.source, s.number] for s in evenly(chosen.sheets, 2 * ENOUGH_COPIES)]
    return recovered_blank([load_page(place.path, place.number) for place in places])
