"""The register of defects as a picture: a row a defect, dangerous ones first, each with its days from first to last."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from reportlab.graphics.shapes import Drawing, Line, Rect
from reportlab.lib.colors import white

from scanform.form.typeface import MM_PER_PT, wrapped
from scanform.report.bars_picture import cut
from scanform.report.cautions import CAUTION
from scanform.report.look import DANGER, FAINT, GOOD, INK, MUTED, WARN, printable, write
from scanform.report.register import Defect
from scanform.report.wording import counted, doubt_in_short, repair_in_words, use_in_words

__all__ = ["register_picture"]

_WIDTH, _ROW, _TOP, _FOOT = 760.0, 34.0, 48.0, 44.0
_UNIT, _WORDS, _STATE, _DAYS = 78.0, 136.0, 448.0, 590.0  # where each column begins
_MOST_ROWS = 30
_SIDE = 12.0


def register_picture(register: Sequence[Defect], title: str = "Defects") -> Drawing:
    """The first thirty defects of a list, in its order; says how many are left out."""
    shown = register[:_MOST_ROWS]
    height = _TOP + _ROW * max(1, len(shown)) + _FOOT
    drawing = Drawing(_WIDTH, height)
    drawing.add(Rect(0, 0, _WIDTH, height, fillColor=white, strokeColor=None))
    open_ones = sum(defect.is_open for defect in register)
    write(drawing, _SIDE, height - 20, title, 13, bold=True)
    left = f"; the first {_MOST_ROWS} shown" if len(register) > _MOST_ROWS else ""
    write(drawing, _SIDE, height - 34, f"{open_ones} open, {len(register) - open_ones} closed{left}", 8, colour=MUTED)
    since, until = _stretch(shown)
    for row, defect in enumerate(shown):
        _defect(drawing, defect, height - _TOP - (row + 1) * _ROW, since, until)
    if not shown:
        write(drawing, _SIDE, height - _TOP - 18, "No defect is on record.", 9)
    for row, line in enumerate(wrapped(CAUTION, 8, (_WIDTH - 2 * _SIDE) * MM_PER_PT, bold=True)):
        write(drawing, _SIDE, 22 - 11 * row, line, 8, bold=True)
    return drawing


def _stretch(shown: Sequence[Defect]) -> tuple[dt.date, dt.date]:
    days = [day for defect in shown for day in (defect.first, defect.last, *defect.used_on[-1:]) if day is not None]
    return (min(days), max(days)) if days else (dt.date.min, dt.date.min)


def _defect(drawing: Drawing, defect: Defect, y: float, since: dt.date, until: dt.date) -> None:
    drawing.add(Line(_SIDE, y, _WIDTH - _SIDE, y, strokeColor=FAINT, strokeWidth=0.8))
    if defect.is_open and defect.critical is not False:
        sign, colour = ("SAFETY", DANGER) if defect.critical else ("UNCLEAR", WARN)
        drawing.add(Rect(_SIDE, y + 10, 56, 15, fillColor=colour, strokeColor=None))
        write(drawing, _SIDE + 28, y + 14.5, sign, 8, bold=True, colour=white, anchor="middle")
    write(drawing, _UNIT, y + 14, defect.unit or "?", 11, bold=True)
    words = cut(defect.words or "no words", 10.5, _STATE - _WORDS - 8, True)
    write(drawing, _WORDS, y + 19, words, 10.5, bold=True)
    item = f"{defect.item_number} {defect.item_text}" if defect.item_text else "which item is meant is not clear"
    used = use_in_words(defect) if defect.is_open else ""
    below = cut(used or item, 7.5, _STATE - _WORDS - 8)
    write(drawing, _WORDS, y + 7, printable(below), 7.5, bold=bool(used), colour=DANGER if used else MUTED)
    closed = defect.closed
    state = "open" if closed is None else f"{repair_in_words(closed.repair)} {closed.on}"
    write(drawing, _STATE, y + 19, cut(state, 9, _DAYS - _STATE - 6), 9, bold=defect.is_open)
    more = [counted(len(defect.reports), "report")]
    more += ["came back"] if defect.times else []
    more += [doubt_in_short(defect)] if doubt_in_short(defect) else []
    write(drawing, _STATE, y + 7, cut(", ".join(more), 7.5, _DAYS - _STATE - 6), 7.5, colour=MUTED)
    _days(drawing, defect, y, since, until)


def _days(drawing: Drawing, defect: Defect, y: float, since: dt.date, until: dt.date) -> None:
    """A bar from the first to the last report on the line of all days, with the two dates."""
    if defect.first is None or defect.last is None:
        write(drawing, _DAYS, y + 12, "day not clear", 8, colour=MUTED)
        return
    room = _WIDTH - _SIDE - _DAYS
    a_day = room / ((until - since).days + 1)
    x = _DAYS + a_day * (defect.first - since).days
    wide = max(2.0, a_day * ((defect.last - defect.first).days + 1))
    drawing.add(Rect(_DAYS, y + 21, room, 6, fillColor=FAINT, strokeColor=None))
    colour = (DANGER if defect.critical else WARN) if defect.is_open else GOOD
    drawing.add(Rect(x, y + 21, wide, 6, fillColor=colour, strokeColor=None))
    days = str(defect.first) if defect.first == defect.last else f"{defect.first} to {defect.last}"
    write(drawing, _DAYS, y + 7, days, 7.5, colour=INK)
