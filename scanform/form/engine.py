"""The layout engine: a template and a paper size in, millimetre geometry out, or one sentence why it does not fit.

The sheet is built top to bottom as blocks; each block is a function that takes the drawing board and the height
where it starts, and returns the height where it ends. Here is the sheet of one day; :mod:`scanform.form.weekgrid` has
the sheet of a week.
"""

from __future__ import annotations

from functools import lru_cache

from scanform.errors import LayoutError
from scanform.form import blocks
from scanform.form.adopted import AdoptedTemplate, adopted_layout
from scanform.form.board import CELL_H_MM, CELL_W_MM, Board
from scanform.form.checklist import check_list
from scanform.form.clearance import check_clearance
from scanform.form.geometry import Box
from scanform.form.layout import Layout, Paper
from scanform.form.paper import (
    CODE_QUIET_MM,
    CODE_SIDE_MM,
    MARK_SIDE_MM,
    registration_marks,
)
from scanform.form.template import Template
from scanform.form.weekgrid import week_page

__all__ = ["lay_out"]

_LEFT_MM = 20.0  # clear of every filing hole on the left
_RIGHT_MARGIN_MM = 16.0  # clear of the marks in the right margin
_TOP_MM = 17.0
_OPEN_ROWS = 3


@lru_cache(maxsize=64)
def lay_out(template: Template, paper: Paper) -> Layout:
    """Lay the template out on one page; an adopted form lies as it was printed, on its own paper alone.

    Raises LayoutError, naming the template and the block, if anything overlaps, leaves the printable area, or
    comes too near a filing hole, a staple or a registration mark.
    """
    if isinstance(template, AdoptedTemplate):
        return _as_it_is(template, paper)
    if template.covers == "month":
        raise LayoutError(
            f"Template '{template.name}', key 'covers': sheets are printed for a day or a week, not for a month; make "
            "it one of these two."
        )
    width, height = paper.size_mm
    board = Board(template.name, _LEFT_MM, width - _RIGHT_MARGIN_MM)
    code_box = Box(board.right_mm - CODE_SIDE_MM - CODE_QUIET_MM, _TOP_MM + CODE_QUIET_MM, CODE_SIDE_MM, CODE_SIDE_MM)
    bottom = height - 7.0 - MARK_SIDE_MM
    serial_box = Box(board.left_mm + MARK_SIDE_MM + 4, bottom + 2.0, width - 40 - 2 * MARK_SIDE_MM - 8, 4.0)

    blocks.title(board, template, paper)
    head_bottom = code_box.bottom_mm + CODE_QUIET_MM
    head_right = code_box.x_mm - CODE_QUIET_MM - 1.0
    day_heads: list[Box] = []
    if template.covers == "week":
        open_lines, day_heads = week_page(board, template, _TOP_MM + 3.2, head_right, head_bottom, bottom)
    else:
        open_lines = _day_page(board, template, head_right, head_bottom, bottom)

    layout = Layout(
        template=template,
        paper=paper,
        width_mm=width,
        height_mm=height,
        fields=tuple(board.fields),
        marks=registration_marks(paper),
        lines=tuple(board.lines),
        words=tuple(board.words),
        polygons=tuple(board.polygons),
        code_box_mm=code_box,
        serial_box_mm=serial_box,
        open_lines_mm=tuple(open_lines),
        day_heads_mm=tuple(day_heads),
    )
    check_clearance(layout)
    return layout


def _as_it_is(template: AdoptedTemplate, paper: Paper) -> Layout:
    if paper != template.paper:
        raise LayoutError(
            f"Template '{template.name}' is a form that was printed elsewhere, on paper of {template.width_mm:.0f} x "
            f"{template.height_mm:.0f} mm; it lies on no other, so leave --paper out."
        )
    return adopted_layout(template)


def _day_page(board: Board, template: Template, head_right: float, head_bottom: float, bottom: float) -> list[Box]:
    """Everything between title and serial; returns the lines for open defects."""
    y = max(_header(board, template, head_right), head_bottom)
    y, open_lines = blocks.still_open(board, y, _OPEN_ROWS)
    foot_top = bottom - 1.0 - blocks.foot_height(board, template)
    spare = foot_top - check_list(board, template, y, foot_top)
    pitch = blocks.roomier_pitch(template, spare)
    y = foot_top - (pitch - blocks.DEFECT_PITCH_MM) * template.defect_lines
    item_number = blocks.LeadingComb("item", 2, "Item no.")
    y = blocks.defects(board, template, y, pitch, (item_number,), "Defects: one a line, with the item's number")
    y = blocks.fit_for_use(board, y)
    y = blocks.workshop(board, y)
    blocks.caution(board, y)
    return open_lines


def _header(board: Board, template: Template, right_mm: float) -> float:
    y = _TOP_MM + 3.2
    gap = 2.4
    x = board.left_mm
    x = board.comb("unit", "alnum", x, y, (template.unit_cells,), gap, label="Unit number")
    room_left = right_mm - x - CELL_W_MM * (8 + template.hour_cells + 1) - 3 * gap
    if room_left < 4:
        raise LayoutError(
            f"Template '{template.name}', key 'unit_cells': unit, date and hours need {4 - room_left:.0f} mm more than "
            "the page is wide; use fewer unit_cells or hour_cells."
        )
    x = board.comb("date", "digits", x + room_left / 2, y, blocks.DATE_GROUPS, gap, label="Date: year, month, day")
    board.comb(
        "hours",
        "digits",
        right_mm - CELL_W_MM * (template.hour_cells + 1) - gap,
        y,
        (template.hour_cells, 1),
        gap,
        label="Hour meter (h)",
        point=True,
    )
    y += CELL_H_MM + 4.2
    return blocks.operator_and_signature(board, y, right_mm, "I looked this machine over. Signature")
