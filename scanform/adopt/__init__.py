"""Old binders join in: from an existing paper form to a template."""

from scanform.adopt.blank import print_of
from scanform.adopt.filled import MOST_SORTED, PagePlace, SortedPages, blank_of, pages_in, sorted_pages
from scanform.adopt.found import FoundPrint, FoundRule, FoundWord
from scanform.adopt.from_scan import print_of_page
from scanform.adopt.picture import proposal_picture
from scanform.adopt.printed import printed_places
from scanform.adopt.propose import Proposal, propose
from scanform.adopt.recovered import RecoveredBlank, evenly, recovered_blank
from scanform.adopt.sorting import FormPages

__all__ = [
    "MOST_SORTED",
    "FormPages",
    "FoundPrint",
    "FoundRule",
    "FoundWord",
    "PagePlace",
    "Proposal",
    "RecoveredBlank",
    "SortedPages",
    "blank_of",
    "evenly",
    "pages_in",
    "print_of",
    "print_of_page",
    "printed_places",
    "proposal_picture",
    "propose",
    "recovered_blank",
    "sorted_pages",
]
