"""The weekly letter on one page, to be read from a metre away: danger first and largest."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace

from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing
from reportlab.lib.colors import Color, white
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from scanform.form.typeface import MM_PER_PT, width_mm, wrapped
from scanform.report.bars_picture import bars_picture, cut, rows_that_fit
from scanform.report.calendar_picture import calendar_picture
from scanform.report.cautions import CAUTION
from scanform.report.letter import Letter, defect_line
from scanform.report.look import BOLD, DANGER, FAINT, GOOD, INK, MUTED, REGULAR, WARN, fonts, printable
from scanform.report.own_files import CREATOR
from scanform.report.register import Defect
from scanform.report.unit_days import NO_SHEET, Coverage
from scanform.report.wording import counted, use_in_words

__all__ = ["defects_picture", "hours_bars", "letter_pdf", "tiles", "units_with_gaps"]

_WIDTH, _HEIGHT = A4
_SIDE = 34.0
_ROOM = _WIDTH - 2 * _SIDE
_BETWEEN_CHARTS = 6.0
_LARGEST = 1.35  # times its own size, so that two units' calendar does not fill a page
_MOST_DANGEROUS, _MOST_OPEN, _MOST_MISSING, _MOST_DUE, _MOST_CALENDAR_UNITS = 5, 9, 4, 6, 9


def letter_pdf(letter: Letter) -> bytes:
    """The letter as a PDF of one A4 page with selectable text."""
    fonts()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=1, initialFontName=REGULAR)
    canvas.setTitle(f"Monday letter, week {letter.week}")
    canvas.setCreator(CREATOR)
    y = _head(canvas, letter)
    y = _tiles(canvas, letter, y)
    y = _dangerous(canvas, letter, y)
    y = _open(canvas, letter, y)
    y = _missing_and_due(canvas, letter, y)
    _pictures(canvas, letter, y)
    _foot(canvas, letter)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def tiles(letter: Letter) -> list[tuple[str, str, bool]]:
    """The figures on top: what is counted, its words, and whether it is alarming."""
    missing = letter.coverage.count(NO_SHEET)
    dangerous, others = ([d for d in some if d.sure] for some in (letter.dangerous, letter.open_others))
    may_be, may_be_others = len(letter.dangerous) - len(dangerous), len(letter.open_others) - len(others)
    ran = f", {letter.missing_hours:.1f} h run" if letter.missing_hours else ""
    return [
        (str(len(dangerous)), f"dangerous, open{_may_be(may_be)}", bool(letter.dangerous)),
        (str(len(others)), f"open, other{_may_be(may_be_others)}", False),
        (str(len(letter.closed_in_week)), "closed in the week", False),
        (str(missing), f"{'day' if missing == 1 else 'days'} without a sheet{ran}", bool(letter.missing_hours)),
        (str(len(letter.due_soon)), "services due in a fortnight", False),
        (str(letter.doubts), f"doubts, {letter.critical_doubts} safety-critical", letter.critical_doubts > 0),
    ]


def _may_be(count: int) -> str:
    return f"; {count} more may be" if count else ""


def units_with_gaps(coverage: Coverage, most: int) -> tuple[Coverage, int]:
    """The calendar of the units with most days missing, in order of unit, and how many units are left out."""
    ranked = sorted(coverage.units, key=lambda unit: -coverage.count(NO_SHEET, unit))
    kept = set(ranked[:most])
    begins = {unit: begin for unit, begin in coverage.begins.items() if unit in kept}
    days = tuple(day for day in coverage.days if day.unit in kept)
    return replace(coverage, days=days, begins=begins), len(ranked) - len(kept)


def defects_picture(letter: Letter, width: float, rows: int) -> Drawing:
    """Defects of the last eight weeks by item; what is open of them is marked."""
    bars = [
        (name, float(every), float(unclosed), f"{every}, {unclosed} open")
        for name, (every, unclosed) in letter.by_item.items()
    ]
    return bars_picture("Defects of eight weeks (orange: open)", bars, width, 132, rows)


def hours_bars(letter: Letter, width: float, rows: int) -> Drawing:
    """Hours run in the week by unit, the most first."""
    ran = sorted(letter.ran_hours.items(), key=lambda pair: -pair[1])
    return bars_picture("Hours run in the week", [(u, h, 0.0, f"{h:.1f} h") for u, h in ran], width, 48, rows)


def _print(canvas: Canvas, x: float, y: float, text: str, size: float, bold: bool = False, colour: Color = INK) -> None:
    canvas.setFont(BOLD if bold else REGULAR, size)
    canvas.setFillColor(colour)
    canvas.drawString(x, y, printable(text))


def _wide(text: str, size: float, bold: bool = False) -> float:
    return width_mm(printable(text), size, bold) / MM_PER_PT


def _head(canvas: Canvas, letter: Letter) -> float:
    y = _HEIGHT - 48
    _print(canvas, _SIDE, y, "Monday letter", 24, bold=True)
    week = f"Week {letter.week}"
    _print(canvas, _WIDTH - _SIDE - _wide(week, 16, True), y + 2, week, 16, bold=True)
    words = f"{letter.monday:%-d %B} to {letter.sunday:%-d %B %Y}"
    _print(canvas, _SIDE, y - 18, words, 10, colour=MUTED)
    made = f"as the record stands on {letter.written}"
    _print(canvas, _WIDTH - _SIDE - _wide(made, 8), y - 18, made, 8, colour=MUTED)
    return y - 32


def _tiles(canvas: Canvas, letter: Letter, y: float) -> float:
    every = tiles(letter)
    wide, tall = (_ROOM - 6 * (len(every) - 1)) / len(every), 54.0
    for place, (figure, words, alarming) in enumerate(every):
        x = _SIDE + place * (wide + 6)
        canvas.setFillColor(DANGER if alarming else FAINT)
        canvas.roundRect(x, y - tall, wide, tall, 4, stroke=0, fill=1)
        colour = white if alarming else INK
        _print(canvas, x + 7, y - 26, figure, 23, bold=True, colour=colour)
        for row, line in enumerate(wrapped(words, 7.2, (wide - 12) * MM_PER_PT)[:2]):
            _print(canvas, x + 7, y - 38 - 9 * row, line, 7.2, colour=colour)
    return y - tall - 20


def _heading(canvas: Canvas, y: float, text: str, colour: Color = INK, x: float = _SIDE) -> float:
    _print(canvas, x, y, text, 13, bold=True, colour=colour)
    return y - 6


def _dangerous(canvas: Canvas, letter: Letter, y: float) -> float:
    top = y + 14
    y = _heading(canvas, y, "Dangerous", DANGER)
    for defect in letter.dangerous[:_MOST_DANGEROUS]:
        y -= 13
        _print(canvas, _SIDE, y, defect.unit or "?", 11.5, bold=True)
        _print(canvas, _SIDE + 56, y, cut(defect_line(defect), 11, _ROOM - 58, True), 11, bold=True)
        y -= 11.5
        _print(canvas, _SIDE + 56, y, cut(_life(defect), 8.5, _ROOM - 58), 8.5, colour=MUTED)
        if used := use_in_words(defect):
            y -= 11.5
            _print(canvas, _SIDE + 56, y, cut(used, 9, _ROOM - 58, True), 9, bold=True, colour=DANGER)
    left = len(letter.dangerous) - _MOST_DANGEROUS
    if left > 0:
        y -= 12
        _print(canvas, _SIDE + 56, y, f"and {left} more: scanform defects", 9, bold=True, colour=DANGER)
    if not letter.dangerous:
        y -= 13
        _print(canvas, _SIDE, y, "No open safety-critical defect is on record.", 10)
    if letter.unread:
        y -= 13
        _print(canvas, _SIDE, y, f"{letter.unread_sentence}.", 10, bold=True, colour=DANGER)
    canvas.setFillColor(DANGER)
    canvas.rect(_SIDE - 12, y - 4, 4, top - y + 4, stroke=0, fill=1)
    return y - 24


def _life(defect: Defect) -> str:
    unclear = "may be safety-critical; " if defect.critical is None else ""
    said = f"reported {counted(len(defect.reports), 'time')}, first {defect.first or '?'}, last {defect.last or '?'}"
    return f"{unclear}{said} ({defect.name})"


def _open(canvas: Canvas, letter: Letter, y: float) -> float:
    y = _heading(canvas, y, "Open")
    for defect in letter.open_others[:_MOST_OPEN]:
        y -= 12.5
        _print(canvas, _SIDE, y, defect.unit or "?", 9.5, bold=True)
        days = f"{(letter.written - defect.first).days} days" if defect.first else "?"
        _print(canvas, _SIDE + 56, y, cut(defect_line(defect), 9.5, _ROOM - 160), 9.5)
        since = f"since {defect.first or '?'}, {days}"
        _print(canvas, _WIDTH - _SIDE - _wide(since, 8.5), y, since, 8.5, colour=MUTED)
    left = len(letter.open_others) - _MOST_OPEN
    if left > 0 or not letter.open_others:
        y -= 12
        _print(
            canvas, _SIDE + (56 if left > 0 else 0), y, f"and {left} more" if left > 0 else "Nothing.", 9, colour=MUTED
        )
    return y - 22


def _missing_and_due(canvas: Canvas, letter: Letter, y: float) -> float:
    middle = _SIDE + _ROOM * 0.47
    left = _heading(canvas, y, "Missing")
    for day in letter.coverage.missing[:_MOST_MISSING]:
        left -= 12
        _print(canvas, _SIDE, left, day.unit, 9.5, bold=True)
        ran = f"ran about {day.ran_hours:.1f} h" if day.ran_hours else "no sheet"
        words = f"{day.day:%a %-d %b}: {ran}"
        _print(
            canvas, _SIDE + 46, left, cut(words, 9.5, middle - _SIDE - 56), 9.5, colour=DANGER if day.ran_hours else INK
        )
    more = len(letter.coverage.missing) - _MOST_MISSING
    if more > 0 or (letter.coverage.days and not letter.coverage.missing):
        left -= 12
        _print(canvas, _SIDE, left, f"and {more} more days" if more > 0 else "No sheet is missing.", 9, colour=MUTED)
    if letter.still_to_come:
        left -= 12
        _print(canvas, _SIDE, left, letter.still_to_come, 9, colour=MUTED)
    if letter.coverage.waiting:
        left -= 12
        _print(canvas, _SIDE, left, f"{counted(len(letter.coverage.waiting), 'more day')} not sure: a doubt waits", 8.5)
    if letter.unread:
        left -= 12
        _print(canvas, _SIDE, left, f"{counted(letter.unread, 'unread page')} may fill gaps", 8.5)
    if letter.not_filed:
        left -= 12
        _print(canvas, _SIDE, left, f"{counted(letter.not_filed, 'sheet')} without unit or date may fill gaps", 8.5)
    right = _heading(canvas, y, "Service due", x=middle)
    for one in letter.due[:_MOST_DUE]:
        right -= 12
        soon = one.is_near(letter.sunday)
        _print(canvas, middle, right, one.unit, 9.5, bold=True, colour=WARN if soon else INK)
        when = f"{one.about:%-d %b}" if one.about else "date unknown"
        if one.earliest and one.latest:
            when += f" ({one.earliest:%-d %b} to {one.latest:%-d %b})"
        _print(canvas, middle + 42, right, f"{one.due_at:,} h in {one.hours_left:.0f} h", 9)
        _print(canvas, middle + 132, right, cut(when, 9, _WIDTH - _SIDE - middle - 132), 9)
    return min(left, right) - 14


def _pictures(canvas: Canvas, letter: Letter, y: float) -> None:
    """The calendar on the left, two charts on the right, as large as the room between text and foot allows."""
    foot = 92.0
    room = y - foot
    some, others = units_with_gaps(letter.coverage, _MOST_CALENDAR_UNITS)
    title = "Sheets by unit and day" + (f" ({others} more units have fewer gaps)" if others else "")
    _placed(canvas, calendar_picture(some, title), _SIDE - 12, foot, _ROOM * 0.5, room)
    half = _ROOM * 0.47
    rows = rows_that_fit((room - _BETWEEN_CHARTS) / 2)
    charts: Sequence[Drawing] = (defects_picture(letter, half, rows), hours_bars(letter, half, rows))
    top = y
    for chart in charts:
        top -= chart.height
        renderPDF.draw(chart, canvas, _SIDE + _ROOM * 0.53, top)
        top -= _BETWEEN_CHARTS


def _placed(canvas: Canvas, drawing: Drawing, x: float, foot: float, wide: float, tall: float) -> None:
    """A drawing scaled to its room and set at its upper left corner."""
    factor = min(_LARGEST, wide / drawing.width, tall / drawing.height)
    canvas.saveState()
    canvas.translate(x, foot + tall - drawing.height * factor)
    canvas.scale(factor, factor)
    renderPDF.draw(drawing, canvas, 0, 0)
    canvas.restoreState()


def _foot(canvas: Canvas, letter: Letter) -> None:
    y = 78.0
    canvas.setStrokeColor(GOOD)
    canvas.line(_SIDE, y + 6, _WIDTH - _SIDE, y + 6)
    said = (
        (letter.doubts_sentence, True),
        (f"How sure the rest is: {letter.trust.sentence}.", False),
        (CAUTION, True),
    )
    for text, bold in said:
        for line in wrapped(printable(text), 8.5, _ROOM * MM_PER_PT, bold):
            y -= 11
            _print(canvas, _SIDE, y, line, 8.5, bold=bold)
