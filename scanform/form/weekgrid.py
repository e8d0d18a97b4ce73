"""The sheet of a week: items by seven days, one box for a written sign; hour meter and initials for each day."""

from __future__ import annotations

from itertools import pairwise

from scanform.errors import LayoutError
from scanform.form import blocks
from scanform.form.board import CELL_H_MM, CELL_W_MM, Board
from scanform.form.days import DAY_TITLES, DAYS
from scanform.form.geometry import Box
from scanform.form.layout import FieldKind
from scanform.form.template import Item, Template

__all__ = ["SIGN_BOX_MM", "week_page"]

SIGN_BOX_MM = 5.6  # 0.6 mm more than a box that is only ticked: the letters N/A have to go in
_PITCH_X_MM = 8.6
_WEEKEND_GAP_MM = 1.8  # so that the eye finds Saturday
_PITCH_Y_MM = 7.0  # DESIGN: a pitch of at least 7 mm for a gloved hand
_MOST_PITCH_Y_MM = 8.2
_HEAD_MM = 7.0
_STAGE_MM = 3.9
_INITIALS_MM = 8.2
_PANEL_GAP_MM = 4.2
_LEGEND_MM = 33.0
_METER_LEAST_MM = 11.9
_METER_MOST_MM = 13.6
_POINT_GAP_MM = 2.4
_OPEN_ROWS = 2
_DAYS_WIDE_MM = len(DAYS) * _PITCH_X_MM + _WEEKEND_GAP_MM


def week_page(
    board: Board, template: Template, top: float, head_right: float, head_bottom: float, bottom: float
) -> tuple[list[Box], list[Box]]:
    """Everything between title and serial; returns the lines for open defects, and where each day's date goes."""
    y = max(_header(board, template, top, head_right), head_bottom)
    y, open_lines = blocks.still_open(board, y, _OPEN_ROWS)
    foot_top = bottom - 1.0 - blocks.foot_height(board, template)
    y += 1.4
    panel_left = board.right_mm - CELL_W_MM * (template.hour_cells + 1) - _POINT_GAP_MM
    grid_bottom, heads = _grid(board, template, y, foot_top, panel_left - _PANEL_GAP_MM)
    _legend(board, panel_left, y)
    panel_bottom = _hour_meter(board, template, panel_left, y + _LEGEND_MM, max(grid_bottom, y + 120.0))
    if panel_bottom > foot_top:
        raise LayoutError(
            f"Template '{template.name}', key 'defect_lines': signs and hour meter for seven days need "
            f"{panel_bottom - foot_top:.0f} mm more than there is above the defect lines; use fewer defect_lines."
        )
    pitch = blocks.roomier_pitch(template, foot_top - max(grid_bottom, panel_bottom))
    y = foot_top - (pitch - blocks.DEFECT_PITCH_MM) * template.defect_lines
    leading = (blocks.LeadingComb("item", 2, "Item no."), blocks.LeadingComb("day", 1, "Day"))
    y = blocks.defects(board, template, y, pitch, leading, "Defects: one a line, with the item's number and the day's")
    y = blocks.fit_for_use(board, y)
    y = blocks.workshop(board, y)
    blocks.caution(board, y)
    return open_lines, heads


def _header(board: Board, template: Template, y: float, right_mm: float) -> float:
    gap = 2.4
    x = board.comb("unit", "alnum", board.left_mm, y, (template.unit_cells,), gap, label="Unit number")
    date_mm = CELL_W_MM * sum(blocks.DATE_GROUPS) + gap * (len(blocks.DATE_GROUPS) - 1)
    if right_mm - x - date_mm < 4:
        raise LayoutError(
            f"Template '{template.name}', key 'unit_cells': unit and date need {4 - (right_mm - x - date_mm):.0f} mm "
            "more than the page is wide; use fewer unit_cells."
        )
    left = max(x + 4, board.left_mm + (right_mm - board.left_mm) * 0.52)
    board.comb("date", "digits", left, y, blocks.DATE_GROUPS, gap, label="Week that begins on Monday: year, month, day")
    return blocks.operator_and_signature(
        board, y + CELL_H_MM + 4.2, right_mm, "This machine was looked over on each day signed for below. Signature"
    )


