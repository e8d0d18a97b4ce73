"""A unit's hours as a picture: the meter above, what was run a day below, and readings that cannot be marked."""

from __future__ import annotations

import datetime as dt

import pandas as pd
from reportlab.graphics.shapes import Circle, Drawing, Line, PolyLine, Rect

from scanform.report.frames import rows
from scanform.report.look import DANGER, FAINT, GOOD, INK, MUTED, WARN, write
from scanform.report.service import ServiceDue

__all__ = ["hours_picture"]

_WIDTH, _HEIGHT = 520.0, 270.0
_LEFT, _RIGHT, _TOP = 58.0, 16.0, 44.0
_METER_HEIGHT, _USE_HEIGHT, _GAP = 110.0, 50.0, 30.0
_CLOCK_H = 24.0


def hours_picture(
    unit: str, readings: pd.DataFrame, use: pd.DataFrame, since: dt.date, until: dt.date, due: ServiceDue | None
) -> Drawing:
    """One unit's readings and daily use (as from ``meter_readings`` and ``daily_use``) in a stretch of days."""
    mine = readings[(readings["unit"] == unit) & readings["date"].between(str(since), str(until))]
    drawing = Drawing(_WIDTH, _HEIGHT)
    write(drawing, 12, _HEIGHT - 18, f"{unit}: hour meter and hours a day", 11, bold=True)
    write(drawing, 12, _HEIGHT - 31, _said(mine, due), 8, colour=MUTED)
    span = max(1, (until - since).days)

    def x(day: str) -> float:
        return _LEFT + (_WIDTH - _LEFT - _RIGHT) * (dt.date.fromisoformat(day) - since).days / span

    _meter(drawing, mine, x)
    _use(drawing, use[use["unit"] == unit], x, since, until)
    _days(drawing, since, until, x)
    return drawing


def _said(mine: pd.DataFrame, due: ServiceDue | None) -> str:
    wrong = int((~mine["believed"].astype(bool)).sum())
    words = f"{len(mine)} readings" + (f", {wrong} of them cannot be (ringed)" if wrong else "")
    if due is not None:
        words += f"; next service at {due.due_at:,} h"
        words += f", about {due.about}" if due.about else ""
    return words


def _meter(drawing: Drawing, mine: pd.DataFrame, x: object) -> None:
    assert callable(x)
    foot, top = _HEIGHT - _TOP - _METER_HEIGHT, _HEIGHT - _TOP
    good = mine[mine["believed"].astype(bool)]
    low, high = (float(good["hours"].min()), float(good["hours"].max())) if len(good) else (0.0, 1.0)
    spread = max(high - low, 10.0)

    def y(hours: float) -> float:
        return min(max(foot + 8 + (_METER_HEIGHT - 16) * (hours - low) / spread, foot + 2), top - 2)

    drawing.add(Rect(_LEFT, foot, _WIDTH - _LEFT - _RIGHT, _METER_HEIGHT, fillColor=None, strokeColor=FAINT))
    for hours in dict.fromkeys((low, low + spread / 2, low + spread)):
        drawing.add(Line(_LEFT, y(hours), _WIDTH - _RIGHT, y(hours), strokeColor=FAINT, strokeWidth=0.5))
        write(drawing, _LEFT - 5, y(hours) - 2.5, f"{hours:,.0f} h", 6.5, colour=MUTED, anchor="end")
    for _, part in good.groupby("meter"):
        points = [value for row in rows(part) for value in (x(row.date), y(row.hours))]
        if len(points) > 2:
            drawing.add(PolyLine(points, strokeColor=GOOD, strokeWidth=1.4))
    for row in rows(mine):
        place = (x(row.date), y(row.hours))
        if not row.believed:
            drawing.add(Circle(*place, 4, fillColor=None, strokeColor=DANGER, strokeWidth=1.4))
        elif row.state == "doubtful":
            drawing.add(Circle(*place, 2.4, fillColor=None, strokeColor=WARN, strokeWidth=1.2))
        else:
            drawing.add(Circle(*place, 1.6, fillColor=GOOD, strokeColor=None))
        if row.why.startswith("a new meter"):
            drawing.add(Line(place[0], foot, place[0], top, strokeColor=INK, strokeWidth=0.8, strokeDashArray=[3, 2]))
            write(drawing, place[0] + 3, top - 9, "new meter", 6.5)


def _use(drawing: Drawing, use: pd.DataFrame, x: object, since: dt.date, until: dt.date) -> None:
    assert callable(x)
    top = _HEIGHT - _TOP - _METER_HEIGHT - _GAP
    foot = top - _USE_HEIGHT
    most = max([8.0, *(row.hours / row.days for row in rows(use))])
    drawing.add(Line(_LEFT, foot, _WIDTH - _RIGHT, foot, strokeColor=MUTED, strokeWidth=0.6))
    write(drawing, _LEFT - 5, top - 5, f"{min(most, _CLOCK_H):.0f} h a day", 6.5, colour=MUTED, anchor="end")
    write(drawing, _LEFT - 5, foot - 1, "0", 6.5, colour=MUTED, anchor="end")
    for row in rows(use):
        left, right = max(row.since, str(since)), min(row.until, str(until))
        if left < right:
            height = _USE_HEIGHT * min(row.hours / row.days, _CLOCK_H) / most
            colour = GOOD if row.days == 1 else MUTED
            wide = max(x(right) - x(left) - 0.8, 0.8)
            drawing.add(Rect(x(left), foot, wide, max(height, 0.3), fillColor=colour, strokeColor=None))


def _days(drawing: Drawing, since: dt.date, until: dt.date, x: object) -> None:
    assert callable(x)
    foot = _HEIGHT - _TOP - _METER_HEIGHT - _GAP - _USE_HEIGHT
    step = max(1, (until - since).days // 8)
    for n in range(0, (until - since).days + 1, step):
        day = since + dt.timedelta(days=n)
        write(drawing, x(str(day)), foot - 11, f"{day:%m-%d}", 6.5, colour=MUTED, anchor="middle")
