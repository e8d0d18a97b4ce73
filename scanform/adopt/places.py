"""What the rectangles and lines on a form are: columns of places to answer in, lines to write on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

from scanform.adopt.found import FoundPrint, FoundRule, FoundWord, text_of
from scanform.form import Box

__all__ = [
    "ON_ROW_MM",
    "Column",
    "cleaned",
    "columns_of",
    "inside",
    "rows_of",
    "rules_to_tick_on",
    "stands_on",
    "writing_rules",
]

Placed = TypeVar("Placed")

ON_ROW_MM = 1.4  # by which the middles of one row differ at most
_SAME_MM = 0.6
_TOUCH_MM = 0.9
# Places to answer in, by width and height: from small tick boxes to the day columns of a landscape page.
_ANSWER_MM = ((2.2, 36.0), (2.2, 15.0))
_FEWEST_IN_COLUMN = 3
_FEWEST_NUMBERED = 3
_IN_CELL = 0.85  # of a cell's width: the most that a box printed in it takes up
_ALONE_MM, _LARGEST_ALONE_MM = 1.8, 9.0
_LEAST_RULE_MM = 12.0
# Short rules in front of items, to put a sign on: their length, the gap to the words, from one to the next, and the
# room over one.
_TICK_RULE_MM, _TICK_GAP_MM, _TICK_PITCH_MM, _TICK_ROOM_MM = (7.0, 26.0), 4.0, (4.0, 13.0), 7.0
_FEWEST_TICK_RULES = 6
_WORD_COVERS = 0.5
_IS_BORDER = 0.3  # of a rule's length


@dataclass(frozen=True)
class Column:
    """Empty places of one size under each other, from the top: boxes by themselves, or the cells of a table."""

    cells: tuple[Box, ...]

    @property
    def x_mm(self) -> float:
        """Of their middles."""
        return self.cells[0].centre_mm[0]


def cleaned(found: FoundPrint) -> FoundPrint:
    """Without what letters' own strokes were taken for: closed counters, strokes in a line of bold print."""
    boxes = [word.box_mm for word in found.words]
    cells = [cell for cell in found.cells if not any(_is_stroke(cell, box) for box in boxes)]
    rules = [_after_its_label(rule, boxes) for rule in found.rules if not _runs_through(rule, boxes)]
    return replace(found, cells=tuple(cells), rules=tuple(rules))


def _is_stroke(cell: Box, word: Box) -> bool:
    return cell.h_mm <= word.h_mm * 1.1 and word.grown(0.5).contains(cell)


def _runs_through(rule: FoundRule, words: Sequence[Box]) -> bool:
    """A writing line may pass under words; a stroke of letters lies within them for most of its length."""
    box, y = rule.box_mm, rule.box_mm.centre_mm[1]
    across = [w for w in words if w.y_mm + 0.15 * w.h_mm < y < w.bottom_mm - 0.02 * w.h_mm]
    covered = sum(max(0.0, min(w.right_mm, box.right_mm) - max(w.x_mm, box.x_mm)) for w in across)
    return covered > _WORD_COVERS * box.w_mm


def _after_its_label(rule: FoundRule, words: Sequence[Box]) -> FoundRule:
    """The rule without what stuck to it at its left end: the feet of the letters before it."""
    box, y = rule.box_mm, rule.box_mm.centre_mm[1]
    ends = [w.right_mm for w in words if w.x_mm < box.x_mm < w.right_mm < box.right_mm and w.y_mm < y < w.bottom_mm]
    start = max(ends, default=box.x_mm)
    return replace(rule, box_mm=Box(start, box.y_mm, box.right_mm - start, box.h_mm))


def inside(cell: Box, words: Sequence[FoundWord]) -> list[FoundWord]:
    """The words whose middle lies in the cell."""
    return [
        word
        for word in words
        if cell.x_mm < word.box_mm.centre_mm[0] < cell.right_mm
        and cell.y_mm < word.box_mm.centre_mm[1] < cell.bottom_mm
    ]


def rows_of(things: Sequence[Placed], box_of: Callable[[Placed], Box]) -> list[list[Placed]]:
    """Things that stand side by side, from the top and in each row from the left."""
    rows: list[list[Placed]] = []
    for thing in sorted(things, key=lambda t: box_of(t).centre_mm[1]):
        if rows and abs(box_of(rows[-1][0]).centre_mm[1] - box_of(thing).centre_mm[1]) < ON_ROW_MM:
            rows[-1].append(thing)
        else:
            rows.append([thing])
    return [sorted(row, key=lambda t: box_of(t).x_mm) for row in rows]


