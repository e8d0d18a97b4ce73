"""Boxes that stand apart from the check list: after a question, "Safe to use? [ ] Yes [ ] No", or by themselves."""

from __future__ import annotations

import re
from collections.abc import Sequence, Set
from dataclasses import dataclass
from itertools import pairwise

from scanform.adopt.answers import answer_by_sense, answer_of
from scanform.adopt.found import FoundPrint, FoundWord, text_of, without
from scanform.adopt.labels import plain, slug
from scanform.adopt.places import ON_ROW_MM, inside, rows_of
from scanform.form import Box

__all__ = ["BoxesApart", "boxes_apart", "without_apart"]

_TICKED = "ticked"  # the answer of a box by itself
_BOX_MM, _SQUARE = (2.0, 9.0), 1.5
_TOUCH_MM = 0.3
_BESIDE_MM, _SPACE_MM, _OVERLAP_MM = 4.5, 2.4, 0.5  # from a box to its words, and between two of these
_TO_LABEL_MM, _TO_NEXT_BOX_MM = 120.0, 55.0  # a question may stand at the far left of its line
_UNDER_MM, _SAME_MM, _FEWEST_IN_LIST = 34.0, 1.0, 3  # as far down a list goes on, and how many make one
_FEWEST_LETTERS, _FRAME_HIGH_MM = 3, 20.0
_YES_NO = {"yes": "yes", "y": "yes", "no": "no", "n": "no"}
# Questions whose "no" is a finding: whether the machine may be used. "Any defects?" is answered the other way round,
# and "Reported?" is about people; their answers stay yes and no.
_FIT = re.compile(
    r"\b(safe|fit|serviceable|roadworthy|usable|good (order|condition|to go)|in order|ok(ay)? to)\b", re.IGNORECASE
)
_UNFIT = re.compile(r"\b(unsafe|unfit|defects?|faults?|damage|repairs?|problems?|not)\b", re.IGNORECASE)


@dataclass(frozen=True)
class BoxesApart:
    """``answers``: each box with the answer that it stands for. ``label``: what they are about. ``words``: that are
    explained by them. ``item``: whether it is a point of the check, answered ok, defect or na.
    """

    answers: tuple[tuple[str, Box], ...]
    label: str
    words: tuple[FoundWord, ...]
    item: bool


@dataclass(frozen=True)
class _Worded:
    box: Box
    words: tuple[FoundWord, ...]

    @property
    def text(self) -> str:
        return text_of(self.words).strip(" .,:;")

    @property
    def span(self) -> tuple[float, float]:
        """Of box and words, in mm from the left."""
        boxes = [self.box, *(word.box_mm for word in self.words)]
        return min(b.x_mm for b in boxes), max(b.right_mm for b in boxes)


def boxes_apart(found: FoundPrint, in_combs: Set[Box]) -> list[BoxesApart]:
    """Small boxes with words of their own that go on in no column of a list, those of one question together.

    What a box by itself says is its label, and ``ticked`` its only answer. ``in_combs``: cells that are none of them.
    """
    boxes = [box for box in _small_boxes(found) if box not in in_combs]
    listed = {box for box in boxes if _in_list(box, boxes)}
    groups: list[BoxesApart] = []
    for whole_row in rows_of(boxes, lambda box: box):
        # One that happens to stand over or under a column of the list, whose own rows have more boxes than one.
        of_list = [box for box in whole_row if box in listed]
        by_chance = len(of_list) == 1 < len(whole_row) and _fewest_beside(of_list[0], listed) > 1
        row = whole_row if by_chance else [box for box in whole_row if box not in listed]
        if not row:
            continue
        words = _on_level(row, found.words)
        stops = [b for b in boxes if abs(b.centre_mm[1] - row[0].centre_mm[1]) < ON_ROW_MM]
        for part in _parts(_worded(row, words, stops), words, found):
            groups += _told(part, _label(part, words, stops, found))
    return groups


def without_apart(found: FoundPrint, apart: Sequence[BoxesApart]) -> FoundPrint:
    """The print without these boxes, their words, and low cells that hold nothing else."""
    boxes = {box for one in apart for _, box in one.answers}
    own = [word for one in apart for word in one.words]
    left = without(found, boxes, own)
    emptied = {
        cell
        for cell in left.cells
        if (any(cell.contains(box) for box in boxes) or inside(cell, own))
        and cell.h_mm < _FRAME_HIGH_MM
        and not inside(cell, left.words)
    }
    return without(left, emptied, ())


