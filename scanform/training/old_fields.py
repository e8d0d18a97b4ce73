"""Pages full of what old forms ask for (words to circle, dates, hours, units), written, scanned, and their truth.

For fitting :mod:`scanform.read.old` and :mod:`scanform.settle.old`: one page holds as many such fields as thirty of a
binder, on print of several styles. What is published is measured on whole forms (:mod:`scanform.training.old_forms`).
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanform.form import AdoptedTemplate, Box, Layout, lay_out
from scanform.form.typeface import font_file
from scanform.intake import Page
from scanform.locate import LocatedSheet, PageMap
from scanform.locate.warp import fit_homography, fit_polynomial, polynomial_terms
from scanform.simulate import DPI, Grade, Writer, random_unit, random_writer, scan, write_text
from scanform.simulate.wear import photocopied
from scanform.training.old_rings import answer_by_hand

__all__ = ["KINDS", "FieldPage", "Truth", "Writing", "make_field_page"]

_WIDTH_MM, _HEIGHT_MM = 210.0, 165.0
_PX = DPI / 25.4
_PITCH_MM, _ROWS = 9.6, 15
_FIRST_NUMBER = 300  # of a field in its id: no day of a month
_COLUMNS_MM = (12.0, 110.0)
KINDS = ("circle", "date", "circle", "hours", "circle", "unit")
Writing = Callable[[np.ndarray, Box, str, Writer, np.random.Generator], object]
_WORDS = (
    ("OK", "Repair", "NA"),
    ("Good", "Bad"),
    ("Yes", "No", "N/A"),
    ("OK", "Defect"),
    ("Pass", "Fail"),
    ("G", "F", "P"),
)
_STYLES = ("rule", "dots", "underscores", "box", "area", "shaded")
_DATES = {
    "dmy": ("%d/%m/%Y", "%-d/%-m/%y", "%d.%m.%y", "%-d-%-m-%Y", "%d %m %y", "%-d.%-m.%Y"),
    "mdy": ("%m/%d/%Y", "%-m/%-d/%y", "%m-%d-%y", "%-m.%-d.%Y"),
    "either": ("%-d %b %Y", "%Y-%m-%d", "%b %-d %Y", "%-d %B %y", "%-d-%b-%y", "%B %-d, %Y", "%d/%b/%Y"),
}
_HOURS = ("{:.1f}", "{:.1f}", "{:.1f} h", "{:.0f}", "{:.0f}", "{:,.0f}", "{:.1f} hrs")
_NEWEST = date(2026, 6, 30)


@dataclass(frozen=True)
class Truth:
    """``value`` as a reader should give it, ``text`` as it is written; ``unclear``: no value is right. ``done``: of
    words to circle, what was done to each.
    """

    value: str | None
    text: str = ""
    unclear: bool = False
    done: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class FieldPage:
    """A located page and the truth of its fields by id. ``order``: of its numeric dates, ``dmy`` or ``mdy``."""

    sheet: LocatedSheet
    truth: dict[str, Truth]
    grade: Grade
    order: str
    writer: Writer = field(repr=False)


def make_field_page(
    seed: int, grade: Grade | str, kinds: Sequence[str] = KINDS, write: Writing = write_text
) -> FieldPage:
    """One page; only what is given here decides what is on it.

    ``kinds``: of its fields, one after the other; ``write``: puts a line of text into a place.
    """
    rng = np.random.default_rng(seed)
    writer = random_writer(rng)
    form = _Form(rng, kinds)
    blank = form.drawn()
    page = photocopied(blank, DPI, rng) if rng.random() < 0.5 else blank.copy()
    order = "dmy" if rng.random() < 0.5 else "mdy"
    styles = _DATES[order if rng.random() < 0.65 else "either"]
    truth: dict[str, Truth] = {}
    for spec in form.fields:
        truth[spec["id"]] = _written(page, spec, writer, styles, rng, write)
    seen = scan(page, grade, rng)
    return FieldPage(_located(form.layout(blank, rng), seen, rng), truth, Grade(grade), order, writer)


class _Form:
    """One blank: two columns of rows, each with a label and a place to write or words to circle."""

    def __init__(self, rng: np.random.Generator, kinds: Sequence[str]) -> None:
        self._rng = rng
        self.fields: list[dict[str, Any]] = []
        self._image = Image.new("L", (round(_WIDTH_MM * _PX), round(_HEIGHT_MM * _PX)), 255)
        self._draw = ImageDraw.Draw(self._image)
        style = str(rng.choice(_STYLES))
        size_pt = float(rng.uniform(8, 11))
        self._font = ImageFont.truetype(str(font_file(bool(rng.random() < 0.2))), round(size_pt / 72 * DPI))
        words = _WORDS[int(rng.integers(len(_WORDS)))]
        gap = float(rng.uniform(2.5, 8.0))
        slashed = rng.random() < 0.3
        number = _FIRST_NUMBER
        for left in _COLUMNS_MM:
            for row in range(_ROWS):
                number += 1
                kind = kinds[number % len(kinds)]
                top = 10.0 + row * _PITCH_MM
                if kind == "circle":
                    self._words(f"check.{number}", left + 25, top, words, gap, slashed)
                else:
                    self._line(f"{kind}.{number}", left, top, style)

    def _print(self, x_mm: float, middle_mm: float, text: str) -> Box:
        """Prints a word with its left end and its middle there; gives the box of its ink."""
        self._draw.text((x_mm * _PX, middle_mm * _PX), text, font=self._font, fill=0, anchor="lm")
        x0, y0, x1, y1 = self._draw.textbbox((x_mm * _PX, middle_mm * _PX), text, font=self._font, anchor="lm")
        return Box(x0 / _PX, y0 / _PX, (x1 - x0) / _PX, (y1 - y0) / _PX)

    def _words(self, name: str, x: float, top: float, words: tuple[str, ...], gap: float, slashed: bool) -> None:
        self._print(x - 25, top + 4, "Oil level")
        answers = []
        for n, word in enumerate(words):
            box = self._print(x, top + 4, word)
            answers.append({"answer": f"a{n}", "box_mm": list(box)})
            if slashed and n + 1 < len(words):
                self._print(box.right_mm + gap / 2 - 0.5, top + 4, "/")
            x = box.right_mm + gap
        self.fields.append({"id": name, "kind": "circle", "answers": answers})

    def _line(self, name: str, left: float, top: float, style: str) -> None:
        label = self._print(left, top + 5, name.partition(".")[0].capitalize() + ":")
        x0, x1 = label.right_mm + 1, left + float(self._rng.uniform(62, 88))
        bottom = top + 8.0
        draw, px = self._draw, _PX
        if style == "rule":
            draw.line([x0 * px, bottom * px, x1 * px, bottom * px], fill=0, width=int(self._rng.integers(2, 5)))
        elif style == "dots":
            for n in range(int((x1 - x0) / 1.0)):
                x, y = (x0 + n) * px, (bottom - 0.3) * px
                draw.ellipse([x - 2, y - 2, x + 2, y + 2], fill=0)
        elif style == "underscores":
            for n in range(int((x1 - x0) / 2.0)):
                draw.line([(x0 + 2 * n) * px, bottom * px, (x0 + 2 * n + 1.9) * px, bottom * px], fill=0, width=3)
        elif style == "box":
            draw.rectangle([x0 * px, (top + 0.5) * px, x1 * px, bottom * px], outline=0, width=3)
        elif style == "shaded":
            draw.rectangle([x0 * px, (top + 0.5) * px, x1 * px, bottom * px], fill=225)
        kind = {"date": "date", "hours": "number", "unit": "text"}[name.partition(".")[0]]
        self.fields.append({"id": name, "kind": kind, "box_mm": [x0, top + 0.5, x1 - x0, bottom - top - 0.5]})

    def drawn(self) -> np.ndarray:
        """The blank, uint8 at 300 dpi."""
        return np.array(self._image)

    def layout(self, blank: np.ndarray, rng: np.random.Generator) -> Layout:
        """The blank as a template has it: its picture drawn, or a copy's."""
        shown = photocopied(blank, DPI, rng) if rng.random() < 0.5 else blank
        size = round(_WIDTH_MM * 8), round(_HEIGHT_MM * 8)
        buffer = io.BytesIO()
        Image.fromarray(shown).resize(size, Image.Resampling.BOX).save(buffer, "PNG", compress_level=1)
        png = buffer.getvalue()
        data = {
            "name": "field-page",
            "version": 1,
            "title": "Fields of old forms",
            "width_mm": _WIDTH_MM,
            "height_mm": _HEIGHT_MM,
            "picture": {"file": "field-page.png", "sha256": hashlib.sha256(png).hexdigest()},
            "picture_png": png,
            "fields": self.fields,
        }
        template = AdoptedTemplate.model_validate(data)
        return lay_out(template, template.paper)


