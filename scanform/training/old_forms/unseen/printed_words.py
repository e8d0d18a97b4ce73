"""Where words were printed on a finished page."""

from __future__ import annotations

from pdfplumber.page import Page as PdfPage

from scanform.form.geometry import Box

__all__ = ["words_on"]

_MM = 25.4 / 72


def words_on(page: PdfPage, word: str) -> list[Box]:
    """The room that every ``word`` by itself takes, mm, line by line: from its font's ascent to its descent."""
    found = page.search(rf"\b{word}\b")
    boxes = [
        Box(w["x0"] * _MM, w["top"] * _MM, (w["x1"] - w["x0"]) * _MM, (w["bottom"] - w["top"]) * _MM) for w in found
    ]
    return sorted(boxes, key=lambda box: (round(box.y_mm), box.x_mm))
