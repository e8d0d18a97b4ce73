"""A small form that scanform did not print, drawn and written down by hand, for the tests of adopted paper."""

from __future__ import annotations

import hashlib
import io
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from scanform.form import BLANK_PX_PER_MM, AdoptedTemplate

WIDTH_MM, HEIGHT_MM = 148.0, 210.0
ITEMS = {"oil": "Engine oil level", "lights": "Lights and beacon", "brakes": "Brakes hold"}


def drawn_blank() -> bytes:
    """The blank as a grey PNG at 8 px/mm: heading, a unit comb, a line for the date, three rows of two boxes."""
    scale = BLANK_PX_PER_MM
    image = Image.new("L", (round(WIDTH_MM * scale), round(HEIGHT_MM * scale)), 255)
    draw = ImageDraw.Draw(image)
    for field in _fields():
        for x, y, w, h in [*field.get("cells_mm", []), *(a["box_mm"] for a in field.get("answers", []))]:
            draw.rectangle([x * scale, y * scale, (x + w) * scale, (y + h) * scale], outline=0, width=2)
    draw.line([90 * scale, 38 * scale, 138 * scale, 38 * scale], fill=0, width=2)
    buffer = io.BytesIO()
    Image.fromarray(np.array(image)).save(buffer, "PNG")
    return buffer.getvalue()


def _fields() -> list[dict[str, Any]]:
    rows = [
        {
            "id": f"item.{name}",
            "kind": "choice",
            "label": text,
            "answers": [
                {"answer": "ok", "box_mm": [100.0, 60.0 + 10 * n, 4.0, 4.0]},
                {"answer": "defect", "box_mm": [115.0, 60.0 + 10 * n, 4.0, 4.0]},
            ],
        }
        for n, (name, text) in enumerate(ITEMS.items())
    ]
    unit = {
        "id": "unit",
        "kind": "comb",
        "charset": "alnum",
        "cells_mm": [[20.0 + 6 * n, 30.0, 6.0, 8.0] for n in range(5)],
    }
    return [unit, {"id": "date", "kind": "date", "pattern": "dmy", "box_mm": [90.0, 30.0, 48.0, 8.0]}, *rows]


def form_data() -> dict[str, Any]:
    """What the form's file says, as plain data without the picture."""
    picture = drawn_blank()
    return {
        "name": "plant-card",
        "version": 1,
        "title": "Plant card",
        "walk": [{"stage": "Checks", "items": [{"name": n, "text": t} for n, t in ITEMS.items()]}],
        "width_mm": WIDTH_MM,
        "height_mm": HEIGHT_MM,
        "picture": {"file": "plant-card.png", "sha256": hashlib.sha256(picture).hexdigest()},
        "fields": _fields(),
        "signs": [{"sign": "tick", "answer": "ok", "words": "good"}],
        "words": [{"text": "Plant", "box_mm": [20.0, 10.0, 18.0, 5.0]}],
        "rules_mm": [{"from_mm": [90.0, 38.0], "to_mm": [138.0, 38.0]}],
    }


def a_form(**changes: object) -> AdoptedTemplate:
    """The form, with other values for some of its keys."""
    return AdoptedTemplate.model_validate(form_data() | {"picture_png": drawn_blank()} | changes)
