"""A sheet's printed artwork as a picture, for matching against pages on which too few marks can be seen."""

from __future__ import annotations

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanform.form import Layout
from scanform.form.typeface import MM_PER_PT, font_file

__all__ = ["artwork_picture"]

_FINER = 2  # drawn so much larger and averaged down, so that thin rules keep their grey


def artwork_picture(layout: Layout, px_per_mm: float) -> np.ndarray:
    """Rules, boxes, symbols and words as uint8 (height, width), black on white; marks, code and serial left out.

    Pixel (column, row) shows the paper round ((column + 0.5) / px_per_mm, (row + 0.5) / px_per_mm) mm. Marks are left
    out because this serves where they are missing.
    """
    scale = px_per_mm * _FINER
    image = Image.new("L", (round(layout.width_mm * scale), round(layout.height_mm * scale)), 255)
    draw = ImageDraw.Draw(image)
    for line in layout.lines:
        ends = [value * scale for value in (line.x1_mm, line.y1_mm, line.x2_mm, line.y2_mm)]
        draw.line(ends, fill=round(255 * line.grey), width=max(1, round(line.width_mm * scale)))
    for polygon in layout.polygons:
        draw.polygon([(x * scale, y * scale) for x, y in polygon.points_mm], fill=round(255 * polygon.grey))
    for words in layout.words:
        font = ImageFont.truetype(str(font_file(words.bold)), words.size_pt * MM_PER_PT * scale)
        place = words.x_mm * scale, words.y_mm * scale
        draw.text(place, words.text, font=font, fill=round(255 * words.grey), anchor="ls")
    height, width = round(layout.height_mm * px_per_mm), round(layout.width_mm * px_per_mm)
    return cv2.resize(np.array(image), (width, height), interpolation=cv2.INTER_AREA)
