"""How pictures and PDFs look: one typeface, few colours, and nothing that is told by colour alone."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

from reportlab.graphics import renderPDF, renderSVG
from reportlab.graphics.shapes import Drawing, String
from reportlab.lib.colors import Color, HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from scanform.errors import UsageError
from scanform.files import told, write_whole
from scanform.form.typeface import font_file, unprintable
from scanform.report.own_files import CREATOR, save_png

__all__ = [
    "BOLD",
    "DANGER",
    "FAINT",
    "GOOD",
    "INK",
    "MUTED",
    "PICTURES",
    "REGULAR",
    "WARN",
    "drawing_svg",
    "fonts",
    "printable",
    "save_drawing",
    "write",
]

REGULAR, BOLD = "ReportSans", "ReportSans-Bold"
INK: Color = HexColor("#1f2a36")
MUTED: Color = HexColor("#66727f")
FAINT: Color = HexColor("#dde2e7")
GOOD: Color = HexColor("#3d6f8e")
WARN: Color = HexColor("#c77f12")
DANGER: Color = HexColor("#b3261e")
PICTURES = (".pdf", ".svg", ".png")
_FACES = "Verdana, DejaVu Sans, sans-serif"
_PNG_SCALE = 2.0  # 144 dpi


def fonts() -> None:
    """Make the typeface known to reportlab; harmless when done twice."""
    for name, bold in ((REGULAR, False), (BOLD, True)):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(font_file(bold))))
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)


def printable(text: str) -> str:
    """The text with a question mark for each character that the typeface lacks, so that none vanishes."""
    return "".join("?" if unprintable(char) else char for char in " ".join(text.split()))


def write(
    drawing: Drawing,
    x: float,
    y: float,
    text: str,
    size: float = 8,
    bold: bool = False,
    colour: Color = INK,
    anchor: str = "start",
) -> None:
    """Put a line of print on a drawing; points from its lower left corner."""
    fonts()
    name = BOLD if bold else REGULAR
    said = String(x, y, printable(text), fontName=name, fontSize=size, fillColor=colour, textAnchor=anchor)
    drawing.add(said)


def save_drawing(drawing: Drawing, path: Path) -> Path:
    """Write a drawing as PDF, SVG or PNG, by the file's ending; UsageError for another, or if it cannot be written."""
    fonts()
    kind = path.suffix.lower()
    if kind not in PICTURES:
        raise UsageError(f"{path}: a picture ends in .pdf, .svg or .png; name it so.")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if kind == ".svg":
            write_whole(path, (renderSVG.drawToString(drawing).encode(),))
        else:
            data = renderPDF.drawToString(drawing, canvasMaker=_canvas)
            write_whole(path, (data if kind == ".pdf" else _png(data),))
    except OSError as problem:
        raise UsageError(f"{path} cannot be written: {told(problem)}, or name another place.") from problem
    return path


def drawing_svg(drawing: Drawing) -> str:
    """A drawing as SVG for a page on a screen, in typefaces that browsers have."""
    fonts()
    svg = str(renderSVG.drawToString(drawing))
    svg = re.sub(rf"font-family:\s*{BOLD}", f"font-weight: bold; font-family: {_FACES}", svg)
    return re.sub(rf"font-family:\s*{REGULAR}", f"font-family: {_FACES}", svg)


def _canvas(*arguments: Any, **keys: Any) -> Canvas:
    canvas = Canvas(*arguments, **keys)
    canvas.setCreator(CREATOR)
    return canvas


def _png(pdf: bytes) -> bytes:
    import pypdfium2  # not at the top: PDF and SVG need nothing of it

    out = io.BytesIO()
    document = pypdfium2.PdfDocument(pdf)
    save_png(document[0].render(scale=_PNG_SCALE).to_pil(), out)
    document.close()
    return out.getvalue()
