"""Draw sheets as vector PDF: artwork of the layout, registration marks, code, and what is known beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import numpy as np
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from scanform.form import DAYS, Box, Layout, date_of, unit_characters
from scanform.form.typeface import font_file, unprintable, width_mm
from scanform.press.pads import Sheet, StillOpen
from scanform.press.symbols import code_matrix, mark_matrix

__all__ = ["sheets_pdf", "write_sheets"]

_REGULAR, _BOLD = "SheetSans", "SheetSans-Bold"
_COMB_PT = 13.5
_SERIAL_PT = 7.0
_OPEN_PT = 7.0
_DAY_PT = 5.5


def write_sheets(path: Path, layout: Layout, sheets: Sequence[Sheet]) -> None:
    """Write the sheets as one PDF, one page each; the file appears whole or not at all."""
    partial = path.with_name(path.name + ".part")
    partial.write_bytes(sheets_pdf(layout, sheets))
    partial.replace(path)


def sheets_pdf(layout: Layout, sheets: Sequence[Sheet]) -> bytes:
    """The sheets as the bytes of one PDF with embedded fonts."""
    for name, bold in ((_REGULAR, False), (_BOLD, True)):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(font_file(bold))))
    out = BytesIO()
    canvas = Canvas(out, pagesize=(layout.width_mm * mm, layout.height_mm * mm), invariant=1, initialFontName=_REGULAR)
    canvas.setTitle(f"{layout.template.title} ({layout.template.name} {layout.template.version})")
    canvas.setCreator("scanform")
    for sheet in sheets:
        pen = _Pen(canvas, layout.height_mm)
        _artwork(pen, layout)
        _identity(pen, layout, sheet)
        _known_beforehand(pen, layout, sheet)
        _still_open(pen, layout, sheet.still_open)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


class _Pen:
    """Draws on a reportlab canvas in the layout's coordinates: mm from the top left, y down."""

    def __init__(self, canvas: Canvas, height_mm: float) -> None:
        self._canvas = canvas
        self._height_mm = height_mm

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float, grey: float) -> None:
        self._canvas.setStrokeGray(grey)
        self._canvas.setLineWidth(width * mm)
        self._canvas.setLineCap(2)  # square ends, so that the corners of boxes close
        self._canvas.line(x1 * mm, (self._height_mm - y1) * mm, x2 * mm, (self._height_mm - y2) * mm)

    def words(self, x: float, baseline: float, text: str, size_pt: float, bold: bool = False, grey: float = 0) -> None:
        self._canvas.setFillGray(grey)
        self._canvas.setFont(_BOLD if bold else _REGULAR, size_pt)
        self._canvas.drawString(x * mm, (self._height_mm - baseline) * mm, text)

    def polygon(self, points: Sequence[tuple[float, float]], grey: float = 0) -> None:
        path = self._canvas.beginPath()
        for n, (x, y) in enumerate(points):
            (path.lineTo if n else path.moveTo)(x * mm, (self._height_mm - y) * mm)
        path.close()
        self._canvas.setFillGray(grey)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def matrix(self, cells: np.ndarray, box: Box) -> None:
        """Black cells of a bool matrix, drawn as one path of merged runs so that no seams show between them."""
        rows, columns = cells.shape
        w, h = box.w_mm / columns, box.h_mm / rows
        path = self._canvas.beginPath()
        for r in range(rows):
            for start, end in _runs(cells[r]):
                top = self._height_mm - box.y_mm - r * h
                # A hair of overlap downwards hides the seam that renderers leave between touching fills.
                path.rect((box.x_mm + start * w) * mm, (top - h) * mm - 0.02, (end - start) * w * mm, h * mm + 0.02)
        self._canvas.setFillGray(0)
        self._canvas.drawPath(path, stroke=0, fill=1, fillMode=1)


def _runs(row: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(np.int8), [0]))))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]


def _artwork(pen: _Pen, layout: Layout) -> None:
    for line in layout.lines:
        pen.line(line.x1_mm, line.y1_mm, line.x2_mm, line.y2_mm, line.width_mm, line.grey)
    for polygon in layout.polygons:
        pen.polygon(polygon.points_mm, polygon.grey)
    for words in layout.words:
        pen.words(words.x_mm, words.y_mm, words.text, words.size_pt, words.bold, words.grey)
    for mark in layout.marks:
        pen.matrix(mark_matrix(mark.identity), mark.box_mm)


def _identity(pen: _Pen, layout: Layout, sheet: Sheet) -> None:
    text = sheet.code.text()
    pen.matrix(code_matrix(text), layout.code_box_mm)
    box = layout.serial_box_mm
    size = min(_SERIAL_PT, _SERIAL_PT * box.w_mm / width_mm(text, _SERIAL_PT))
    pen.words(box.x_mm + (box.w_mm - width_mm(text, size)) / 2, box.bottom_mm - 1.0, text, size)


def _known_beforehand(pen: _Pen, layout: Layout, sheet: Sheet) -> None:
    if sheet.code.unit:
        _print_in_comb(pen, layout.field("unit").cells_mm, unit_characters(sheet.code.unit))
    if sheet.code.on:
        _print_in_comb(pen, layout.field("date").cells_mm, sheet.code.on.strftime("%Y%m%d"))
        for day, head in zip(DAYS, layout.day_heads_mm, strict=False):
            on = date_of(sheet.code.on, day)
            assert on is not None
            text = on.strftime("%m-%d")
            pen.words(head.centre_mm[0] - width_mm(text, _DAY_PT) / 2, head.bottom_mm - 0.4, text, _DAY_PT)


def _print_in_comb(pen: _Pen, cells: Sequence[Box], text: str) -> None:
    for cell, char in zip(cells, text, strict=False):
        x, y = cell.centre_mm
        pen.words(x - width_mm(char, _COMB_PT, bold=True) / 2, y + 1.75, char, _COMB_PT, bold=True)


def _still_open(pen: _Pen, layout: Layout, still_open: Sequence[StillOpen] | None) -> None:
    lines = layout.open_lines_mm
    if still_open is None:
        return  # no list was given: the lines stay free for a pen
    if not still_open:
        pen.words(lines[0].x_mm, lines[0].bottom_mm - 1.1, "None known when this sheet was printed.", _OPEN_PT)
        return
    kept = len(still_open) if len(still_open) <= len(lines) else len(lines) - 1
    texts = [_open_text(defect, lines[0].w_mm) for defect in still_open[:kept]]
    if kept < len(still_open):
        texts.append(f"and {len(still_open) - kept} more: see the defect list in the office")
    for box, text in zip(lines, texts, strict=False):
        pen.words(box.x_mm, box.bottom_mm - 1.1, text, _OPEN_PT)


def _open_text(defect: StillOpen, room_mm: float) -> str:
    """The defect in one line: item number and since when are kept whole, the words are cut if need be."""
    number = f"{defect.item_number}: " if defect.item_number else ""
    since = f" (since {defect.since.isoformat()})" if defect.since else ""
    # Words come from handwriting and from people's keyboards; a sign that the typeface lacks must not vanish.
    words = " ".join(defect.words.split())
    words = "".join("?" if unprintable(char) else char for char in words)
    return number + _cut_to(words, room_mm - width_mm(number + since, _OPEN_PT)) + since


def _cut_to(text: str, room_mm: float) -> str:
    if width_mm(text, _OPEN_PT) <= room_mm:
        return text
    while text and width_mm(text + "...", _OPEN_PT) > room_mm:
        text = text[:-1]
    return text.rstrip() + "..."
