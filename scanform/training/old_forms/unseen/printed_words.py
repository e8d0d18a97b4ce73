"""Where words were printed on a finished page."""

from __future__ import annotations

from pdfplumber.page import Page as PdfPage

from scanform.form.geometry import Box

__all__ = ["words_on"]

_MM = 25.4 / 72
_ASCENT, _DESCENT = 0.891, 0.216  # of the size: Liberation Serif's own; what a PDF says of its fonts' heights is not


def words_on(page: PdfPage, word: str) -> list[Box]:
    """The room that every ``word`` by itself takes, mm, line by line: from its font's ascent to its descent."""
    boxes = []
    for found in page.search(rf"\b{word}\b"):
        first = found["chars"][0]
        base, size = (float(page.height) - first["matrix"][5]) * _MM, first["size"] * _MM
        left, right = found["x0"] * _MM, found["x1"] * _MM
        boxes.append(Box(left, base - _ASCENT * size, right - left, (_ASCENT + _DESCENT) * size))
    return sorted(boxes, key=lambda box: (round(box.y_mm), box.x_mm))
