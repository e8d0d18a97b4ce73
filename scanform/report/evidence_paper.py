"""What the evidence pack's PDF is set with: its styles, paragraphs, tables, and the foot of every page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Table

from scanform.form.typeface import MM_PER_PT, wrapped
from scanform.report.cautions import CAUTION
from scanform.report.look import BOLD, DANGER, FAINT, INK, MUTED, REGULAR, printable

__all__ = [
    *("ALARM", "HEADING", "PLAIN", "ROOM", "SHEET_HEADING", "SIDE", "SMALL", "STRONG", "TITLE"),
    *("foot", "paragraph", "table"),
]

SIDE = 40.0
ROOM = A4[0] - 2 * SIDE

PLAIN = ParagraphStyle("plain", fontName=REGULAR, fontSize=8.5, leading=11, textColor=INK, alignment=TA_LEFT)
SMALL = ParagraphStyle("small", parent=PLAIN, fontSize=7, leading=9, textColor=MUTED)
CELL = ParagraphStyle("cell", parent=PLAIN, fontSize=7.5, leading=9.5)
STRONG = ParagraphStyle("strong", parent=PLAIN, fontName=BOLD)
ALARM = ParagraphStyle("alarm", parent=STRONG, textColor=DANGER)
TITLE = ParagraphStyle("title", parent=PLAIN, fontName=BOLD, fontSize=18, leading=23)
HEADING = ParagraphStyle(
    "heading", parent=PLAIN, fontName=BOLD, fontSize=13, leading=17, spaceBefore=12, spaceAfter=4, keepWithNext=1
)
SHEET_HEADING = ParagraphStyle(
    "sheet", parent=PLAIN, fontName=BOLD, fontSize=10, leading=13, spaceBefore=8, keepWithNext=1
)


def paragraph(text: str, style: ParagraphStyle = PLAIN) -> Paragraph:
    """Text as it stands, whatever signs are in it."""
    return Paragraph(escape(printable(text)), style)


def foot(title: str) -> Callable[[Canvas, SimpleDocTemplate], None]:
    """What draws the foot of every page: the title, the page's number, and the caution."""

    def draw(canvas: Canvas, document: SimpleDocTemplate) -> None:
        canvas.saveState()
        canvas.setFont(REGULAR, 7)
        canvas.setFillColor(MUTED)
        canvas.drawString(SIDE, 34, printable(title))
        canvas.drawRightString(A4[0] - SIDE, 34, f"page {document.page}")
        canvas.setFont(BOLD, 6.5)
        for row, line in enumerate(wrapped(CAUTION, 6.5, ROOM * MM_PER_PT, bold=True)):
            canvas.drawString(SIDE, 25 - 8 * row, line)
        canvas.restoreState()

    return draw


def table(head: Sequence[str], body: Sequence[Sequence[Flowable | str]], widths: Sequence[float]) -> Table:
    """A table across the page; ``widths``: of its columns, in any measure that they share."""
    cells = [[paragraph(h, SMALL) for h in head]]
    cells += [[c if isinstance(c, Flowable) else paragraph(c, CELL) for c in row] for row in body]
    scale = ROOM / sum(widths)
    drawn = Table(cells, colWidths=[w * scale for w in widths], repeatRows=1, hAlign="LEFT")
    drawn.setStyle(
        [
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, FAINT),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            *(("LEFTPADDING", (0, 0), (-1, -1), 2), ("RIGHTPADDING", (0, 0), (-1, -1), 4)),
            *(("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 2)),
        ]
    )
    return drawn
