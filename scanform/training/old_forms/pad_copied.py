"""An old form of which only a photocopy is left: a PDF that is a picture. All names are invented."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from scanform.form.geometry import Box
from scanform.simulate import DPI, render_pdf
from scanform.simulate.wear import photocopied
from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.pad import PT_MM, Pad
from scanform.training.old_forms.wording import item, items

__all__ = ["dumper_copy"]

_COPIER_SEED = 9_790_000


def dumper_copy(run: str) -> DrawnForm:
    """Dots lead from each item to two boxes; labels over boxed header fields; copied once, words no longer text."""
    pad = Pad(210.0, 297.0)
    pad.centred(105, 20, "RIGID DUMPER - DRIVER'S CHECK", 14, bold=True)
    pad.centred(105, 26, "Harrowgill Whinstone", 10)
    for field_id, label, x, wide in (
        ("unit", "Dumper number", 18.0, 40.0),
        ("date", "Date", 62.0, 40.0),
        ("hours", "Hour meter reading", 106.0, 42.0),
        ("shift", "Shift", 152.0, 40.0),
    ):
        pad.text(x, 34, label, 8)
        box = Box(x, 35.5, wide, 9.0)
        pad.rect(box, 0.3)
        pad.zone(field_id, label, box)
    pad.writing_line("operator", "Driver's name", 18, 55, 110)
    pad.writing_line("site", "Working at", 116, 55, 192)
    pad.centred(162, 63, "Good", 9, bold=True)
    pad.centred(182, 63, "Bad", 9, bold=True)
    names = items(23, start=2, step=5)
    for k, name in enumerate(names):
        y = 65 + 7.3 * k
        end = pad.text(18, y + 4, f"{k + 1}  {item(name)}", 10)
        pad.line(end + 2, y + 4, 155, y + 4, 0.3, dots=True)
        boxes = [(a, Box(x, y, 5.0, 5.0)) for a, x in (("ok", 159.5), ("defect", 179.5))]
        pad.choice(name, item(name), boxes, "box")
    pad.text(18, 241, "State what is bad:", 9, bold=True)
    pad.bare_lines("remarks", 18, 250, 192, 3, 8)
    pad.writing_line("signature", "Driver's signature", 18, 280, 110, high=9)
    drawn = pad.form("dumper-copy", run)
    (page,) = render_pdf(drawn.pdf, DPI)
    copy = photocopied(page, DPI, np.random.default_rng(_COPIER_SEED))
    return DrawnForm(drawn.name, run, _as_picture(copy, drawn), drawn.width_mm, drawn.height_mm, drawn.fields, {})


def _as_picture(page: np.ndarray, form: DrawnForm) -> bytes:
    stream, size = io.BytesIO(), (form.width_mm / PT_MM, form.height_mm / PT_MM)
    canvas = Canvas(stream, pagesize=size, invariant=True)
    canvas.drawImage(ImageReader(Image.fromarray(page)), 0, 0, *size)
    canvas.showPage()
    canvas.save()
    return stream.getvalue()
