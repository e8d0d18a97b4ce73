"""The calendar of sheets as a picture: a row a unit, a cell a day."""

from __future__ import annotations

import datetime as dt

from reportlab.graphics.shapes import Drawing, Line, Rect

from scanform.form.typeface import MM_PER_PT, width_mm
from scanform.report.look import DANGER, FAINT, GOOD, INK, MUTED, WARN, write
from scanform.report.unit_days import Coverage, day_sign

__all__ = ["calendar_picture"]

_CELL, _ROW, _LEFT, _RIGHT, _TOP, _FOOT = 15.0, 17.0, 62.0, 150.0, 64.0, 42.0
_LETTERS = "MTWTFSS"
_LEGEND = (
    ("#", "sheet"),
    ("?", "not sure: a doubt waits"),
    ("X", "no sheet"),
    ("!", "no sheet, and the meter moved"),
    (".", "not in use"),
)
_NOT_COUNTED = ("-", "not counted: no sheet before is on record")


def calendar_picture(coverage: Coverage, title: str = "Sheets by unit and day") -> Drawing:
    """The whole stretch of days; it is as wide as it has days, and as its head needs."""
    days = [coverage.since + dt.timedelta(days=n) for n in range((coverage.until - coverage.since).days + 1)]
    units = coverage.units
    head = f"{coverage.since} to {coverage.until}: {coverage.in_words()}"
    width = max(_LEFT + len(days) * _CELL + _RIGHT, width_mm(head, 8) / MM_PER_PT + 24)
    legend = (*_LEGEND, _NOT_COUNTED) if coverage.not_counted() else _LEGEND
    height = _TOP + len(units) * _ROW + _FOOT + 12 * (_legend_rows(legend, width) - 1)
    drawing = Drawing(width, height)
    drawing.add(Rect(0, 0, width, height, fillColor=None, strokeColor=None))
    write(drawing, 12, height - 18, title, 11, bold=True)
    write(drawing, 12, height - 31, head, 8, colour=MUTED)
    _heads(drawing, days, height)
    by_place = {(day.unit, day.day): day for day in coverage.days}
    for row, unit in enumerate(units):
        y = height - _TOP - (row + 1) * _ROW
        write(drawing, 12, y + 5.5, unit, 8.5, bold=True)
        for column, day in enumerate(days):
            _cell(drawing, _LEFT + column * _CELL, y + 1, day_sign(by_place.get((unit, day))))
        share = coverage.share(unit)
        said = coverage.in_words(unit).partition(",")[0].partition(":")[0].rstrip(")")
        colour = DANGER if share is not None and share < 1 else MUTED
        said += ")" if "(" in said else ""
        write(drawing, _LEFT + len(days) * _CELL + 8, y + 5.5, said, 7, colour=colour)
    _legend(drawing, legend, width)
    return drawing


def _heads(drawing: Drawing, days: list[dt.date], height: float) -> None:
    for column, day in enumerate(days):
        x = _LEFT + column * _CELL
        if day.weekday() == 0 or column == 0:
            iso = day.isocalendar()
            if day.weekday() < 5:
                write(drawing, x + 1, height - _TOP + 19, f"W{iso.week:02d}", 7, bold=True, colour=MUTED)
            drawing.add(Line(x - 0.5, height - _TOP + 26, x - 0.5, _FOOT, strokeColor=FAINT, strokeWidth=0.8))
        weekend = day.weekday() >= 5
        colour = MUTED if weekend else INK
        write(drawing, x + _CELL / 2, height - _TOP + 10, _LETTERS[day.weekday()], 6, colour=colour, anchor="middle")
        write(drawing, x + _CELL / 2, height - _TOP + 3, str(day.day), 6, colour=colour, anchor="middle")


def _cell(drawing: Drawing, x: float, y: float, sign: str) -> None:
    side = _CELL - 2
    middle, foot = x + _CELL / 2, y + 4
    white = FAINT.clone(red=1, green=1, blue=1)
    if sign == "#":
        drawing.add(Rect(x + 1, y + 1, side, side, fillColor=GOOD, strokeColor=None))
    elif sign == "?":
        drawing.add(Rect(x + 1.6, y + 1.6, side - 1.2, side - 1.2, fillColor=white, strokeColor=WARN, strokeWidth=1.4))
        write(drawing, middle, foot, "?", 8, bold=True, colour=WARN, anchor="middle")
    elif sign == "X":
        drawing.add(
            Rect(x + 1.6, y + 1.6, side - 1.2, side - 1.2, fillColor=white, strokeColor=DANGER, strokeWidth=1.2)
        )
    elif sign == "!":
        drawing.add(Rect(x + 1, y + 1, side, side, fillColor=DANGER, strokeColor=None))
        write(drawing, middle, foot, "!", 9, bold=True, colour=white, anchor="middle")
    elif sign == "-":
        drawing.add(Line(x + 4, y + _CELL / 2, x + _CELL - 4, y + _CELL / 2, strokeColor=MUTED, strokeWidth=0.8))
    else:
        drawing.add(Rect(x + 1, y + 1, side, side, fillColor=FAINT, strokeColor=None))


_Legend = tuple[tuple[str, str], ...]


def _legend_rows(legend: _Legend, width: float) -> int:
    return 1 + int(max(row for _, row in _legend_places(legend, width)))


def _legend_places(legend: _Legend, width: float) -> list[tuple[float, float]]:
    places, x, row = [], 12.0, 0
    for _, words in legend:
        needed = _CELL + 6 + 4.6 * len(words)
        if x > 12 and x + needed > width:
            x, row = 12.0, row + 1
        places.append((x, float(row)))
        x += needed
    return places


def _legend(drawing: Drawing, legend: _Legend, width: float) -> None:
    rows = _legend_rows(legend, width)
    for (sign, words), (x, row) in zip(legend, _legend_places(legend, width), strict=True):
        y = 10 + 15 * (rows - 1 - row)
        _cell(drawing, x, y - 2, sign)
        write(drawing, x + _CELL + 3, y + 2.5, words, 7, colour=INK)
