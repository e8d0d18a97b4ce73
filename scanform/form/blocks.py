"""The blocks that every kind of sheet has: title, open defects, defect lines, fit for use, workshop, caution.

Each is a function that takes the drawing board and the height where it starts, and returns the height where it ends.
"""

from __future__ import annotations

from typing import NamedTuple

from scanform.errors import LayoutError
from scanform.form.board import CELL_W_MM, Board
from scanform.form.geometry import Box
from scanform.form.layout import FieldKind, Paper
from scanform.form.paper import MARK_SIDE_MM
from scanform.form.template import Item, Template
from scanform.form.typeface import width_mm, wrapped

__all__ = [
    "CAUTION",
    "DATE_GROUPS",
    "DEFECT_PITCH_MM",
    "FIT_ANSWERS",
    "ITEM_NUMBER_MM",
    "ITEM_SIGN_MM",
    "REPAIR_ANSWERS",
    "LeadingComb",
    "caution",
    "defects",
    "fit_for_use",
    "foot_height",
    "item_print",
    "operator_and_signature",
    "roomier_pitch",
    "still_open",
    "title",
    "workshop",
]

CAUTION = (
    "A machine with a safety defect stays parked until a competent person has put it right. Local law, the maker's "
    "manual and the site's rules come first; this sheet replaces none of them."
)
FIT_ANSWERS = ("fit", "parked")
REPAIR_ANSWERS = ("repaired", "not-needed")
ITEM_NUMBER_MM = 5.2
ITEM_SIGN_MM = 3.4
_ITEM_PT = 8.0  # read in a dim cab

DATE_GROUPS = (4, 2, 2)  # year, month, day
DEFECT_PITCH_MM = 8.2
_MOST_DEFECT_PITCH_MM = 9.6
_OPEN_COLUMNS, _OPEN_PITCH_MM = 2, 3.9
_BOX_MM = 5.0


class LeadingComb(NamedTuple):
    """A comb at the head of each defect line: the end of its field's id, its cells, what is printed above."""

    end: str
    cells: int
    label: str


def operator_and_signature(board: Board, y: float, right_mm: float, signed: str) -> float:
    """Name and signature side by side; ``signed`` is what the signature stands for."""
    middle = board.left_mm + (right_mm - board.left_mm) * 0.52
    board.writing_box(
        "operator",
        FieldKind.TEXT,
        Box(board.left_mm, y, middle - board.left_mm - 3, 8.5),
        "Operator (print name)",
    )
    board.writing_box("signature", FieldKind.SIGNATURE, Box(middle, y, right_mm - middle, 8.5), signed)
    return y + 8.5


def title(board: Board, template: Template, paper: Paper) -> None:
    """The sheet's name, and which machines and rules it is for."""
    left = board.left_mm + MARK_SIDE_MM + 3
    room = paper.size_mm[0] - 20 - MARK_SIDE_MM - 3 - left
    board.print_line(left, 11.0, template.title, 13, room, bold=True)
    about = f"{template.machines}. Walk once round: ground level first, cab last."
    if template.rules:
        about = f"{template.machines}. For {'; '.join(template.rules)}."
    board.print_line(left, 14.6, about, 6.5, room)


def still_open(board: Board, y: float, rows: int) -> tuple[float, list[Box]]:
    """Room for the defects that earlier sheets of the unit left open; the list is filled in when a pad is printed."""
    y += 1.4
    board.print_line(board.left_mm, y + 2.4, "Still open on this unit", 7.5, 60, bold=True)
    column = board.width_mm / _OPEN_COLUMNS
    top = y + 3.4
    lines = [
        Box(board.left_mm + 1 + column * c, top + _OPEN_PITCH_MM * r, column - 2, _OPEN_PITCH_MM)
        for r in range(rows)
        for c in range(_OPEN_COLUMNS)
    ]
    bottom = top + rows * _OPEN_PITCH_MM
    for r in range(rows + 1):
        row_y = top + r * _OPEN_PITCH_MM
        board.rule(board.left_mm, row_y, board.right_mm, row_y, 0.15, grey=0.55)
    return bottom, lines


def foot_height(board: Board, template: Template) -> float:
    """Height of everything below the check list, with defect lines at their least pitch."""
    return 5.0 + DEFECT_PITCH_MM * template.defect_lines + 10.5 + 13.0 + 3.0 * len(_caution_lines(board))


def roomier_pitch(template: Template, spare_mm: float) -> float:
    """The defect lines' pitch when the check list leaves ``spare_mm``: that room goes to the writing lines."""
    return min(_MOST_DEFECT_PITCH_MM, DEFECT_PITCH_MM + spare_mm / template.defect_lines)


def defects(
    board: Board, template: Template, y: float, pitch: float, leading: tuple[LeadingComb, ...], heading: str
) -> float:
    """Defect lines: ``leading`` combs (the item's number first), words, and the workshop's answer at the end."""
    repair_left = board.right_mm - 25.0
    x, lefts = board.left_mm, []
    for comb in leading:
        board.print_line(x, y + 3.4, comb.label, 6.5, comb.cells * CELL_W_MM + 1.6)
        lefts.append(x)
        x += comb.cells * CELL_W_MM + 2.5
    text_left = x
    board.print_line(
        text_left,
        y + 3.4,
        heading,
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
        for comb, left in zip(leading, lefts, strict=True):
            board.comb(f"defect.{n}.{comb.end}", "digits", left, top, (comb.cells,), 0, height_mm=h)
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


def fit_for_use(board: Board, y: float) -> float:
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


def workshop(board: Board, y: float) -> float:
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
        DATE_GROUPS,
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


def caution(board: Board, y: float) -> None:
    """The caution, across the whole width."""
    for n, line in enumerate(_caution_lines(board)):
        if width_mm(line, 6.5, bold=True) > board.width_mm:
            raise LayoutError(f"Template '{board.template_name}': the caution is wider than the page.")
        board.print_line(board.left_mm, y + 2.2 + 3.0 * n, line, 6.5, board.width_mm, bold=True)


def item_print(board: Board, item: Item, left: float, middle: float, text_right: float) -> None:
    """An item's number, its diamond if it is safety-critical, and its text in one or two lines about ``middle``."""
    board.print_line(left, middle + 1.0, str(item.number), 8, ITEM_NUMBER_MM, bold=True)
    if item.critical:
        board.diamond(left + ITEM_NUMBER_MM + ITEM_SIGN_MM / 2 - 0.3, middle, 1.25)
    text_left = left + ITEM_NUMBER_MM + ITEM_SIGN_MM
    lines = wrapped(item.text, _ITEM_PT, text_right - text_left)
    if len(lines) > 2:
        raise LayoutError(
            f"Template '{board.template_name}', item '{item.name}': its text needs {len(lines)} lines and there is "
            "room for two; shorten it."
        )
    for n, line in enumerate(lines):
        baseline = middle + 1.05 + 3.2 * (n - (len(lines) - 1) / 2)
        board.print_line(text_left, baseline, line, _ITEM_PT, text_right - text_left)
