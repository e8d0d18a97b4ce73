"""What is filled in outside the check list: header fields, remarks, signatures, each by the label printed beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from scanform.adopt.combs import Comb
from scanform.adopt.found import FoundRule, FoundWord, text_of, whole_lines
from scanform.adopt.labels import asked_by, asks_remarks, order_of
from scanform.adopt.line_labels import (
    LABEL_GAP_MM,
    LEAST_LINE_ROOM_MM,
    MOST_LINE_ROOM_MM,
    caption,
    far_label,
    field_caption,
    labels_over,
    line_label,
    own_label,
)
from scanform.adopt.places import inside
from scanform.form import Box

__all__ = ["Room", "rooms_of"]

_LINE_ROOM_MM = 7.0  # written on a line with nothing printed over it
_CELL_MM = (12.0, 4.8)  # least width and height of a cell to write in
_ABOVE_MM = 6.5
_FAR_LABEL_MM = 45.0
_SAME_MM = 1.0
_EDGE_THROUGH = (0.1, 0.75)  # of a label's height, where the edge of its frame runs through it
_STACK_MM = (5.0, 13.0)  # from one line of a remarks block to the next
_HEADING_MARGIN_MM, _HEADING_INSET, _FEWEST_PROSE_LINES = 3.0, 0.3, 3


@dataclass(frozen=True)
class Room:
    """A place for free writing, or a comb, with its label (None if nothing is printed that could be one).

    ``of``: which line of its block it is, from 1; 0 for a room by itself. ``block`` tells blocks apart.
    """

    box_mm: Box
    label: FoundWord | None
    comb: Comb | None = None
    of: int = 0
    block: int = 0
    label_inside: bool = False


def rooms_of(
    rules: Sequence[FoundRule],
    cells: Sequence[Box],
    combs: Sequence[Comb],
    lines: Sequence[FoundWord],
    list_blocks: Sequence[Box],
) -> list[Room]:
    """Rooms on writing lines, in cells and in combs, from the top.

    ``lines``: printed phrases that nothing explains yet. ``list_blocks``: what the check list takes up; a rule there
    with no label before it parts two items.
    """
    rooms = [_comb_room(comb, lines) for comb in combs]
    rooms += _cell_rooms([cell for cell in cells if not _lined(cell, rules)], lines)
    labelled = [room.label for room in rooms if room.label is not None]
    free = [line for line in lines if not any(line is label for label in labelled)]
    rules = [
        rule
        for rule in rules
        if line_label(rule.box_mm, free) is not None or not any(rule.box_mm.overlaps(block) for block in list_blocks)
    ]
    rooms += _line_rooms(rules, free, [room.box_mm for room in rooms])
    return _line_by_line(rooms)


def _line_by_line(rooms: Sequence[Room]) -> list[Room]:
    """From the top, and from the left those that stand on one line, a hair higher or lower."""
    lines: list[list[Room]] = []
    for room in sorted(rooms, key=lambda r: r.box_mm.bottom_mm):
        if lines and room.box_mm.bottom_mm - lines[-1][0].box_mm.bottom_mm < _SAME_MM:
            lines[-1].append(room)
        else:
            lines.append([room])
    lines.sort(key=lambda line: min(room.box_mm.y_mm for room in line))
    return [room for line in lines for room in sorted(line, key=lambda r: r.box_mm.x_mm)]


def _lined(cell: Box, rules: Sequence[FoundRule]) -> bool:
    """Whether a frame has lines to write on in it: they are the rooms, then."""
    inner = cell.grown(-_SAME_MM)
    return sum(inner.contains(rule.box_mm) for rule in rules) > 1


def _comb_room(comb: Comb, lines: Sequence[FoundWord]) -> Room:
    box = comb.box_mm
    beside = _left_of(box, lines, LABEL_GAP_MM)
    above, under = _above(box, lines), caption(box, lines)
    # A comb's label may stand under it; what asks for something known is it.
    asking = next(
        (near for near in (beside, above, under) if near is not None and asked_by(order_of(near.text)[1])), None
    )
    return Room(box, asking or beside or above or under, comb)


def _left_of(box: Box, lines: Sequence[FoundWord], within_mm: float) -> FoundWord | None:
    beside = [
        line
        for line in lines
        if -1.5 < box.x_mm - line.box_mm.right_mm < within_mm
        and box.y_mm - 1.5 < line.box_mm.centre_mm[1] < box.bottom_mm + 1.5
    ]
    return max(beside, key=lambda line: line.box_mm.right_mm, default=None)


def _above(box: Box, lines: Sequence[FoundWord]) -> FoundWord | None:
    over = [
        line
        for line in lines
        if -0.8 < box.y_mm - line.box_mm.bottom_mm < _ABOVE_MM
        and line.box_mm.x_mm < box.right_mm
        and line.box_mm.right_mm > box.x_mm
        and line.box_mm.x_mm > box.x_mm - 3
    ]
    return max(over, key=lambda line: line.box_mm.bottom_mm, default=None)


def _cell_rooms(cells: Sequence[Box], lines: Sequence[FoundWord]) -> list[Room]:
    least_w, least_h = _CELL_MM
    rooms = []
    large = [cell for cell in cells if cell.w_mm >= least_w and cell.h_mm >= least_h]
    # A frame round everything is no room: it holds other cells.
    large = [cell for cell in large if not any(o is not cell and cell.grown(0.5).contains(o) for o in cells)]
    for block, stack in enumerate(_stacks(large, cells, lines), start=1):
        label = _above_stack(stack[0], cells, lines)
        if label is not None:
            rooms += [Room(cell, label, of=line, block=-block) for line, cell in enumerate(stack, start=1)]
            large = [cell for cell in large if cell not in stack and not _stands_on(cell, stack[0])]
    for cell in large:
        set_in = _label_in_edge(cell, lines)
        if set_in is not None:
            rooms.append(Room(cell, set_in))
            continue
        own = inside(cell, lines)
        if not own:
            rooms.append(Room(cell, _cell_label(cell, cells, lines)))
            continue
        if _is_heading(cell, own):
            continue
        label = _one_label(own)
        if _has_room(cell, label.box_mm) and not _labels_next(cell, cells, lines):
            rooms.append(Room(cell, label, label_inside=True))
    return rooms


def _label_in_edge(cell: Box, lines: Sequence[FoundWord]) -> FoundWord | None:
    """The label that is set into the upper edge of its frame."""
    low, high = _EDGE_THROUGH
    return next(
        (
            line
            for line in lines
            if low < (cell.y_mm - line.box_mm.y_mm) / line.box_mm.h_mm < high
            and cell.x_mm < line.box_mm.x_mm
            and line.box_mm.right_mm < cell.right_mm
        ),
        None,
    )


def _stacks(large: Sequence[Box], cells: Sequence[Box], lines: Sequence[FoundWord]) -> list[list[Box]]:
    """Empty cells of one width under each other, none with words before it: the lines of one block."""
    stacks: list[list[Box]] = []
    for cell in sorted(large, key=lambda c: c.y_mm):
        label = _label_before(cell, cells, lines)
        if (
            inside(cell, lines)
            or _label_in_edge(cell, lines)
            or (label is not None and not label.text.strip(" .)").isdecimal())
        ):
            continue
        home = next((stack for stack in stacks if _stands_on(stack[-1], cell)), None)
        if home is None:
            stacks.append([cell])
        else:
            home.append(cell)
    return [stack for stack in stacks if len(stack) > 1]


def _stands_on(above: Box, cell: Box) -> bool:
    ends = abs(above.x_mm - cell.x_mm), abs(above.right_mm - cell.right_mm), abs(above.bottom_mm - cell.y_mm)
    return max(ends) < _SAME_MM


def _above_stack(first: Box, cells: Sequence[Box], lines: Sequence[FoundWord]) -> FoundWord | None:
    """The heading in the cell that the stack begins under, else the print right over it."""
    held = next((own for cell in cells if _stands_on(cell, first) and (own := inside(cell, lines))), None)
    return _one_label(held) if held else _above(first, lines)


def _one_label(words: Sequence[FoundWord]) -> FoundWord:
    return words[0] if len(words) == 1 else FoundWord(text_of(words), _union(words))


def _union(words: Sequence[FoundWord]) -> Box:
    whole = words[0].box_mm
    for word in words[1:]:
        whole = whole.union(word.box_mm)
    return whole


def _cell_label(cell: Box, cells: Sequence[Box], lines: Sequence[FoundWord]) -> FoundWord | None:
    """The print in the cell to its left, or beside or above it."""
    return _label_before(cell, cells, lines) or _above(cell, lines) or _far_before(cell, cells, lines)


def _far_before(cell: Box, cells: Sequence[Box], lines: Sequence[FoundWord]) -> FoundWord | None:
    """Print far to the left on the cell's level with nothing between, as where labels have a column of their own."""
    label = _left_of(cell, lines, _FAR_LABEL_MM)
    if label is None:
        return None
    between = Box(label.box_mm.right_mm, cell.centre_mm[1], max(cell.x_mm - label.box_mm.right_mm, 0.01), 0.01)
    held = any(other.grown(0.1).contains(label.box_mm) for other in cells)
    return None if held or any(other is not cell and other.overlaps(between) for other in cells) else label


