"""The layout engine: a template and a paper size in, millimetre geometry out, or one sentence why it does not fit.

The sheet is built top to bottom as blocks; each block is a function that takes the drawing board and the height
where it starts, and returns the height where it ends.
"""

from __future__ import annotations

from functools import lru_cache

from scanform.errors import LayoutError
from scanform.form.board import CELL_H_MM, CELL_W_MM, Board
from scanform.form.checklist import check_list
from scanform.form.clearance import check_clearance
from scanform.form.geometry import Box
from scanform.form.layout import FieldKind, Layout, Paper
from scanform.form.paper import (
    CODE_QUIET_MM,
    CODE_SIDE_MM,
    MARK_SIDE_MM,
    registration_marks,
)
from scanform.form.template import Template
from scanform.form.typeface import width_mm, wrapped

__all__ = ["CAUTION", "FIT_ANSWERS", "REPAIR_ANSWERS", "lay_out"]

CAUTION = (
    "A machine with a safety defect stays parked until a competent person has put it right. Local law, the maker's "
    "manual and the site's rules come first; this sheet replaces none of them."
)
FIT_ANSWERS = ("fit", "parked")
REPAIR_ANSWERS = ("repaired", "not-needed")

_LEFT_MM = 20.0  # clear of every filing hole on the left
_RIGHT_MARGIN_MM = 16.0  # clear of the marks in the right margin
_TOP_MM = 17.0
_DATE_GROUPS = (4, 2, 2)  # year, month, day
_OPEN_ROWS, _OPEN_COLUMNS, _OPEN_PITCH_MM = 3, 2, 3.9
_DEFECT_PITCH_MM = 8.2
_MOST_DEFECT_PITCH_MM = 9.6
_BOX_MM = 5.0


@lru_cache(maxsize=64)
def lay_out(template: Template, paper: Paper) -> Layout:
    """Lay the template out on one page.

    Raises LayoutError, naming the template and the block, if anything overlaps, leaves the printable area, or
    comes too near a filing hole, a staple or a registration mark.
    """
    width, height = paper.size_mm
    board = Board(template.name, _LEFT_MM, width - _RIGHT_MARGIN_MM)
    code_box = Box(board.right_mm - CODE_SIDE_MM - CODE_QUIET_MM, _TOP_MM + CODE_QUIET_MM, CODE_SIDE_MM, CODE_SIDE_MM)
    bottom = height - 7.0 - MARK_SIDE_MM
    serial_box = Box(board.left_mm + MARK_SIDE_MM + 4, bottom + 2.0, width - 40 - 2 * MARK_SIDE_MM - 8, 4.0)

    _title(board, template, paper)
    y = _header(board, template, code_box.x_mm - CODE_QUIET_MM - 1.0)
    y = max(y, code_box.bottom_mm + CODE_QUIET_MM)
    y, open_lines = _still_open(board, y)
    foot_top = bottom - 1.0 - _foot_height(board, template)
    spare = foot_top - check_list(board, template, y, foot_top)
    # Room that the check list leaves goes to the writing lines below it.
    pitch = min(_MOST_DEFECT_PITCH_MM, _DEFECT_PITCH_MM + spare / template.defect_lines)
    y = _defects(board, template, foot_top - (pitch - _DEFECT_PITCH_MM) * template.defect_lines, pitch)
    y = _fit_for_use(board, y)
    y = _workshop(board, y)
    _caution(board, y)

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
    )
    check_clearance(layout)
    return layout


def _title(board: Board, template: Template, paper: Paper) -> None:
    left = board.left_mm + MARK_SIDE_MM + 3
    room = paper.size_mm[0] - 20 - MARK_SIDE_MM - 3 - left
    board.print_line(left, 11.0, template.title, 13, room, bold=True)
    about = f"{template.machines}. Walk once round: ground level first, cab last."
    if template.rules:
        about = f"{template.machines}. For {'; '.join(template.rules)}."
    board.print_line(left, 14.6, about, 6.5, room)


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
    x = board.comb("date", "digits", x + room_left / 2, y, _DATE_GROUPS, gap, label="Date: year, month, day")
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
    middle = board.left_mm + (right_mm - board.left_mm) * 0.52
    board.writing_box(
        "operator",
        FieldKind.TEXT,
        Box(board.left_mm, y, middle - board.left_mm - 3, 8.5),
        "Operator (print name)",
    )
    board.writing_box(
        "signature",
        FieldKind.SIGNATURE,
        Box(middle, y, right_mm - middle, 8.5),
        "I looked this machine over. Signature",
    )
    return y + 8.5


