"""The check list's block: stages of the walk with their items, in two columns of three answer boxes."""

from __future__ import annotations

from scanform.errors import LayoutError
from scanform.form import blocks
from scanform.form.board import Board
from scanform.form.geometry import Box
from scanform.form.layout import FieldKind
from scanform.form.template import Item, Template

__all__ = ["ANSWERS", "check_list"]

ANSWERS = ("ok", "defect", "na")
_HEADINGS = {"ok": "OK", "defect": "Defect", "na": "N/A"}
_BOX_MM = 5.0
_PITCH_X_MM = 8.4
_PITCH_Y_MM = 7.0  # DESIGN: a 5 mm box needs a pitch of at least 7 mm for a gloved hand
_MOST_PITCH_Y_MM = 8.6
_HEADING_MM = 3.6
_STAGE_MM = 4.4
_GUTTER_MM = 5.0

Row = str | Item  # a stage's title, or an item


def check_list(board: Board, template: Template, top: float, bottom: float) -> float:
    """Draw all items between ``top`` and ``bottom``, spread over the room there is; returns where it ends."""
    top += 1.6
    columns = _two_columns(template)
    pitch = min(_pitch(column, bottom - top - _HEADING_MM) for column in columns)
    if pitch < _PITCH_Y_MM:
        longest = max(columns, key=_height_at_least)
        short_by = _height_at_least(longest) - (bottom - top - _HEADING_MM)
        raise LayoutError(
            f"Template '{template.name}', key 'walk': the check list is {short_by:.0f} mm longer than there is room "
            f"for; take out {int(short_by // _PITCH_Y_MM) + 1} items a column, a stage, or a defect line."
        )
    column_mm = (board.width_mm - _GUTTER_MM) / 2
    board.diamond(board.left_mm + 1.3, top + 1.7, 1.25)
    board.print_line(board.left_mm + 3.4, top + 2.6, "safety-critical. Mark one box an item.", 6.5, 52)
    board.print_line(
        board.left_mm + column_mm + _GUTTER_MM,
        top + 2.6,
        "Wrong box? Scribble it out, mark the right one.",
        6.5,
        56,
    )
    ends = []
    for n, column in enumerate(columns):
        left = board.left_mm + n * (column_mm + _GUTTER_MM)
        ends.append(_column(board, column, left, left + column_mm, top, min(pitch, _MOST_PITCH_Y_MM)))
    return max(ends)


def _two_columns(template: Template) -> tuple[list[Row], list[Row]]:
    """Split the walk in two runs as even as may be, in walking order; a stage that is cut gets its title again."""
    rows: list[Row] = []
    stage = ""
    for item in template.items:
        if item.stage != stage:
            rows.append(item.stage)
            stage = item.stage
        rows.append(item)

    def split(at: int) -> tuple[list[Row], list[Row]]:
        left, right = rows[:at], rows[at:]
        if right and isinstance(right[0], Item) and isinstance(rows[at - 1], Item):
            right = [f"{right[0].stage} (continued)", *right]
        return left, right

    # A title must not stand alone at a column's foot.
    places = [at for at in range(1, len(rows) + 1) if isinstance(rows[at - 1], Item)]
    return split(min(places, key=lambda at: max(_height_at_least(side) for side in split(at))))


def _height_at_least(column: list[Row]) -> float:
    return sum(_STAGE_MM if isinstance(row, str) else _PITCH_Y_MM for row in column)


def _pitch(column: list[Row], room: float) -> float:
    items = sum(isinstance(row, Item) for row in column)
    stages = len(column) - items
    return (room - stages * _STAGE_MM) / items if items else float("inf")


def _column(board: Board, column: list[Row], left: float, right: float, top: float, pitch: float) -> float:
    centres = [right - _BOX_MM / 2 - 0.6 - _PITCH_X_MM * n for n in (2, 1, 0)]
    for answer, x in zip(ANSWERS, centres, strict=True):
        board.print_centred(x, top + 2.6, _HEADINGS[answer], 6.5, bold=True)
    y = top + _HEADING_MM
    text_right = centres[0] - _BOX_MM / 2 - 1.2
    for row in column:
        if isinstance(row, str):
            board.print_line(left, y + 3.3, row, 7.2, text_right - left, bold=True)
            y += _STAGE_MM
            continue
        board.rule(left, y, right, y, 0.1, grey=0.7)
        _item(board, row, left, text_right, y, pitch, centres)
        y += pitch
    return y


def _item(
    board: Board, item: Item, left: float, text_right: float, y: float, pitch: float, centres: list[float]
) -> None:
    middle = y + pitch / 2
    blocks.item_print(board, item, left, middle, text_right)
    boxes = [
        (answer, Box(x - _BOX_MM / 2, middle - _BOX_MM / 2, _BOX_MM, _BOX_MM))
        for answer, x in zip(ANSWERS, centres, strict=True)
    ]
    board.tick_boxes(f"item.{item.name}", FieldKind.CHOICE, boxes, label=item.text, critical=item.critical)
