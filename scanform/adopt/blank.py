"""From a file with a blank form to what is printed on it."""

from __future__ import annotations

from pathlib import Path

from scanform.adopt.found import FoundPrint
from scanform.adopt.from_pdf import has_text, print_of_pdf
from scanform.adopt.from_scan import print_of_page
from scanform.errors import TemplateError
from scanform.intake import count_pages, load_page

__all__ = ["print_of"]


def print_of(path: Path, page: int | None = None) -> FoundPrint:
    """What is printed on the blank form in a file.

    ``page``: which of its pages, from 1; None if it has one alone. Raises TemplateError, or FileUnreadable.
    """
    pages = count_pages(path)
    if page is None and pages > 1:
        raise TemplateError(
            f"{path}: has {pages} pages, which may be as many forms; say with --page which one to adopt, one at a time."
        )
    if page is not None and not 1 <= page <= pages:
        raise TemplateError(f"{path}: has {pages} {'page' if pages == 1 else 'pages'}; there is no page {page}.")
    number = page or 1
    # Opened by intake first either way: it knows what is no PDF, locked or broken, and says so.
    picture = load_page(path, number)
    if path.suffix.lower() == ".pdf" and has_text(path, number):
        return print_of_pdf(path, number)
    return print_of_page(picture)
