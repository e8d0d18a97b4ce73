"""Where the label of a line to write on stands: before it, under it, or over the room on it."""

from __future__ import annotations

from collections.abc import Sequence

from scanform.adopt.found import FoundWord
from scanform.form import Box

__all__ = [
    "LABEL_GAP_MM",
    "LEAST_LINE_ROOM_MM",
    "MOST_LINE_ROOM_MM",
    "caption",
    "far_label",
    "field_caption",
    "labels_over",
    "line_label",
    "own_label",
]

LEAST_LINE_ROOM_MM, MOST_LINE_ROOM_MM = 4.0, 9.0
LABEL_GAP_MM = 12.0
_FAR_MM = 45.0
_ON_LINE_MM = 4.5
_CAPTION_MM, _LONGEST_CAPTIONED_MM = 4.5, 130.0
_SAME_MM = 1.0


def line_label(rule: Box, lines: Sequence[FoundWord]) -> FoundWord | None:
    """The print that ends where the line begins, on its level."""
    y = rule.centre_mm[1]
    before = [
        line
        for line in lines
        if -2.0 < rule.x_mm - line.box_mm.right_mm < LABEL_GAP_MM and abs(line.box_mm.bottom_mm - y) < _ON_LINE_MM
    ]
    return max(before, key=lambda line: line.box_mm.right_mm, default=None)


def far_label(rule: Box, rules: Sequence[Box], lines: Sequence[FoundWord]) -> FoundWord | None:
    """The print far to the left of a line, where labels have a column of their own, with nothing between them."""
    y = rule.centre_mm[1]
    before = [
        line
        for line in lines
        if LABEL_GAP_MM <= rule.x_mm - line.box_mm.right_mm < _FAR_MM and abs(line.box_mm.bottom_mm - y) < _ON_LINE_MM
    ]
    label = max(before, key=lambda line: line.box_mm.right_mm, default=None)
    if label is None:
        return None
    between = Box(label.box_mm.right_mm, y - _SAME_MM, rule.x_mm - label.box_mm.right_mm, 2 * _SAME_MM)
    return None if any(other is not rule and other.overlaps(between) for other in rules) else label


def caption(rule: Box, lines: Sequence[FoundWord]) -> FoundWord | None:
    """Small print under the line, as below signatures."""
    under = [
        line
        for line in lines
        if -0.5 < line.box_mm.y_mm - rule.bottom_mm < _CAPTION_MM
        and line.box_mm.x_mm > rule.x_mm - 2
        and line.box_mm.right_mm < rule.right_mm + 2
    ]
    return min(under, key=lambda line: line.box_mm.y_mm, default=None)


def field_caption(rule: Box, lines: Sequence[FoundWord]) -> FoundWord | None:
    """A caption that begins with its line, of a line that is no ornament across the page: the label of a field."""
    under = caption(rule, lines)
    if under is None or rule.w_mm > _LONGEST_CAPTIONED_MM or abs(under.box_mm.x_mm - rule.x_mm) > 2 * _SAME_MM:
        return None
    return under


def own_label(rule: Box, lines: Sequence[FoundWord], over: bool) -> FoundWord | None:
    """The label of a field over or under its line, as :func:`labels_over` says of the form."""
    return _field_heading(rule, lines) if over else field_caption(rule, lines)


def _field_heading(rule: Box, lines: Sequence[FoundWord]) -> FoundWord | None:
    """Print that begins with its line and stands over the room on it: the label of a field."""
    if rule.w_mm > _LONGEST_CAPTIONED_MM:
        return None
    high = [
        line
        for line in lines
        if abs(line.box_mm.x_mm - rule.x_mm) < 2 * _SAME_MM
        and LEAST_LINE_ROOM_MM < rule.y_mm - line.box_mm.bottom_mm < MOST_LINE_ROOM_MM + _SAME_MM
    ]
    return max(high, key=lambda line: line.box_mm.bottom_mm, default=None)


def labels_over(rules: Sequence[Box], lines: Sequence[FoundWord]) -> bool:
    """Whether this form's labels stand over their lines and not under them: more lines have one there, each its own."""
    above = {id(label) for rule in rules if (label := _field_heading(rule, lines)) is not None}
    under = {id(label) for rule in rules if (label := field_caption(rule, lines)) is not None}
    return len(above) > len(under)
