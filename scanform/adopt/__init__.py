"""Old binders join in: from an existing paper form to a template."""

from scanform.adopt.blank import print_of
from scanform.adopt.found import FoundPrint, FoundRule, FoundWord
from scanform.adopt.picture import proposal_picture
from scanform.adopt.propose import Proposal, propose

__all__ = ["FoundPrint", "FoundRule", "FoundWord", "Proposal", "print_of", "proposal_picture", "propose"]
