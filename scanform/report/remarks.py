"""What an old form's remarks say of its items answered Defect: such a form has no lines with an item's number."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple, Protocol

from scanform.settle.ties import clear_item
from scanform.settle.types import State
from scanform.settle.vocabulary import Vocabulary

__all__ = ["Remark", "Written", "note_beside", "remarks_on", "weakest"]

_REMARKS = re.compile(r"remarks(?:\.(\d+))?")
_FEWEST_LETTERS = 3  # less is more often what is left of a ruled line than a word
_BY_WEAKNESS = (State.DOUBTFUL, State.ACCEPTED, State.CONFIRMED)


class Written(Protocol):
    """What stands in a field."""

    @property
    def id(self) -> str:
        """The field's id."""

    @property
    def value(self) -> str | bool | None:
        """What is written."""

    @property
    def state(self) -> State:
        """How far it can be relied on."""

    @property
    def original(self) -> str | None:
        """The words as the ink says them."""


class Remark(NamedTuple):
    """What is written about one item. ``state``: of the weakest line. ``tied_by``: "tick" if the sheet has one item to
    be remarked on, "words" if the words say which of several, "row" if they stand beside the item.
    """

    words: str
    original: str | None
    state: State
    tied_by: str


def weakest(states: Iterable[State]) -> State:
    """How far what rests on several states can be relied on: only as far as its weakest part. ValueError if none."""
    return min(states, key=_BY_WEAKNESS.index)


def remarks_on(items: Mapping[int, str], said: Sequence[Written], vocabulary: Vocabulary) -> dict[int, Remark]:
    """What the remarks say of each item that is answered Defect, by its number.

    ``items``: numbers and texts of all these; ``said``: a sheet's fields. If there is one item, all lines are about it.
    Among several, a line is about the one that its words clearly speak of; what speaks of none is left to the paper,
    since a complaint in the wrong place is worse than one to be looked up.
    """
    lines = sorted((field for field in said if _is_written(field)), key=_place)
    if not lines or not items:
        return {}
    if len(items) == 1:
        return {number: _together(lines, "tick") for number in items}
    about: dict[int, list[Written]] = {}
    for line in lines:
        clear = clear_item(str(line.value), tuple(items.items()), vocabulary)
        if clear is not None:
            about.setdefault(clear[0], []).append(line)
    return {number: _together(found, "words") for number, found in about.items()}


def note_beside(item: str, fields: Mapping[str, Written]) -> Remark | None:
    """What is written in an old form's cell for words on that item, ``item.brakes``; ``fields``: the sheet's, by id."""
    note = fields.get(f"note.{item.removeprefix('item.')}")
    return _together([note], "row") if note is not None and _has_letters(note) else None


def _is_written(field: Written) -> bool:
    return _REMARKS.fullmatch(field.id) is not None and _has_letters(field)


def _has_letters(field: Written) -> bool:
    return sum(character.isalpha() for character in str(field.value or "")) >= _FEWEST_LETTERS


def _place(line: Written) -> int:
    match = _REMARKS.fullmatch(line.id)
    return int(match[1]) if match is not None and match[1] else 0


def _together(lines: Sequence[Written], tied_by: str) -> Remark:
    originals = [line.original for line in lines]
    return Remark(
        " ".join(str(line.value) for line in lines),
        " ".join(filter(None, originals)) or None,
        weakest(line.state for line in lines),
        tied_by,
    )
