"""Open anything a scanner or phone makes, safely: files in, :class:`Page` out."""

from typing import TYPE_CHECKING

from scanform.doors import given_when_asked
from scanform.intake.limits import shown
from scanform.intake.page import Page

if TYPE_CHECKING:
    from scanform.intake.load import count_pages, load_page, sha256_of
    from scanform.intake.sources import Sources, list_sources

__all__ = ["Page", "Sources", "count_pages", "list_sources", "load_page", "sha256_of", "shown"]

__getattr__ = given_when_asked(
    __name__,
    {
        "load": ("count_pages", "load_page", "sha256_of"),
        "sources": ("Sources", "list_sources"),
    },
)
