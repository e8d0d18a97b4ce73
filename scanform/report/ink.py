"""The ink of a field as a picture: cut from its page upright, with some of what stands around it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import cv2
import numpy as np

__all__ = ["cut_ink", "quarter_turns", "turned"]

Polygon = Sequence[Sequence[float]]


def cut_ink(pixels: np.ndarray, polygon_px: Polygon, beside_px: float, above_px: float, scale: float) -> np.ndarray:
    """The field upright with its surroundings, uint8 (height, width). ``pixels``: the whole page, likewise.

    ``polygon_px``: the field's four corners (x, y), first the one that is top left to a reader, then clockwise.
    ``beside_px``, ``above_px``: how much of the page shows on each side, in the page's pixels. ``scale``: the picture's
    pixels for each of the page's.
    """
    corners = np.array(polygon_px, np.float32)
    width = float(np.linalg.norm(corners[1] - corners[0]))
    height = float(np.linalg.norm(corners[3] - corners[0]))
    size = (max(1, round((width + 2 * beside_px) * scale)), max(1, round((height + 2 * above_px) * scale)))
    left, top = beside_px * scale, above_px * scale
    target = np.array([[left, top], [left + width * scale, top], [left, top + height * scale]], np.float32)
    matrix = cv2.getAffineTransform(corners[[0, 1, 3]], target)
    way = cv2.INTER_CUBIC if scale >= 1 else cv2.INTER_AREA
    return cv2.warpAffine(pixels, matrix, size, flags=way, borderValue=255)


def quarter_turns(polygons_px: Iterable[Polygon]) -> int:
    """How many quarter turns against the clock stand a page upright, by the way its fields lie: 0 to 3."""
    across = np.array([np.subtract(p[1], p[0]) for p in polygons_px], float)
    if not len(across):
        return 0
    x, y = across.sum(axis=0)
    return round(float(np.arctan2(y, x)) / (np.pi / 2)) % 4


def turned(points_px: Polygon, turns: int, width_px: float, height_px: float) -> list[tuple[float, float]]:
    """Points (x, y) of a page of that size after quarter turns against the clock (as by ``numpy.rot90``)."""
    points = [(float(x), float(y)) for x, y in points_px]
    for _ in range(turns % 4):
        points = [(y, width_px - x) for x, y in points]
        width_px, height_px = height_px, width_px
    return points
