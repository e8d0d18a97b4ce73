"""The networks that reading needs, loaded once in each worker."""

from __future__ import annotations

from scanform.read.boxes import MarkNet
from scanform.read.characters import CharacterNet
from scanform.read.lines import LineReader
from scanform.read.symbols import SymbolNet

__all__ = ["Instruments"]


class Instruments:
    """The networks, loaded once in each worker."""

    def __init__(self) -> None:
        """Loads all models; about half a second."""
        self.characters = CharacterNet()
        self.marks = MarkNet()
        self.symbols = SymbolNet()
        self.lines = LineReader()
