"""Words that are places themselves: one of several is to be ringed, or the box that its letter is printed in ticked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scanform.adopt.answers import Says, week_of
from scanform.adopt.found import FoundWord
from scanform.adopt.heads import Head
from scanform.adopt.items import Spot, beside, captions_box
from scanform.adopt.places import ON_ROW_MM, Column
from scanform.form import Box

__all__ = ["SAME_X_MM", "days_in_boxes", "spot_of", "words_to_ring"]

SAME_X_MM = 1.6  # by which what stands under each other differs at most
_FEWEST_CIRCLED = 4
_LETTERED_MM, _MOST_LETTERS = 10.0, 3
_HEAD_MM = 6.0  # from the middle of a head down to the first place under it
_APART_MM = 8.0  # from one word to circle to the next


def words_to_ring(
    columns: Sequence[Column], words: Sequence[FoundWord], cells: Sequence[Box], says: Says
) -> list[FoundWord]:
    """Answers printed under each other with no box beside them, two or more to a row: one is to be ringed.

    A letter that nobody knows is one too if it is printed in a box of its own as the others of its row are; a head
    over places of the ``columns`` is none.
    """
    boxes = [cell for column in columns for cell in column.cells]
    free = [
        w
        for w in words
        if any(s.isalnum() for s in w.text) and not any(beside(w.box_mm, b) or captions_box(w.box_mm, b) for b in boxes)
    ]
    same: dict[str, list[FoundWord]] = {}
    for word in free:
        same.setdefault(word.text, []).append(word)
    in_columns = [w for w in free if sum(_under(o, w) for o in same[w.text]) >= _FEWEST_CIRCLED]
    boxed = [w for w in in_columns if len(w.text) <= _MOST_LETTERS and _box_round(w, cells) is not None]
    answers = [w for w in in_columns if says(w.text) is not None or any(w is b for b in boxed)]
    rows = {id(w): [o for o in in_columns if _on_row(o, w)] for w in answers}
    answers = [w for w in answers if any(says(o.text) is not None for o in rows[id(w)])]
    circled = [w for w in answers if any(o is not w and any(o is a for a in answers) for o in rows[id(w)])]
    # A word that nobody knows is an answer too where it is printed between or beside such, on every row the same.
    between = [o for w in circled for o in rows[id(w)] if says(o.text) is None and _next_to(o, w)]
    return [w for w in {id(w): w for w in [*circled, *between]}.values() if not _heads_column(w, columns)]


def _heads_column(word: FoundWord, columns: Sequence[Column]) -> bool:
    """Whether a word stands right on top of places of a column: its head, printed again over a part of the list."""
    x, y = word.box_mm.centre_mm
    return any(
        cell.x_mm < x < cell.right_mm and 0 < cell.y_mm - y < max(_HEAD_MM, cell.h_mm)
        for column in columns
        for cell in column.cells
    )


def spot_of(word: FoundWord, cells: Sequence[Box], says: Says) -> Spot:
    """The word to ring; a box with its letter printed in it is to be ticked."""
    head = Head(word.text, (word,), means=says(word.text) or "")
    box = _box_round(word, cells)
    return Spot(box, head) if box is not None else Spot(word.box_mm, head, "word")


def days_in_boxes(run: Sequence[Spot]) -> list[Spot]:
    """The run's places as a week's if the letters printed in its boxes are those of days in turn."""
    week = week_of([spot.head.text for spot in run]) if run[0].how == "box" else []
    return [
        replace(spot, head=replace(spot.head, day=day, means="")) for spot, day in zip(run, week, strict=False)
    ] or list(run)


def _box_round(word: FoundWord, cells: Sequence[Box]) -> Box | None:
    """The small box that a letter is printed in."""
    boxes = [c for c in cells if max(c.w_mm, c.h_mm) <= _LETTERED_MM and c.contains(word.box_mm)]
    return min(boxes, key=lambda c: c.w_mm, default=None)


def _under(a: FoundWord, b: FoundWord) -> bool:
    return abs(a.box_mm.x_mm - b.box_mm.x_mm) < SAME_X_MM


def _on_row(a: FoundWord, b: FoundWord) -> bool:
    return abs(a.box_mm.centre_mm[1] - b.box_mm.centre_mm[1]) < ON_ROW_MM


def _next_to(a: FoundWord, b: FoundWord) -> bool:
    apart = max(a.box_mm.x_mm - b.box_mm.right_mm, b.box_mm.x_mm - a.box_mm.right_mm)
    return apart < _APART_MM
