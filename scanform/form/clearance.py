"""Refuse a layout in which anything overlaps, leaves the printable area, or meets a hole, a staple or a mark."""

from __future__ import annotations

from itertools import combinations

from scanform.errors import LayoutError
from scanform.form.geometry import Box
from scanform.form.layout import Layout
from scanform.form.paper import (
    CODE_QUIET_MM,
    MARK_QUIET_MM,
    UNPRINTABLE_MARGIN_MM,
    far_hole_boxes,
    hole_boxes,
    staple_boxes,
)
from scanform.form.typeface import MM_PER_PT, width_mm

__all__ = ["check_clearance"]


def check_clearance(layout: Layout) -> None:
    """Raise LayoutError, naming the two things that meet, unless the layout is sound."""
    where = f"Template '{layout.template.name}' on {layout.paper.value}"
    margin = UNPRINTABLE_MARGIN_MM
    printable = Box(margin, margin, layout.width_mm - 2 * margin, layout.height_mm - 2 * margin)
    things = _fields(layout) + _machine_read(layout)

    for name, box in things + _print(layout):
        if not printable.contains(box):
            raise LayoutError(f"{where}: {name} leaves the printable area at {_place(box)}; make the template smaller.")
    for keep_clear, why in [(b, "a filing hole") for b in hole_boxes(layout.paper)] + [
        (b, "a staple") for b in staple_boxes(layout.paper)
    ]:
        for name, box in things + _print(layout):
            if keep_clear.overlaps(box):
                raise LayoutError(f"{where}: {name} lies where {why} may go, at {_place(keep_clear)}.")
    for mark in layout.marks:
        if any(hole.overlaps(mark.box_mm) for hole in far_hole_boxes(layout.paper)):
            raise LayoutError(f"{where}: registration mark {mark.identity} lies where a filing hole may go.")
    for (a_name, a), (b_name, b) in combinations(things, 2):
        if a.overlaps(b):
            raise LayoutError(
                f"{where}: {a_name} and {b_name} overlap at {_place(b)}; the template has too much on it."
            )
    for name, box in _print(layout):
        for other_name, other in things:
            if other.overlaps(box):
                raise LayoutError(f"{where}: {name} is printed over {other_name} at {_place(other)}; shorten it.")


def _fields(layout: Layout) -> list[tuple[str, Box]]:
    boxes: list[tuple[str, Box]] = []
    for field in layout.fields:
        if field.answers:
            boxes += [(f"box '{answer.answer}' of field '{field.id}'", answer.box_mm) for answer in field.answers]
        else:
            boxes.append((f"field '{field.id}'", field.box_mm))
    return boxes


def _machine_read(layout: Layout) -> list[tuple[str, Box]]:
    marks = [(f"registration mark {mark.identity}", mark.box_mm.grown(MARK_QUIET_MM)) for mark in layout.marks]
    return [
        *marks,
        ("the code with its quiet zone", layout.code_box_mm.grown(CODE_QUIET_MM)),
        ("the serial line", layout.serial_box_mm),
    ]


def _print(layout: Layout) -> list[tuple[str, Box]]:
    boxes = []
    for words in layout.words:
        # Height of lower-case print above its baseline: enough to catch words that run into a box.
        x_height = 0.55 * words.size_pt * MM_PER_PT
        box = Box(words.x_mm, words.y_mm - x_height, width_mm(words.text, words.size_pt, words.bold), x_height)
        boxes.append((f"the print '{words.text}'", box))
    return boxes


def _place(box: Box) -> str:
    return f"x {box.x_mm:.0f} mm, y {box.y_mm:.0f} mm"
