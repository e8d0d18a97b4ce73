"""Bars that lie: a name, a bar, a figure."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.graphics.shapes import Drawing, Rect

from scanform.form.typeface import MM_PER_PT, width_mm
from scanform.report.look import GOOD, INK, MUTED, WARN, printable, write

__all__ = ["bars_picture", "cut", "rows_that_fit"]

_ROW, _TOP, _FOOT = 15.0, 22.0, 12.0
_MOST_SIGNS_A_POINT = 4.0  # of the size: no sign that anybody writes with is narrower than a quarter of it


def bars_picture(
    title: str, bars: Sequence[tuple[str, float, float, str]], width: float, name_width: float, rows: int
) -> Drawing:
    """At most ``rows`` bars, the first first. Each: its name, its length, how much of that is marked, its figure."""
    shown = bars[:rows]
    height = _TOP + _ROW * max(1, len(shown)) + _FOOT
    drawing = Drawing(width, height)
    write(drawing, 0, height - 12, title, 10, bold=True)
    longest = max([1e-9, *(length for _, length, _, _ in shown)])
    room = width - name_width - 62
    for row, (name, length, marked, figure) in enumerate(shown):
        y = height - _TOP - _ROW * (row + 1) + 2
        write(drawing, 0, y + 2.5, cut(name, 8, name_width - 6), 8)
        drawing.add(Rect(name_width, y, room * length / longest, _ROW - 5, fillColor=GOOD, strokeColor=None))
        if marked:
            drawing.add(Rect(name_width, y, room * marked / longest, _ROW - 5, fillColor=WARN, strokeColor=None))
        write(drawing, name_width + room * length / longest + 4, y + 2.5, figure, 8, colour=INK)
    if not shown:
        write(drawing, 0, height - _TOP - _ROW + 2, "Nothing on record.", 8, colour=MUTED)
    if len(bars) > rows:
        write(drawing, 0, 1, f"and {len(bars) - rows} more", 7.5, colour=MUTED)
    return drawing


def rows_that_fit(height: float) -> int:
    """How many bars a picture of that height has room for, with its title and what is left out."""
    return max(1, int((height - _TOP - _FOOT) / _ROW))


def cut(text: str, size: float, room: float, bold: bool = False) -> str:
    """The text, cut to so many points with three dots at its end."""
    whole = printable(text)
    text = whole[: int(_MOST_SIGNS_A_POINT * room / size) + 1]  # a list of a thousand days is not measured sign by sign
    if text == whole and width_mm(text, size, bold) / MM_PER_PT <= room:
        return text
    while text and width_mm(text + "...", size, bold) / MM_PER_PT > room:
        text = text[:-1]
    return text.rstrip() + "..."