def columns_of(cells: Sequence[Box], words: Sequence[FoundWord]) -> list[Column]:
    """Columns of empty places of one width and about one height, left to right."""
    (least_w, most_w), (least_h, most_h) = _ANSWER_MM
    fitting = [c for c in cells if least_w <= c.w_mm <= most_w and least_h <= c.h_mm <= most_h]
    empty = _innermost([c for c in fitting if not inside(c, words)])
    numbered = [c for c in fitting if c not in empty and text_of(inside(c, words)).strip(".)( ").isdecimal()]
    columns: list[list[Box]] = []
    for cell in sorted(empty, key=lambda c: c.y_mm):
        home = next(
            (column for column in columns if _goes_under(column[-1], cell, _slack(column[-1], cell, empty))), None
        )
        if home is None:
            columns.append([cell])
        else:
            home.append(cell)
    printed = [cell for cell in fitting if cell not in empty]
    below = [_below_its_head(c, printed) for c in sorted(columns, key=lambda c: c[0].x_mm)]
    found = [Column(tuple(c)) for c in below if len(c) >= _FEWEST_IN_COLUMN]
    found = [column for column in found if not _numbers_items(column, numbered)]
    return _without_heads(found, printed)


def _below_its_head(column: list[Box], printed: Sequence[Box]) -> list[Box]:
    """A column without cells of another height over its head: in a spreadsheet the room for a name or a depot is as
    wide as the column of a day below it.
    """
    for n in range(1, min(_FEWEST_IN_COLUMN, len(column))):
        above, first = column[n - 1], column[n]
        headed = any(
            max(abs(cell.x_mm - first.x_mm), abs(cell.right_mm - first.right_mm)) < _TOUCH_MM
            and above.bottom_mm - _TOUCH_MM < cell.y_mm < cell.bottom_mm < first.y_mm + _TOUCH_MM
            for cell in printed
        )
        if headed and abs(above.h_mm - first.h_mm) > _SAME_MM:
            return column[n:]
    return column


def _without_heads(columns: Sequence[Column], printed: Sequence[Box]) -> list[Column]:
    """Columns without the cell on top whose head was not read: beside it stands the head of the next column.

    ``printed``: cells with words in them.
    """
    heads, kept = list(printed), list(columns)
    changed = True
    while changed:
        changed = False
        for n, column in enumerate(kept):
            top = column.cells[0]
            if len(column.cells) > _FEWEST_IN_COLUMN and any(
                _side_by_side(top, head) and any(_side_by_side(column.cells[1], other.cells[0]) for other in kept)
                for head in heads
                if any(stands_on(head, other.cells[0]) for other in kept if other is not column)
            ):
                kept[n], changed = Column(column.cells[1:]), True
                heads.append(top)
    return kept


def _side_by_side(a: Box, b: Box) -> bool:
    apart = min(abs(a.right_mm - b.x_mm), abs(b.right_mm - a.x_mm))
    return apart < _TOUCH_MM and abs(a.y_mm - b.y_mm) < _TOUCH_MM and abs(a.bottom_mm - b.bottom_mm) < _TOUCH_MM


def stands_on(above: Box, cell: Box) -> bool:
    """Whether a table's cell lies right over another of the same width."""
    ends = abs(above.x_mm - cell.x_mm), abs(above.right_mm - cell.right_mm), abs(above.bottom_mm - cell.y_mm)
    return max(ends) < _TOUCH_MM


def _numbers_items(column: Column, numbered: Sequence[Box]) -> bool:
    """Whether numbers are printed in some of the column's cells: then the others' were not read."""
    first, last = column.cells[0], column.cells[-1]
    among = [
        cell
        for cell in numbered
        if abs(cell.centre_mm[0] - column.x_mm) < _SAME_MM
        and abs(cell.w_mm - first.w_mm) < _SAME_MM
        and first.y_mm - _FURTHEST_DOWN_MM < cell.y_mm < last.bottom_mm + _FURTHEST_DOWN_MM
    ]
    return len(among) >= _FEWEST_NUMBERED


_FURTHEST_DOWN_MM = 32.0  # a heading between two parts of a list takes as much


def _innermost(cells: Sequence[Box]) -> list[Box]:
    """Without the cells of a table that boxes are printed in: the boxes are the places."""
    return [c for c in cells if not any(o is not c and o.w_mm < _IN_CELL * c.w_mm and c.contains(o) for o in cells)]