def _still_open(board: Board, y: float) -> tuple[float, list[Box]]:
    """Room for the defects that earlier sheets of the unit left open; the list is filled in when a pad is printed."""
    y += 1.4
    board.print_line(board.left_mm, y + 2.4, "Still open on this unit", 7.5, 60, bold=True)
    column = board.width_mm / _OPEN_COLUMNS
    top = y + 3.4
    lines = [
        Box(board.left_mm + 1 + column * c, top + _OPEN_PITCH_MM * r, column - 2, _OPEN_PITCH_MM)
        for r in range(_OPEN_ROWS)
        for c in range(_OPEN_COLUMNS)
    ]
    bottom = top + _OPEN_ROWS * _OPEN_PITCH_MM
    for r in range(_OPEN_ROWS + 1):
        row_y = top + r * _OPEN_PITCH_MM
        board.rule(board.left_mm, row_y, board.right_mm, row_y, 0.15, grey=0.55)
    return bottom, lines


def _foot_height(board: Board, template: Template) -> float:
    return 5.0 + _DEFECT_PITCH_MM * template.defect_lines + 10.5 + 13.0 + 3.0 * len(_caution_lines(board))


def _defects(board: Board, template: Template, y: float, pitch: float) -> float:
    """Defect lines: the item's number, its words, and the workshop's answer at the end of the same line."""
    repair_left = board.right_mm - 25.0
    text_left = board.left_mm + 2 * CELL_W_MM + 2.5
    board.print_line(board.left_mm, y + 3.4, "Item no.", 6.5, 14)
    board.print_line(
        text_left,
        y + 3.4,
        "Defects: one a line, with the item's number",
        7.5,
        repair_left - text_left - 2,
        bold=True,
    )
    board.print_centred(repair_left + 6.0, y + 1.9, "Workshop:", 5.5)
    board.print_centred(repair_left + 6.0, y + 4.1, "repaired", 5.5)
    board.print_centred(repair_left + 18.5, y + 1.9, "repair not", 5.5)
    board.print_centred(repair_left + 18.5, y + 4.1, "needed", 5.5)
    y += 5.0
    for n in range(1, template.defect_lines + 1):
        top = y + (n - 1) * pitch
        h = pitch - 1.2
        board.comb(f"defect.{n}.item", "digits", board.left_mm, top, (2,), 0, height_mm=h)
        board.writing_box(f"defect.{n}", FieldKind.TEXT, Box(text_left, top, repair_left - text_left - 2, h), "")
        board.tick_boxes(
            f"defect.{n}.repair",
            FieldKind.DECISION,
            [
                (answer, Box(x - _BOX_MM / 2, top + (h - _BOX_MM) / 2, _BOX_MM, _BOX_MM))
                for answer, x in zip(REPAIR_ANSWERS, (repair_left + 6.0, repair_left + 18.5), strict=True)
            ],
        )
    return y + template.defect_lines * pitch


def _fit_for_use(board: Board, y: float) -> float:
    """What happens next: fit to use, or parked; and who was told."""
    y += 1.0
    box_y = y + 1.6
    first, second = board.left_mm + 19.0, board.left_mm + 43.0
    board.print_line(board.left_mm, box_y + 3.6, "Machine is", 7.5, 18, bold=True)
    board.tick_boxes(
        "fit",
        FieldKind.DECISION,
        [("fit", Box(first, box_y, _BOX_MM, _BOX_MM)), ("parked", Box(second, box_y, _BOX_MM, _BOX_MM))],
        critical=True,
    )
    board.print_line(first + _BOX_MM + 1.5, box_y + 3.4, "fit to use", 7, 18)
    board.print_line(second + _BOX_MM + 1.5, box_y + 3.4, "parked, not to be used", 7, 31)
    left = board.left_mm + 100.0
    board.print_line(left - 19, box_y + 3.6, "Who was told", 7, 19)
    board.writing_box("told", FieldKind.TEXT, Box(left, y + 0.6, board.right_mm - left, 8.0), "")
    return y + 9.5


def _workshop(board: Board, y: float) -> float:
    """The workshop's own block: date and signature that close the defects marked above."""
    y += 3.2
    board.print_line(board.left_mm, y + 2.8, "Workshop", 7.5, 22, bold=True)
    board.print_line(board.left_mm, y + 6.0, "closes the lines", 6, 22)
    board.print_line(board.left_mm, y + 8.4, "marked above", 6, 22)
    x = board.comb(
        "workshop.date",
        "digits",
        board.left_mm + 25,
        y,
        _DATE_GROUPS,
        2.4,
        height_mm=7.4,
        label="Date: year, month, day",
    )
    board.writing_box(
        "workshop.signature",
        FieldKind.SIGNATURE,
        Box(x + 5, y, board.right_mm - x - 5, 7.4),
        "Competent person: name and signature",
    )
    return y + 9.8


def _caution_lines(board: Board) -> list[str]:
    return wrapped(CAUTION, 6.5, board.width_mm, bold=True)


def _caution(board: Board, y: float) -> None:
    for n, line in enumerate(_caution_lines(board)):
        if width_mm(line, 6.5, bold=True) > board.width_mm:
            raise LayoutError(f"Template '{board.template_name}': the caution is wider than the page.")
        board.print_line(board.left_mm, y + 2.2 + 3.0 * n, line, 6.5, board.width_mm, bold=True)
