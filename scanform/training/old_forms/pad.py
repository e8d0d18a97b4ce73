"""A page drawn with reportlab in mm from the top left, that remembers the fields drawn on it."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Table

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField

__all__ = ["PT_MM", "Pad"]

PT_MM = 25.4 / 72


class Pad:
    """A one-page drawing; every method that prints a place to write also adds its field."""

    def __init__(self, width_mm: float, height_mm: float, face: str = "Helvetica") -> None:
        self.width_mm, self.height_mm, self.face = width_mm, height_mm, face
        self._stream = io.BytesIO()
        self._canvas = Canvas(self._stream, pagesize=(width_mm / PT_MM, height_mm / PT_MM), invariant=True)
        self.fields: list[FormField] = []

    def form(self, name: str, run: str, legend: Mapping[str, str] | None = None) -> DrawnForm:
        """The finished form."""
        self._canvas.showPage()
        self._canvas.save()
        pdf = self._stream.getvalue()
        return DrawnForm(name, run, pdf, self.width_mm, self.height_mm, tuple(self.fields), legend or {})

    def width_of(self, text: str, size_pt: float, bold: bool = False) -> float:
        """How wide a text comes out, mm."""
        return float(stringWidth(text, self._face(bold), size_pt)) * PT_MM

    def text(self, x: float, baseline: float, text: str, size_pt: float = 9, bold: bool = False) -> float:
        """Print a line of text; gives where it ends, mm."""
        self._canvas.setFont(self._face(bold), size_pt)
        self._canvas.drawString(x / PT_MM, (self.height_mm - baseline) / PT_MM, text)
        return x + self.width_of(text, size_pt, bold)

    def centred(self, x: float, baseline: float, text: str, size_pt: float = 9, bold: bool = False) -> None:
        """Print a text with its middle at ``x``."""
        self.text(x - self.width_of(text, size_pt, bold) / 2, baseline, text, size_pt, bold)

    def upright(self, x: float, bottom: float, text: str, size_pt: float = 7) -> None:
        """Print a text from below upwards, its baseline at ``x``."""
        self._canvas.saveState()
        self._canvas.translate(x / PT_MM, (self.height_mm - bottom) / PT_MM)
        self._canvas.rotate(90)
        self._canvas.setFont(self._face(False), size_pt)
        self._canvas.drawString(0, 0, text)
        self._canvas.restoreState()

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float = 0.25, dots: bool = False) -> None:
        """A rule, ``width`` in mm; dotted if asked."""
        self._canvas.setLineWidth(width / PT_MM)
        self._canvas.setDash([0.01, 3.2] if dots else [])
        self._canvas.setLineCap(1 if dots else 0)
        top = self.height_mm
        self._canvas.line(x1 / PT_MM, (top - y1) / PT_MM, x2 / PT_MM, (top - y2) / PT_MM)
        self._canvas.setDash([])
        self._canvas.setLineCap(0)

    def rect(self, box: Box, width: float = 0.25, shade: float | None = None) -> None:
        """A frame, filled with a grey (0 black, 1 white) if one is given."""
        self._canvas.setLineWidth(width / PT_MM)
        self._canvas.setFillGray(1 if shade is None else shade)
        x, y = box.x_mm / PT_MM, (self.height_mm - box.bottom_mm) / PT_MM
        self._canvas.rect(x, y, box.w_mm / PT_MM, box.h_mm / PT_MM, stroke=1, fill=shade is not None)
        self._canvas.setFillGray(0)

    def ring(self, x: float, y: float, radius: float, width: float = 0.25) -> None:
        """A circle round (x, y)."""
        self._canvas.setLineWidth(width / PT_MM)
        self._canvas.circle(x / PT_MM, (self.height_mm - y) / PT_MM, radius / PT_MM)

    def table(
        self, x: float, y: float, rows: Sequence[Sequence[str]], widths: Sequence[float], pitch: float, shade: float
    ) -> None:
        """A fully ruled table whose top left is at (x, y), its first row bold on a grey; columns and rows in mm."""
        style = [
            ("GRID", (0, 0), (-1, -1), 0.6, "black"),
            ("BACKGROUND", (0, 0), (-1, 0), (shade,) * 3),
            ("FONT", (0, 0), (-1, -1), self._face(False), 10),
            ("FONT", (0, 0), (-1, 0), self._face(True), 10),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("ALIGN", (2, 0), (-1, -1), "CENTER"),
        ]
        table = Table(rows, [w / PT_MM for w in widths], pitch / PT_MM, style=style)
        _, high = table.wrapOn(self._canvas, self.width_mm / PT_MM, self.height_mm / PT_MM)
        table.drawOn(self._canvas, x / PT_MM, (self.height_mm - y) / PT_MM - high)

    def writing_line(
        self, field_id: str, label: str, x: float, baseline: float, end: float, *, dots: bool = False, high: float = 7.0
    ) -> None:
        """A label and a line to write on up to ``end``; one named "signature" is signed on."""
        start = self.text(x, baseline, label, 9) + 1.5
        self.line(start, baseline + 0.8, end, baseline + 0.8, 0.35 if dots else 0.2, dots)
        box = Box(start, baseline + 0.8 - high, end - start, high)
        kind = "signature" if field_id == "signature" else "text"
        self.fields.append(FormField(field_id, kind, "dots" if dots else "rule", box, label))

    def bare_lines(self, field_id: str, x: float, first: float, end: float, count: int, pitch: float) -> None:
        """Lines to write on without labels: fields ``field_id``.1 and so on."""
        for k in range(count):
            y = first + k * pitch
            self.line(x, y, end, y, 0.2)
            self.fields.append(FormField(f"{field_id}.{k + 1}", "text", "rule", Box(x, y - pitch, end - x, pitch)))

    def comb(
        self, field_id: str, label: str, x: float, y: float, cells: int, cell: tuple[float, float], charset: str
    ) -> None:
        """A row of cells whose top left is at (x, y); of hours the last is for tenths and stands apart by a point."""
        boxes = []
        for k in range(cells):
            apart = 2.0 if field_id == "hours" and k == cells - 1 else 0.0
            boxes.append(Box(x + k * cell[0] + apart, y, *cell))
            self.rect(boxes[-1], 0.2)
        if field_id == "hours":
            self.text(boxes[-1].x_mm - 1.5, y + cell[1], ".", 12, bold=True)
        whole = boxes[0].union(boxes[-1])
        self.fields.append(FormField(field_id, "comb", "comb", whole, label, tuple(boxes), charset))

    def choice(self, name: str, label: str, answers: Sequence[tuple[str, Box]], style: str) -> None:
        """An item's answers; frames are drawn if they are boxes, bare cells get theirs from the table."""
        if style == "box":
            for _, box in answers:
                self.rect(box, 0.25)
        whole = answers[0][1].union(answers[-1][1])
        self.fields.append(FormField(f"item.{name}", "choice", style, whole, label, answers=tuple(answers)))

    def mark(self, field_id: str, label: str, box: Box, style: str) -> None:
        """One box or bare cell for a sign."""
        if style == "box":
            self.rect(box, 0.25)
        self.fields.append(FormField(field_id, "mark", style, box, label))

    def zone(self, field_id: str, label: str, box: Box) -> None:
        """Room for writing whose frame, if any, is drawn already."""
        kind = "signature" if field_id == "signature" else "text"
        self.fields.append(FormField(field_id, kind, "area", box, label))

    def _face(self, bold: bool) -> str:
        if self.face == "Times":
            return "Times-Bold" if bold else "Times-Roman"
        return f"{self.face}-Bold" if bold else self.face
