"""The networks that reading needs, loaded once in each worker."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from scanform.read.boxes import MarkNet
from scanform.read.characters import CharacterNet
from scanform.read.lines import LineReader
from scanform.read.symbols import SymbolNet

if TYPE_CHECKING:
    from scanform.read.old.number_line import NumberReader

__all__ = ["Instruments"]


class Instruments:
    """The networks, loaded once in each worker."""

    def __init__(self) -> None:
        """Loads all models; about half a second."""
        self.characters = CharacterNet()
        self.marks = MarkNet()
        self.symbols = SymbolNet()
        self.lines = LineReader()

    @cached_property
    def numbers(self) -> NumberReader:
        """For old forms alone, loaded when the first of them is read."""
        from scanform.read.old.number_line import NumberReader

        return NumberReader()
