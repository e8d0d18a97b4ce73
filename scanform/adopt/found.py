"""What was found printed on a blank form, before anybody has said what any of it is for."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, field, replace

import numpy as np

from scanform.form import Box

__all__ = [
    "ASCENT",
    "DESCENT",
    "FoundPrint",
    "FoundRule",
    "FoundWord",
    "phrases",
    "text_of",
    "title_of",
    "whole_lines",
    "without",
]

ASCENT, DESCENT = 0.76, 0.22  # of a typeface's size, over and under the baseline; common practice
_WIDE_GAP = 1.1  # of a line's height: a wider gap parts two labels on one line
_HEAD_OF_PAGE = 0.3
_TELLING = 3  # letters, from which on a word is wider than high unless it is turned
_SAME_LINE = 0.6  # of the lower word's height must be shared


@dataclass(frozen=True)
class FoundWord:
    """A printed word, or several in one line (:func:`phrases`)."""

    text: str
    box_mm: Box


@dataclass(frozen=True)
class FoundRule:
    """A level printed line; ``dotted`` if it is one of dots or dashes."""

    box_mm: Box
    dotted: bool = False


@dataclass(frozen=True, eq=False)
class FoundPrint:
    """A blank form as seen. ``picture``: uint8 (height, width) grey at 8 px/mm, upright and straight.

    ``cells``: rectangles that lines close in, drawn to the middle of these lines: tick boxes, combs' cells, table
    cells, in no order. ``rules``: level lines. ``words``: in no order. ``brackets``: rooms between printed brackets.
    """

    picture: np.ndarray = field(repr=False)
    width_mm: float
    height_mm: float
    words: tuple[FoundWord, ...]
    cells: tuple[Box, ...]
    rules: tuple[FoundRule, ...]
    brackets: tuple[Box, ...] = ()


def without(found: FoundPrint, boxes: Set[Box], words: Sequence[FoundWord]) -> FoundPrint:
    """The print without these cells or rooms between brackets, and without these of its words."""
    return replace(
        found,
        cells=tuple(cell for cell in found.cells if cell not in boxes),
        brackets=tuple(room for room in found.brackets if room not in boxes),
        words=tuple(word for word in found.words if not any(word is own for own in words)),
    )


def text_of(words: Sequence[FoundWord]) -> str:
    """The words as one line of text, in reading order; print that was turned a quarter to the left too."""
    if _turned(words):
        return " ".join(w.text for w in sorted(words, key=lambda w: (round(w.box_mm.centre_mm[0]), -w.box_mm.y_mm)))
    lines: list[list[FoundWord]] = []
    for word in sorted(words, key=lambda w: w.box_mm.centre_mm[1]):
        if lines and _on_one_line(lines[-1][-1].box_mm, word.box_mm):
            lines[-1].append(word)
        else:
            lines.append([word])
    return " ".join(w.text for line in lines for w in sorted(line, key=lambda w: w.box_mm.x_mm))


def _turned(words: Sequence[FoundWord]) -> bool:
    long = [word for word in words if len(word.text) >= _TELLING]
    return bool(long) and sum(word.box_mm.h_mm > word.box_mm.w_mm for word in long) > len(long) / 2


def phrases(words: Sequence[FoundWord], walls: Sequence[Box] = ()) -> list[FoundWord]:
    """Words put together that stand on one line with no wide gap and none of the ``walls`` between them."""
    made: list[FoundWord] = []
    for word in sorted(words, key=lambda w: (w.box_mm.x_mm, w.box_mm.y_mm)):
        before = next((k for k in range(len(made) - 1, -1, -1) if _goes_on(made[k].box_mm, word.box_mm, walls)), None)
        if before is None:
            made.append(word)
        else:
            made[before] = FoundWord(f"{made[before].text} {word.text}", made[before].box_mm.union(word.box_mm))
    return sorted(made, key=lambda p: (p.box_mm.y_mm, p.box_mm.x_mm))


def _goes_on(line: Box, word: Box, walls: Sequence[Box]) -> bool:
    gap = word.x_mm - line.right_mm
    if not (-0.5 <= gap <= _WIDE_GAP * min(line.h_mm, word.h_mm) and _on_one_line(line, word)):
        return False
    between = Box(line.right_mm, word.centre_mm[1] - 0.2, max(gap, 0.01), 0.4)
    return not any(wall.overlaps(between) and not wall.contains(between) for wall in walls)


def _on_one_line(a: Box, b: Box) -> bool:
    shared = min(a.bottom_mm, b.bottom_mm) - max(a.y_mm, b.y_mm)
    return shared >= _SAME_LINE * min(a.h_mm, b.h_mm)


def whole_lines(words: Sequence[FoundWord]) -> list[FoundWord]:
    """Every printed line across the page, gaps and all."""
    lines: list[list[FoundWord]] = []
    for word in sorted(words, key=lambda w: w.box_mm.centre_mm[1]):
        if lines and abs(lines[-1][-1].box_mm.centre_mm[1] - word.box_mm.centre_mm[1]) < 0.4 * word.box_mm.h_mm:
            lines[-1].append(word)
        else:
            lines.append([word])
    whole = []
    for line in lines:
        box = line[0].box_mm
        for word in line[1:]:
            box = box.union(word.box_mm)
        whole.append(FoundWord(" ".join(w.text for w in sorted(line, key=lambda w: w.box_mm.x_mm)), box))
    return whole


def title_of(found: FoundPrint) -> list[FoundWord]:
    """The largest print in the upper part of the page, one line of it."""
    upper = [w for w in found.words if w.box_mm.bottom_mm < _HEAD_OF_PAGE * found.height_mm]
    if not upper:
        return []
    largest = max(upper, key=lambda w: w.box_mm.h_mm)
    y = largest.box_mm.centre_mm[1]
    return [w for w in upper if abs(w.box_mm.centre_mm[1] - y) < 1.5 and w.box_mm.h_mm > 0.8 * largest.box_mm.h_mm]