def _written(
    page: np.ndarray,
    spec: dict[str, Any],
    writer: Writer,
    styles: tuple[str, ...],
    rng: np.random.Generator,
    write: Writing,
) -> Truth:
    kind = spec["id"].partition(".")[0]
    if kind == "check":
        boxes = [Box(*answer["box_mm"]) for answer in spec["answers"]]
        done = answer_by_hand(page, boxes, writer, rng)
        return _circled(done, [answer["answer"] for answer in spec["answers"]])
    if rng.random() < 0.05:
        return Truth(None)
    if kind == "date":
        on = _NEWEST - timedelta(days=int(rng.integers(0, 900)))
        value, text = on.isoformat(), on.strftime(str(rng.choice(styles)))
    elif kind == "hours":
        hours = Decimal(int(rng.integers(200, 250_000))) / 10
        text = _HOURS[int(rng.integers(len(_HOURS)))].format(hours)
        value = text.replace(",", "").partition(" ")[0]
    else:
        value = random_unit(int(rng.integers(4, 7)), rng)
        letters = value.rstrip("0123456789")
        between = str(rng.choice(["", "", "-", " "])) if letters and letters != value else ""
        text = letters + between + value[len(letters) :]
    zone = Box(*spec["box_mm"])
    write(page, Box(zone.x_mm, zone.y_mm, min(zone.w_mm, 55.0), zone.h_mm), text, writer, rng)
    return Truth(value, text)


