"""Small old forms as pages: a blank with rules and words, written on with real strokes, lying as the sheet does."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanform.form import AdoptedTemplate, Box, Layout, lay_out
from scanform.form.typeface import font_file
from scanform.intake import Page
from scanform.locate import LocatedSheet, PageMap
from scanform.simulate import DPI, Writer, random_writer, write_text
from scanform.simulate.pens import PEN_KINDS

PX = DPI / 25.4
WIDTH_MM, HEIGHT_MM = 120.0, 84.0
UNIT, DATE, HOURS = Box(22.0, 4.0, 60.0, 8.0), Box(22.0, 16.0, 60.0, 8.0), Box(22.0, 28.0, 60.0, 8.0)
COUNT, REMARKS = Box(90.0, 28.0, 26.0, 8.0), Box(8.0, 54.0, 104.0, 26.0)
WORDS_TOP_MM = 43.0
Paint = Callable[[np.ndarray], None]


def _drawn() -> tuple[np.ndarray, list[dict]]:
    image = Image.new("L", (round(WIDTH_MM * PX), round(HEIGHT_MM * PX)), 255)
    draw, font = ImageDraw.Draw(image), ImageFont.truetype(str(font_file(False)), round(10 / 72 * DPI))
    for label, box in (("Unit", UNIT), ("Date", DATE), ("Hours", HOURS)):
        draw.text((6 * PX, (box.y_mm + 4) * PX), label, font=font, fill=0, anchor="lm")
        draw.line([box.x_mm * PX, box.bottom_mm * PX, box.right_mm * PX, box.bottom_mm * PX], fill=0, width=3)
    answers, x = [], 40.0
    for name, word in (("ok", "OK"), ("defect", "Repair"), ("na", "NA")):
        at = (x * PX, WORDS_TOP_MM * PX)
        draw.text(at, word, font=font, fill=0, anchor="lm")
        x0, y0, x1, y1 = (v / PX for v in draw.textbbox(at, word, font=font, anchor="lm"))
        answers.append({"answer": name, "box_mm": [x0, y0, x1 - x0, y1 - y0]})
        x = x1 + 6
    return np.array(image), answers


def layout_of(pattern: str = "") -> Layout:
    """The form; ``pattern``: the order that it prints beside its date."""
    pixels, answers = _drawn()
    buffer = io.BytesIO()
    Image.fromarray(pixels).resize((round(WIDTH_MM * 8), round(HEIGHT_MM * 8)), Image.Resampling.BOX).save(
        buffer, "PNG"
    )
    png = buffer.getvalue()
    template = AdoptedTemplate.model_validate({
        "name": "day-card",
        "version": 1,
        "title": "Day card",
        "width_mm": WIDTH_MM,
        "height_mm": HEIGHT_MM,
        "picture": {"file": "day-card.png", "sha256": hashlib.sha256(png).hexdigest()},
        "picture_png": png,
        "walk": [{"stage": "Checks", "items": [{"name": "oil", "text": "Oil level"}]}],
        "fields": [
            {"id": "unit", "kind": "text", "box_mm": UNIT},
            {"id": "date", "kind": "date", "pattern": pattern, "box_mm": DATE},
            {"id": "hours", "kind": "number", "box_mm": HOURS},
            {"id": "loads", "kind": "number", "box_mm": COUNT},
            {"id": "item.oil", "kind": "circle", "answers": answers},
            {"id": "remarks", "kind": "text", "box_mm": REMARKS},
        ],
    })  # fmt: skip
    return lay_out(template, template.paper)


def neat_writer(seed: int = 8_410_007) -> Writer:
    """A hand that prints plainly with a black gel pen."""
    _, _, grey, _, _, _ = PEN_KINDS["gel"]
    writer = random_writer(np.random.default_rng(seed))
    pen = replace(writer.pen, kind="gel", width_mm=0.45, grey=grey[0], skips=0.0, grain=0.05)
    return replace(
        writer, pen=pen, text_face="futural", slant=0.05, text_height=0.48, spacing=0.26, jitter=0.006, haste=0.8,
        joining=0.0, wander_mm=0.1, letters="title", turn_deg=0.8, personal_bend=0.015,
    )  # fmt: skip


def page_with(layout: Layout, *strokes: Paint, off_mm: tuple[float, float] = (0.0, 0.0)) -> LocatedSheet:
    """The form written on, found with its map off by ``off_mm``."""
    pixels, _ = _drawn()
    for paint in strokes:
        paint(pixels)
    homography = np.array([[PX, 0.0, -0.5 + off_mm[0] * PX], [0.0, PX, -0.5 + off_mm[1] * PX], [0.0, 0.0, 1.0]])
    return LocatedSheet(
        page=Page("old.png", 1, "0" * 64, pixels), layout=layout, code=None,
        map=PageMap(homography, (WIDTH_MM, HEIGHT_MM)), raster=pixels, raster_scale=1.0, shifts_mm={}, doubts_mm={},
        residual_mm=0.1, marks_found=0, artwork_found=1.0, paper_grey=255.0, print_grey=0.0,
    )  # fmt: skip


def writing(text: str, box: Box, seed: int = 8_420_000) -> Paint:
    """Somebody neat writes one line into a place of the form."""
    return lambda pixels: _write(pixels, text, box, seed)


def _write(pixels: np.ndarray, text: str, box: Box, seed: int) -> None:
    write_text(pixels, box, text, neat_writer(), np.random.default_rng(seed))


def word_box(layout: Layout, answer: str) -> Box:
    """Where one of the words to circle is printed."""
    return next(a.box_mm for a in layout.field("item.oil").answers if a.answer == answer)