def _grid(board: Board, template: Template, top: float, bottom: float, right: float) -> tuple[float, list[Box]]:
    """Items, days and initials between ``top`` and ``bottom``; returns where it ends, and the days' date places."""
    stages = len({item.stage for item in template.items})
    items_mm = bottom - top - _HEAD_MM - stages * _STAGE_MM - _INITIALS_MM - 1.2
    pitch = items_mm / len(template.items)
    if pitch < _PITCH_Y_MM:
        short_by = _PITCH_Y_MM * len(template.items) - items_mm
        raise LayoutError(
            f"Template '{template.name}', key 'walk': the check list is {short_by:.0f} mm longer than there is room "
            f"for; take out {int(short_by // _PITCH_Y_MM) + 1} items, a stage, or a defect line."
        )
    pitch = min(pitch, _MOST_PITCH_Y_MM)
    days_left = right - _DAYS_WIDE_MM
    text_right = days_left - 1.6
    centres = [
        days_left + _PITCH_X_MM * (n + 0.5) + (_WEEKEND_GAP_MM if day in ("sat", "sun") else 0.0)
        for n, day in enumerate(DAYS)
    ]
    board.diamond(board.left_mm + 1.3, top + 1.5, 1.25)
    board.print_line(board.left_mm + 3.4, top + 2.4, "safety-critical", 6.5, text_right - board.left_mm - 3.4)
    board.print_line(board.left_mm, top + 6.2, "One sign a day in each box", 7.2, text_right - board.left_mm, bold=True)
    for number, (title, x) in enumerate(zip(DAY_TITLES, centres, strict=True), start=1):
        board.print_centred(x, top + 2.3, title, 7.5, bold=True)
        board.print_centred(x, top + 4.5, f"day {number}", 5.5)
    heads = [Box(x - _PITCH_X_MM / 2, top + 4.7, _PITCH_X_MM, _HEAD_MM - 4.7) for x in centres]
    y, stage = top + _HEAD_MM, ""
    for item in template.items:
        if item.stage != stage:
            stage = item.stage
            board.print_line(board.left_mm, y + 3.1, stage, 7.2, text_right - board.left_mm, bold=True)
            y += _STAGE_MM
        board.rule(board.left_mm, y, right, y, 0.1, grey=0.7)
        _item(board, item, y + pitch / 2, text_right, centres)
        y += pitch
    board.rule(board.left_mm, y, right, y, 0.1, grey=0.7)
    y += 1.0
    board.print_line(board.left_mm, y + 4.0, "Your initials, each day", 7.2, text_right - board.left_mm, bold=True)
    board.print_line(board.left_mm, y + 7.0, "you looked the machine over", 6.5, text_right - board.left_mm)
    for day, x in zip(DAYS, centres, strict=True):
        box = Box(x - _PITCH_X_MM / 2, y, _PITCH_X_MM, _INITIALS_MM)
        board.writing_box(f"initials.{day}", FieldKind.SIGNATURE, box, "")
    return y + _INITIALS_MM, heads


def _item(board: Board, item: Item, middle: float, text_right: float, centres: list[float]) -> None:
    blocks.item_print(board, item, board.left_mm, middle, text_right)
    for day, x in zip(DAYS, centres, strict=True):
        box = Box(x - SIGN_BOX_MM / 2, middle - SIGN_BOX_MM / 2, SIGN_BOX_MM, SIGN_BOX_MM)
        board.sign_box(f"item.{item.name}.{day}", box, label=item.text, critical=item.critical)


_SIGNS: tuple[tuple[tuple[tuple[float, float], ...], str], ...] = (
    # Strokes on a square of side 1, and what the sign says.
    (((0.10, 0.50), (0.40, 0.85), (0.95, 0.10)), "OK"),
    (((0.12, 0.12), (0.88, 0.88), (0.88, 0.12), (0.12, 0.88)), "defect: say what"),
    (((0.10, 0.50), (0.90, 0.50)), "or N/A: not fitted"),
)


def _legend(board: Board, left: float, top: float) -> None:
    """Which sign says what, as a pen would write it."""
    room = board.right_mm - left
    board.print_line(left, top + 2.6, "Signs", 7.5, room, bold=True)
    side = 4.0
    for n, (corners, says) in enumerate(_SIGNS):
        y = top + 4.6 + 5.6 * n
        strokes = [corners[:2], corners[2:]] if len(corners) == 4 else [corners]
        for stroke in strokes:
            for (x1, y1), (x2, y2) in pairwise(stroke):
                board.rule(left + 1 + side * x1, y + side * y1, left + 1 + side * x2, y + side * y2, 0.5, grey=0.0)
        board.print_line(left + 7.5, y + 3.1, says, 8, room - 7.5)
    board.print_line(left, top + 23.6, "Empty: not used that day", 6.5, room)
    board.print_line(left, top + 26.6, "Wrong sign? Strike it out and", 6.5, room)
    board.print_line(left, top + 29.4, "write the right one beside it.", 6.5, room)


def _hour_meter(board: Board, template: Template, left: float, top: float, bottom: float) -> float:
    """One comb a day, spread over the room there is."""
    room = board.right_mm - left
    board.print_line(left, top + 2.6, "Hour meter, each day (h)", 7.5, room, bold=True)
    top += 3.4
    pitch = min(max((bottom - top) / len(DAYS), _METER_LEAST_MM), _METER_MOST_MM)
    for n, (day, title) in enumerate(zip(DAYS, DAY_TITLES, strict=True)):
        board.comb(
            f"hours.{day}",
            "digits",
            left,
            top + pitch * n + 3.4,
            (template.hour_cells, 1),
            _POINT_GAP_MM,
            label=title,
            point=True,
        )
    return top + pitch * (len(DAYS) - 1) + 3.4 + CELL_H_MM
