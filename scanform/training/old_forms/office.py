"""Forms made as spreadsheets and letters: LibreOffice turns flat OpenDocument files into PDF.

Where things came to lie is asked of the finished PDF: rules from its vectors, letters from its text. Needs Debian's
libreoffice-calc-nogui and libreoffice-writer-nogui.
"""

from __future__ import annotations

import io
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pdfplumber
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from pdfplumber.page import Page as PdfPage

from scanform.form.geometry import Box

__all__ = ["SOFFICE", "converted", "first_page", "glyph_boxes_on", "leader", "runs_of", "snapped"]

SOFFICE = "/usr/bin/soffice"
_MM = 25.4 / 72
_PATIENCE_S = 180
_MOST_SNAP_MM = 0.5  # LibreOffice rounds widths to twips and shares rules between neighbours; more is another rule
_DEJAVU = Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf")  # Debian's fonts-dejavu-core


def converted(document: str, suffix: str) -> bytes:
    """A flat OpenDocument text (``suffix`` ".fods" or ".fodt") as PDF bytes. RuntimeError if LibreOffice makes none."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / f"form{suffix}"
        source.write_text(document, encoding="utf-8")
        # A profile of its own: a second LibreOffice on the same one would hand its work to the first and end.
        profile = f"-env:UserInstallation=file://{folder}/profile"
        command = [SOFFICE, profile, "--headless", "--convert-to", "pdf", "--outdir", folder, str(source)]
        said = subprocess.run(command, capture_output=True, text=True, timeout=_PATIENCE_S, check=False)
        made = source.with_suffix(".pdf")
        if not made.exists():
            raise RuntimeError(f"LibreOffice made no PDF: {said.stdout} {said.stderr}")
        return made.read_bytes()


def first_page(pdf: bytes) -> PdfPage:
    """The only page; ValueError if the form did not fit on one."""
    document = pdfplumber.open(io.BytesIO(pdf))
    if len(document.pages) != 1:
        raise ValueError(f"the form takes {len(document.pages)} pages")
    return document.pages[0]


def snapped(page: PdfPage, xs: Sequence[float], ys: Sequence[float]) -> tuple[list[float], list[float]]:
    """Column and row edges as meant (mm), moved onto the rules that are in the PDF. ValueError if one has no rule."""
    upright = [edge["x0"] * _MM for edge in page.edges if edge["orientation"] == "v"]
    level = [edge["top"] * _MM for edge in page.edges if edge["orientation"] == "h"]
    return [_middle_near(upright, x) for x in xs], [_middle_near(level, y) for y in ys]


def _middle_near(places: Sequence[float], at: float) -> float:
    near = [place for place in places if abs(place - at) < _MOST_SNAP_MM]
    if not near:
        raise ValueError(f"no rule within {_MOST_SNAP_MM} mm of {at:.2f} mm")
    return (min(near) + max(near)) / 2


def glyph_boxes_on(page: PdfPage, sign: str) -> list[Box]:
    """The ink of every ``sign`` set in DejaVu Sans, in reading order."""
    font = TTFont(_DEJAVU)
    glyphs = font.getGlyphSet()
    pen = BoundsPen(glyphs)
    glyphs[font.getBestCmap()[ord(sign)]].draw(pen)
    assert pen.bounds is not None
    left, low, right, high = (value / font["head"].unitsPerEm for value in pen.bounds)
    boxes = []
    for char in page.chars:
        if char["text"] != sign:
            continue
        x, base, size = char["matrix"][4], float(page.height) - char["matrix"][5], char["size"]
        boxes.append(
            Box(*((v * _MM) for v in (x + left * size, base - high * size, (right - left) * size, (high - low) * size)))
        )
    return sorted(boxes, key=lambda box: (round(box.y_mm), box.x_mm))


def leader(page: PdfPage, label: str, high_mm: float, sign: str = ".") -> Box:
    """Room to write above the run of dots, or of another ``sign``, after ``label``; ValueError if there is none."""
    chars = sorted(page.chars, key=lambda c: (round(c["bottom"]), c["x0"]))
    text = "".join(c["text"] for c in chars)
    at = text.find(label)
    if at < 0:
        raise ValueError(f"{label!r} is not in the form")
    start = end = at + len(label)
    while end < len(text) and text[end] in (sign, " "):
        end += 1
    dots = [c for c in chars[start:end] if c["text"] == sign]
    # The next line may begin with the same sign.
    dots = [c for c in dots if abs(c["matrix"][5] - dots[0]["matrix"][5]) < 1]
    if not dots:
        raise ValueError(f"no {sign} follows {label!r}")
    base = (float(page.height) - dots[0]["matrix"][5]) * _MM
    left, right = dots[0]["x0"] * _MM, dots[-1]["x1"] * _MM
    return Box(left, base - high_mm, right - left, high_mm)


def runs_of(page: PdfPage, sign: str, high_mm: float) -> list[Box]:
    """Room to write above every run of a leader's sign, in reading order."""
    runs: list[list[dict[str, Any]]] = []
    level = [c for c in page.chars if c["text"] == sign]
    for char in sorted(level, key=lambda c: (round(-c["matrix"][5]), c["x0"])):
        last = runs[-1][-1] if runs else None
        if last is not None and abs(last["matrix"][5] - char["matrix"][5]) < 1 and char["x0"] - last["x1"] < 1:
            runs[-1].append(char)
        else:
            runs.append([char])
    boxes = []
    for run in runs:
        base = (float(page.height) - run[0]["matrix"][5]) * _MM
        left, right = run[0]["x0"] * _MM, run[-1]["x1"] * _MM
        boxes.append(Box(left, base - high_mm, right - left, high_mm))
    return boxes