def _small_boxes(found: FoundPrint) -> list[Box]:
    """Boxes of their own, empty and about square, and rooms between brackets; no cells of a table or a comb."""
    least, most = _BOX_MM
    near_square = [
        c
        for c in found.cells
        if least <= min(c.w_mm, c.h_mm) and max(c.w_mm, c.h_mm) <= min(most, _SQUARE * min(c.w_mm, c.h_mm))
    ]
    own = [
        cell
        for cell in near_square
        if not inside(cell, found.words)
        and not any(
            other is not cell and cell.grown(_TOUCH_MM).overlaps(other) and not other.grown(0.1).contains(cell)
            for other in found.cells
        )
    ]
    return [*own, *found.brackets]


def _in_list(box: Box, boxes: Sequence[Box]) -> bool:
    """Whether boxes of its size go on above or below it as in a list."""
    under = [
        other.centre_mm[1]
        for other in boxes
        if abs(other.centre_mm[0] - box.centre_mm[0]) < _SAME_MM
        and abs(other.w_mm - box.w_mm) < _SAME_MM / 2
        and abs(other.h_mm - box.h_mm) < _SAME_MM / 2
    ]
    y, count = box.centre_mm[1], 1
    for way in (sorted(v for v in under if v > y), sorted((v for v in under if v < y), reverse=True)):
        for above, below in pairwise([y, *way]):
            if abs(below - above) > _UNDER_MM:
                break
            count += 1
    return count >= _FEWEST_IN_LIST


def _fewest_beside(box: Box, listed: Set[Box]) -> int:
    """How many boxes of the list a row of a box's column has at least, its own row left out."""
    column = [b for b in listed if abs(b.centre_mm[0] - box.centre_mm[0]) < _SAME_MM and b is not box]
    rows = [sum(abs(b.centre_mm[1] - one.centre_mm[1]) < ON_ROW_MM for b in listed) for one in column]
    return min(rows, default=0)


def _on_level(row: Sequence[Box], words: Sequence[FoundWord]) -> list[FoundWord]:
    top, bottom = row[0].y_mm - 0.5, row[0].bottom_mm + 0.5
    return sorted((w for w in words if top < w.box_mm.centre_mm[1] < bottom), key=lambda w: w.box_mm.x_mm)


def _worded(row: Sequence[Box], words: Sequence[FoundWord], stops: Sequence[Box]) -> list[_Worded]:
    """The row's boxes with their words, which stand after all of them or before all of them; without those that have
    none.
    """
    after = [_Worded(box, tuple(_words_after(box, words, stops))) for box in row]
    before = [_Worded(box, tuple(_words_before(box, words, stops))) for box in row]

    def tells(side: Sequence[_Worded]) -> tuple[int, int]:
        return sum(answer_of(one.text) is not None for one in side), sum(bool(one.words) for one in side)

    best = before if tells(before) > tells(after) else after
    return [one for one in best if sum(sign.isalpha() for sign in one.text) >= _fewest(one.text)]


def _fewest(text: str) -> int:
    return 1 if answer_of(text) is not None else _FEWEST_LETTERS


def _words_after(box: Box, words: Sequence[FoundWord], stops: Sequence[Box]) -> list[FoundWord]:
    """The words right after a box, up to a gap, the next box or the end of a question; of Yes or No that word alone."""
    chain: list[FoundWord] = []
    edge, reach = box.right_mm, _BESIDE_MM
    for word in words:
        gap = word.box_mm.x_mm - edge
        if gap < -_OVERLAP_MM:
            continue
        if gap > reach or _boxed(edge, word.box_mm.x_mm, stops):
            break
        chain.append(word)
        edge, reach = word.box_mm.right_mm, _SPACE_MM
        if word.text.endswith("?") or (len(chain) == 1 and plain(word.text) in _YES_NO):
            break
    return chain


def _words_before(box: Box, words: Sequence[FoundWord], stops: Sequence[Box]) -> list[FoundWord]:
    """The words right before a box, back to a gap, the box before or a question; of Yes or No that word alone."""
    chain: list[FoundWord] = []
    edge, reach = box.x_mm, _BESIDE_MM
    for word in reversed(words):
        gap = edge - word.box_mm.right_mm
        if gap < -_OVERLAP_MM:
            continue
        if gap > reach or word.text.endswith((":", "?")) or _boxed(word.box_mm.right_mm, edge, stops):
            break
        chain.insert(0, word)
        edge, reach = word.box_mm.x_mm, _SPACE_MM
        if len(chain) == 1 and plain(word.text) in _YES_NO:
            break
    return chain