def _label_before(cell: Box, cells: Sequence[Box], lines: Sequence[FoundWord]) -> FoundWord | None:
    for other in cells:
        if abs(other.right_mm - cell.x_mm) < _SAME_MM and abs(other.centre_mm[1] - cell.centre_mm[1]) < _SAME_MM:
            own = inside(other, lines)
            if own:
                return _one_label(own)
    return _left_of(cell, lines, LABEL_GAP_MM)


def _is_heading(cell: Box, own: Sequence[FoundWord]) -> bool:
    """Whether a cell's print is a title block, centred or in many lines, and no label for the rest of the cell."""
    box = _union(own)
    left, right = box.x_mm - cell.x_mm, cell.right_mm - box.right_mm
    centred = min(left, right) > _HEADING_MARGIN_MM and abs(left - right) < max(2.0, 0.15 * cell.w_mm)
    inset = left > _HEADING_INSET * cell.w_mm
    return len(whole_lines(own)) >= _FEWEST_PROSE_LINES or ((centred or inset) and asked_by(text_of(own)) is None)


def _has_room(cell: Box, label: Box) -> bool:
    """Whether there is room to write beside or under a label in its cell."""
    return cell.bottom_mm - label.bottom_mm >= _CELL_MM[1] or cell.right_mm - label.right_mm >= _CELL_MM[0]


