"""See what the ink says: alternatives with probabilities, no opinions about plausibility."""

from typing import TYPE_CHECKING

from scanform.doors import given_when_asked
from scanform.read.characters import ALPHABET
from scanform.read.strings import EMPTY
from scanform.read.types import Alternative, Reading

if TYPE_CHECKING:
    from scanform.read.sheet import Instruments, ink_signature, read_sheet

__all__ = [
    "ALPHABET",
    "EMPTY",
    "Alternative",
    "Instruments",
    "Reading",
    "ink_signature",
    "read_sheet",
]

__getattr__ = given_when_asked(
    __name__,
    {
        "sheet": ("Instruments", "ink_signature", "read_sheet"),
    },
)