def _boxed(start: float, end: float, stops: Sequence[Box]) -> bool:
    """Whether a box stands between two places of a line, in mm from the left."""
    return any(start - 0.2 < box.centre_mm[0] < end for box in stops)


def _parts(worded: Sequence[_Worded], words: Sequence[FoundWord], found: FoundPrint) -> list[list[_Worded]]:
    """The row's boxes by question: other words, a rule to write on or a wide gap between two begin the next."""
    parts: list[list[_Worded]] = []
    for one in worded:
        if parts and not _parted(parts[-1][-1], one, words, found):
            parts[-1].append(one)
        else:
            parts.append([one])
    return parts


def _parted(a: _Worded, b: _Worded, words: Sequence[FoundWord], found: FoundPrint) -> bool:
    start, end = a.span[1], b.span[0]
    between = any(start - 0.5 < w.box_mm.x_mm < end - 0.5 for w in words if w not in a.words and w not in b.words)
    return between or end - start > _TO_NEXT_BOX_MM or _ruled(start, end, a.box, found)


def _ruled(start: float, end: float, level: Box, found: FoundPrint) -> bool:
    """Whether a rule to write on lies between two places of a line."""
    return any(
        level.y_mm < rule.box_mm.centre_mm[1] < level.bottom_mm + 2 and start - 1 < rule.box_mm.centre_mm[0] < end + 1
        for rule in found.rules
    )


def _label(
    part: Sequence[_Worded], words: Sequence[FoundWord], stops: Sequence[Box], found: FoundPrint
) -> tuple[FoundWord, ...]:
    """The words on the line before a question's boxes."""
    label: list[FoundWord] = []
    edge, reach = part[0].span[0], _TO_LABEL_MM
    for word in reversed(words):
        if word.box_mm.right_mm > edge + 0.5 or any(word is own for one in part for own in one.words):
            continue
        right = word.box_mm.right_mm
        if edge - right > reach or _boxed(right, edge, stops) or _ruled(right, edge, part[0].box, found):
            break
        label.insert(0, word)
        edge, reach = word.box_mm.x_mm, _SPACE_MM
    return tuple(label) or _in_cell_before(part[0].box, found)


def _in_cell_before(box: Box, found: FoundPrint) -> tuple[FoundWord, ...]:
    """The words in the table's cell left of the one that holds a box."""
    round_it = [c for c in found.cells if c is not box and c.contains(box) and c.h_mm < _FRAME_HIGH_MM]
    own = min(round_it, key=lambda c: c.w_mm * c.h_mm, default=None)
    before = [
        cell
        for cell in found.cells
        if own is not None
        and abs(cell.right_mm - own.x_mm) < _SAME_MM
        and max(abs(cell.y_mm - own.y_mm), abs(cell.bottom_mm - own.bottom_mm)) < _SAME_MM
    ]
    return tuple(inside(before[0], found.words)) if before else ()


def _told(part: Sequence[_Worded], label: tuple[FoundWord, ...]) -> list[BoxesApart]:
    """A part as one question, or, where it has no question and says no answers, each box by itself."""
    text = text_of(label).strip(" :.")
    usual = [answer_of(one.text) for one in part]
    said = [known or answer_by_sense(one.text) for known, one in zip(usual, part, strict=True)]
    own = tuple(word for one in part for word in one.words)
    if len(part) > 1 and len({plain(one.text) for one in part}) == len(part) and (text or any(usual)):
        yes_no = [_YES_NO.get(plain(one.text)) for one in part]
        asks_fitness = _FIT.search(text) is not None and _UNFIT.search(text) is None
        item = bool(text) and all(said) and len(set(said)) == len(said) and (asks_fitness or not any(yes_no))
        taken: set[str] = set()
        names = [
            answer if item and answer else slug(yes or one.text, taken, "answer")
            for answer, yes, one in zip(said, yes_no, part, strict=True)
        ]
        answers = tuple((name, one.box) for name, one in zip(names, part, strict=True))
        return [BoxesApart(answers, text or " / ".join(one.text for one in part), (*label, *own), item)]
    return [_by_itself(one) for one in part if answer_of(one.text) is None]


def _by_itself(one: _Worded) -> BoxesApart:
    return BoxesApart(((_TICKED, one.box),), one.text, one.words, item=False)