def _labels_next(cell: Box, cells: Sequence[Box], lines: Sequence[FoundWord]) -> bool:
    """Whether the cell's print is the label of an empty cell to its right, or the heading of a higher one under it."""
    under = [other for other in cells if _stands_on(cell, other) and other.h_mm > cell.h_mm]
    return any(not inside(other, lines) for other in under) or any(
        abs(other.x_mm - cell.right_mm) < _SAME_MM
        and abs(other.centre_mm[1] - cell.centre_mm[1]) < _SAME_MM
        and other.w_mm >= _CELL_MM[0]
        and not inside(other, lines)
        for other in cells
    )


def _line_rooms(rules: Sequence[FoundRule], lines: Sequence[FoundWord], taken: Sequence[Box]) -> list[Room]:
    rooms: list[Room] = []
    left = list(rules)
    over = labels_over([rule.box_mm for rule in rules if line_label(rule.box_mm, lines) is None], lines)
    while left:
        rule = left.pop(0)
        label = line_label(rule.box_mm, lines)
        if label is None and own_label(rule.box_mm, lines, over) is None:
            label = far_label(rule.box_mm, [other.box_mm for other in rules], lines)
        stack = [rule]
        if label is None or asks_remarks(label.text):
            for lower in list(left):
                own = (
                    line_label(lower.box_mm, lines)
                    or own_label(lower.box_mm, lines, over)
                    or far_label(lower.box_mm, [other.box_mm for other in rules], lines)
                )
                if (
                    own is None
                    and (over or field_caption(stack[-1].box_mm, lines) is None)
                    and _under(stack[-1].box_mm, lower.box_mm)
                ):
                    stack.append(lower)
                    left.remove(lower)
        room = _over_line(rule.box_mm, lines, taken)
        if label is None:
            above, below = _above(room, lines), caption(rule.box_mm, lines)
            # A lone line with nothing before it is a heading's ornament, unless what is by it asks for something.
            own = own_label(rule.box_mm, lines, over)
            label = own or next((near for near in (below, above) if near is not None and asked_by(near.text)), None)
            if label is None and len(stack) < 2:
                continue
            label = label or above
        if len(stack) == 1 and not (label is not None and asks_remarks(label.text)):
            rooms.append(Room(room, label))
            continue
        block = len(rooms) + 1
        rooms.append(Room(room, label, of=1, block=block))
        for number, (before, lower) in enumerate(pairwise(stack), start=2):
            lower_room = _over_line(lower.box_mm, lines, taken, before.box_mm)
            rooms.append(Room(lower_room, label, of=number, block=block))
    return rooms


def _under(above: Box, rule: Box) -> bool:
    """Whether a rule is the next line of the block above it; the first may be shorter, its label standing before it."""
    pitch = rule.y_mm - above.y_mm
    return _STACK_MM[0] < pitch < _STACK_MM[1] and abs(rule.right_mm - above.right_mm) < 3 * _SAME_MM


def _over_line(rule: Box, lines: Sequence[FoundWord], taken: Sequence[Box], before: Box | None = None) -> Box:
    """The room over a line: up to the line before it, or to print or cells above it, 9 mm at most."""
    y = rule.centre_mm[1]
    high = _LINE_ROOM_MM if before is None else min(y - before.centre_mm[1], MOST_LINE_ROOM_MM)
    for box in [*(line.box_mm for line in lines), *taken]:
        if box.x_mm < rule.right_mm and box.right_mm > rule.x_mm + 1 and y - _LINE_ROOM_MM < box.bottom_mm < y - 1:
            high = min(high, max(y - box.bottom_mm, LEAST_LINE_ROOM_MM))
    return Box(rule.x_mm, y - high, rule.w_mm, high)
