"""An old form whose list stands in two blocks side by side, set as one reportlab table. All names are invented."""

from __future__ import annotations

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.pad import Pad
from scanform.training.old_forms.trades import CONVEYOR

__all__ = ["conveyor_round"]


def conveyor_round(run: str) -> DrawnForm:
    """Landscape: two blocks with Yes and No cells, headings shaded; combs with their label below them."""
    pad = Pad(297.0, 210.0, face="Times")
    pad.text(14, 18, "Conveyor round", 18, bold=True)
    pad.text(
        14, 24, "Ellerdon Crushed Rock. To be done before the belt is started, guards on, nobody on the walkway.", 9
    )
    for field_id, label, x, cells, charset in (
        ("unit", "Conveyor", 120.0, 4, "alnum"),
        ("date", "Date (DD MM YYYY)", 155.0, 8, "digits"),
        ("hours", "Hours run", 227.0, 6, "digits"),
    ):
        pad.comb(field_id, "", x, 28, cells, (7.0, 8.0), charset)
        pad.text(x, 39.2, label, 7.5)
    pad.writing_line("operator", "Attendant", 14, 36, 108)
    points = list(CONVEYOR.items())
    half = len(points) // 2
    widths = (9.0, 92.0, 15.0, 15.0)
    lefts = (14.0, 152.0)
    top, pitch = 44.0, 8.0
    heading = ["", "Is it so?", "Yes", "No"]
    for block, left in enumerate(lefts):
        part = points[block * half : (block + 1) * half]
        rows = [[str(block * half + k + 1), words, "", ""] for k, (_, words) in enumerate(part)]
        pad.table(left, top, [heading, *rows], widths, pitch, shade=0.82)
        for k, (name, words) in enumerate(part, start=1):
            y, x = top + k * pitch, left + widths[0] + widths[1]
            boxes = [(a, Box(x + 15.0 * j, y, 15.0, pitch)) for j, a in enumerate(("ok", "defect"))]
            pad.choice(name, words, boxes, "cell")
    end = top + (half + 1) * pitch
    pad.text(14, end + 7, "What was not so, and what was done about it", 9, bold=True)
    pad.bare_lines("remarks", 14, end + 17.5, 283, 3, 8.5)
    pad.writing_line("signature", "Signed", 14, end + 46, 110, high=9)
    pad.writing_line("told", "Reported to", 125, end + 46, 215, high=9)
    pad.writing_line("shift", "Shift", 225, end + 46, 283, high=9)
    return pad.form("conveyor-round", run)
