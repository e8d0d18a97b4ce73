"""Open anything a scanner or phone makes, safely: files in, :class:`Page` out."""

from scanform.intake.limits import shown
from scanform.intake.load import count_pages, load_page, sha256_of
from scanform.intake.page import Page
from scanform.intake.sources import Sources, list_sources

__all__ = ["Page", "Sources", "count_pages", "list_sources", "load_page", "sha256_of", "shown"]
