"""What an old form is once it is drawn: a PDF, and the true place of everything on it that is filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from scanform.form.geometry import Box

__all__ = ["DrawnForm", "FormField", "layout_json"]


@dataclass(frozen=True)
class FormField:
    """One thing to fill in, placed in mm from the page's top left.

    ``kind``: comb, choice, mark, text or signature. ``style``: how its place is printed: "box" (a square), "cell" (a
    bare cell of a table), "glyph" (a box character of a typeface), "bracket" ("[ ]"), "word" (one of several words to
    circle), "comb", "rule", "dots" (a writing line, ruled or dotted) or "area" (room without a line). ``answers``: of
    a choice, each answer's box. ``cells_mm``: of a comb.
    """

    id: str
    kind: str
    style: str
    box_mm: Box
    label: str = ""
    cells_mm: tuple[Box, ...] = ()
    charset: str = ""
    answers: tuple[tuple[str, Box], ...] = ()


@dataclass(frozen=True)
class DrawnForm:
    """One print run of one form. ``legend``: what a sign or code letter written in a mark's box means."""

    name: str
    run: str
    pdf: bytes = field(repr=False)
    width_mm: float
    height_mm: float
    fields: tuple[FormField, ...]
    legend: Mapping[str, str]

    def field(self, field_id: str) -> FormField:
        """The field with that id; KeyError if the form has none."""
        for candidate in self.fields:
            if candidate.id == field_id:
                return candidate
        raise KeyError(field_id)


def layout_json(form: DrawnForm) -> dict[str, Any]:
    """The form's truth in the shape that ``scanform layout`` prints, with each field's label and style beside it."""
    page = {
        "page": 1,
        "width_mm": round(form.width_mm, 3),
        "height_mm": round(form.height_mm, 3),
        "fields": [_field_json(f) for f in form.fields],
    }
    return {
        "template": form.name,
        "version": form.run,
        "paper": _paper(form.width_mm, form.height_mm),
        "legend": dict(form.legend),
        "pages": [page],
    }


def _field_json(f: FormField) -> dict[str, Any]:
    described: dict[str, Any] = {"id": f.id, "kind": f.kind, "style": f.style, "label": f.label}
    if f.kind == "comb":
        return described | {"charset": f.charset, "cells_mm": [cell.rounded() for cell in f.cells_mm]}
    if f.kind == "choice":
        return described | {"answers": [{"answer": name, "box_mm": box.rounded()} for name, box in f.answers]}
    return described | {"box_mm": f.box_mm.rounded()}


def _paper(width_mm: float, height_mm: float) -> str:
    # ISO 216 A4 is 297 mm long, US Letter 279.4 mm.
    return "a4" if max(width_mm, height_mm) > 290 else "letter"
