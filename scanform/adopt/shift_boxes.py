"""Boxes that say which shift a sheet is for, "Shift: [ ] Day [ ] Night": a field of the head, no item of the list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scanform.adopt.found import FoundWord
from scanform.adopt.items import beside
from scanform.adopt.label_words import SHIFT
from scanform.adopt.labels import plain
from scanform.adopt.places import ON_ROW_MM, inside, rows_of
from scanform.form import Box

__all__ = ["ShiftBoxes", "shift_boxes"]

# Usual names of shifts (common practice); single letters and numbers are too often something else.
_NAMES = {
    "day": "day", "ds": "day", "night": "night", "ns": "night",
    "am": "am", "pm": "pm", "morning": "morning", "afternoon": "afternoon", "evening": "evening",
    "early": "early", "late": "late", "back": "back", "1st": "first", "2nd": "second", "3rd": "third",
    "first": "first", "second": "second",
    "third": "third", "swing": "swing", "graveyard": "graveyard",
}  # fmt: skip
_BOX_MM = (2.0, 9.0)
_LABEL_MM, _FRAME_HIGH_MM = 30.0, 20.0


@dataclass(frozen=True)
class ShiftBoxes:
    """``answers``: each shift's name and box, from the left. ``words``: that are explained. ``label``: before or over
    them. ``frame``: the cell that holds all of it, if there is one.
    """

    answers: tuple[tuple[str, Box], ...]
    words: tuple[FoundWord, ...]
    label: str
    frame: Box | None


def shift_boxes(cells: Sequence[Box], words: Sequence[FoundWord]) -> ShiftBoxes | None:
    """The one row of two or more small boxes with a shift's name beside each; None if there is none, or more of them.

    More are rows of a list that is answered for each shift.
    """
    least, most = _BOX_MM
    small = [c for c in cells if least <= min(c.w_mm, c.h_mm) and max(c.w_mm, c.h_mm) <= most and not inside(c, words)]
    named = [w for w in words if _name(w)]
    beside_names = [c for c in small if any(beside(w.box_mm, c) for w in named)]
    found = [
        said for row in rows_of(beside_names, lambda box: box) if (said := _said(row, named, words, cells)) is not None
    ]
    return found[0] if len(found) == 1 else None


def _name(word: FoundWord) -> str:
    name = plain(word.text.replace("/", ""))
    return _NAMES.get(name) or _NAMES.get(name.removesuffix("s"), "")


def _said(
    row: Sequence[Box], named: Sequence[FoundWord], words: Sequence[FoundWord], cells: Sequence[Box]
) -> ShiftBoxes | None:
    """The row's boxes with their names all after them, or all before, each name once."""
    for after in (True, False):
        own = [_nearest(box, named, after) for box in row]
        told = [word for word in own if word is not None]
        if len(told) == len(row) >= 2 and len({_name(word) for word in told}) == len(row):
            label, frame = _label(row[0], told, words), _frame(row, told, cells)
            if frame is not None and not label:
                label = [w for w in inside(frame, words) if plain(w.text) in SHIFT][:1]
            answers = tuple((_name(word), box) for word, box in zip(told, row, strict=True))
            return ShiftBoxes(answers, (*told, *label), " ".join(word.text for word in label).strip(" :"), frame)
    return None


def _nearest(box: Box, named: Sequence[FoundWord], after: bool) -> FoundWord | None:
    near = [w for w in named if beside(w.box_mm, box) and (w.box_mm.x_mm > box.centre_mm[0]) == after]
    return min(near, key=lambda w: abs(w.box_mm.centre_mm[0] - box.centre_mm[0]), default=None)


def _frame(row: Sequence[Box], told: Sequence[FoundWord], cells: Sequence[Box]) -> Box | None:
    """The low cell round the boxes and their names."""
    held = [*row, *(word.box_mm for word in told)]
    round_it = [c for c in cells if c.h_mm < _FRAME_HIGH_MM and all(c.grown(0.1).contains(box) for box in held)]
    return min(round_it, key=lambda c: c.w_mm * c.h_mm, default=None)


def _label(first: Box, told: Sequence[FoundWord], words: Sequence[FoundWord]) -> list[FoundWord]:
    """The word "Shift" before the boxes and their names."""
    start = min(first.x_mm, told[0].box_mm.x_mm)
    return [
        w
        for w in words
        if plain(w.text) in SHIFT
        and 0 <= start - w.box_mm.right_mm < _LABEL_MM
        and abs(w.box_mm.centre_mm[1] - first.centre_mm[1]) < 2 * ON_ROW_MM
    ][-1:]
