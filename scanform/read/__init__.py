"""See what the ink says: alternatives with probabilities, no opinions about plausibility."""

from scanform.read.characters import ALPHABET
from scanform.read.combs import EMPTY
from scanform.read.sheet import Instruments, ink_signature, read_sheet
from scanform.read.types import Alternative, Reading

__all__ = [
    "ALPHABET",
    "EMPTY",
    "Alternative",
    "Instruments",
    "Reading",
    "ink_signature",
    "read_sheet",
]