def _slack(above: Box, cell: Box, cells: Sequence[Box]) -> float:
    """By how much their middles may differ: boxes that touch no other were set, or drawn, one by one."""
    alone = max(above.w_mm, above.h_mm, cell.w_mm, cell.h_mm) <= _LARGEST_ALONE_MM and not any(
        o is not c and o.grown(_TOUCH_MM).overlaps(c) for c in (above, cell) for o in cells
    )
    return _ALONE_MM if alone else _SAME_MM


def _goes_under(above: Box, cell: Box, slack: float) -> bool:
    return (
        abs(above.centre_mm[0] - cell.centre_mm[0]) < slack
        and abs(above.w_mm - cell.w_mm) < _SAME_MM
        and abs(above.h_mm - cell.h_mm) < max(_SAME_MM, 0.35 * above.h_mm)
        and -_TOUCH_MM < cell.y_mm - above.bottom_mm < _FURTHEST_DOWN_MM
    )


def rules_to_tick_on(
    rules: Sequence[FoundRule], cells: Sequence[Box], words: Sequence[FoundWord], says: Callable[[str], str | None]
) -> list[Column]:
    """Columns of short rules of one length under each other, each with an item's words right after it, or an answer's
    word right before. ``cells``: whose lower edges are none of them. ``says``: what answer a word is, if any.
    """
    short = [
        rule.box_mm
        for rule in sorted(rules, key=lambda r: r.box_mm.y_mm)
        if _TICK_RULE_MM[0] <= rule.box_mm.w_mm <= _TICK_RULE_MM[1]
        and _bordering(rule.box_mm, cells) < _IS_BORDER * rule.box_mm.w_mm
        and (_word_after(rule.box_mm, words) or _answer_before(rule.box_mm, words, says))
    ]
    stacks: list[list[Box]] = []
    for rule in short:
        home = next((s for s in stacks if _goes_on_below(s[-1], rule)), None)
        if home is None:
            stacks.append([rule])
        else:
            home.append(rule)
    columns = []
    for stack in (s for s in stacks if len(s) >= _FEWEST_TICK_RULES):
        pitch = min(b.y_mm - a.y_mm for a, b in pairwise(stack))
        high = min(pitch, _TICK_ROOM_MM)
        columns.append(Column(tuple(Box(r.x_mm, r.centre_mm[1] - high, r.w_mm, high) for r in stack)))
    return sorted(columns, key=lambda column: column.x_mm)


def _word_after(rule: Box, words: Sequence[FoundWord]) -> bool:
    return any(
        -0.5 < word.box_mm.x_mm - rule.right_mm < _TICK_GAP_MM
        and word.box_mm.y_mm < rule.centre_mm[1] < word.box_mm.bottom_mm + 1.5
        and any(sign.isalnum() for sign in word.text)
        for word in words
    )


def _answer_before(rule: Box, words: Sequence[FoundWord], says: Callable[[str], str | None]) -> bool:
    return any(
        -0.5 < rule.x_mm - word.box_mm.right_mm < _TICK_GAP_MM
        and word.box_mm.y_mm < rule.centre_mm[1] < word.box_mm.bottom_mm + 1.5
        and says(word.text) is not None
        for word in words
    )


def _goes_on_below(above: Box, rule: Box) -> bool:
    ends = abs(above.x_mm - rule.x_mm), abs(above.right_mm - rule.right_mm)
    return max(ends) < _TOUCH_MM and _TICK_PITCH_MM[0] < rule.y_mm - above.y_mm < _TICK_PITCH_MM[1]


def writing_rules(rules: Sequence[FoundRule], cells: Sequence[Box]) -> list[FoundRule]:
    """Rules that are no cell's border, long enough to write on, from the top."""
    return [
        rule
        for rule in sorted(rules, key=lambda r: (r.box_mm.y_mm, r.box_mm.x_mm))
        if rule.box_mm.w_mm >= _LEAST_RULE_MM and _bordering(rule.box_mm, cells) < _IS_BORDER * rule.box_mm.w_mm
    ]


def _bordering(rule: Box, cells: Sequence[Box]) -> float:
    """How much of a rule, in mm, is the upper or lower border of cells."""
    y = rule.centre_mm[1]
    spans = sorted(
        (max(c.x_mm, rule.x_mm), min(c.right_mm, rule.right_mm))
        for c in cells
        if min(abs(c.y_mm - y), abs(c.bottom_mm - y)) < _SAME_MM
    )
    covered, end = 0.0, float("-inf")
    for start, stop in spans:
        covered += max(0.0, stop - max(start, end))
        end = max(end, stop)
    return covered