def _circled(done: tuple[str, ...], answers: list[str]) -> Truth:
    marked = [answer for answer, state in zip(answers, done, strict=True) if state == "marked"]
    left = [answer for answer, state in zip(answers, done, strict=True) if state == "none"]
    struck = len(done) - len(marked) - len(left)
    if struck and not marked and len(left) == 1:
        return Truth(left[0], done=done)
    return Truth(marked[0] if len(marked) == 1 else None, done=done, unclear=len(marked) > 1 or struck > 0)


def _located(layout: Layout, seen: Any, rng: np.random.Generator) -> LocatedSheet:
    """The page as it would be located, its map off by what locating leaves."""
    size = (layout.width_mm, layout.height_mm)
    mesh = np.stack(np.meshgrid(np.linspace(0, size[0], 15), np.linspace(0, size[1], 12)), axis=-1).reshape(-1, 2)
    true = seen.page_mm_to_px(mesh)
    rough = PageMap(fit_homography(mesh, true, 20.0)[0], size)
    left = (true - rough.to_px(mesh)) / rough.px_per_mm()
    terms, weights = polynomial_terms(mesh, size, 3), np.ones(len(mesh))
    correction = np.stack([fit_polynomial(terms, left[:, k], weights) for k in (0, 1)], axis=1)
    correction[:3] += rng.normal(0, 0.08, (3, 2))
    paper, black = np.percentile(seen.pixels, (90, 0.5))
    page = Page("old.pdf", 1, "0" * 64, np.ascontiguousarray(seen.pixels))
    return LocatedSheet(
        page=page,
        layout=layout,
        code=None,
        map=rough.corrected_by(correction),
        raster=page.pixels,
        raster_scale=1.0,
        shifts_mm={},
        doubts_mm={},
        residual_mm=0.1,
        marks_found=0,
        artwork_found=1.0,
        paper_grey=float(paper),
        print_grey=float(min(black, paper - 40)),
    )
