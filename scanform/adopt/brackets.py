"""Pairs of printed brackets with nothing between them, on a scan: a typewriter's tick boxes."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from scanform.adopt.drawing import LINE_PX_PER_MM
from scanform.form import Box

__all__ = ["brackets_of"]

# A bracket in 8 to 16 pt: height and width in mm.
_HIGH_MM, _WIDE_MM = (2.4, 7.0), (0.5, 2.4)
_APART_MM = (1.2, 9.0)  # as in a PDF: from one bracket to the other
_SAME_LINE = 0.3  # of its height
_STEM, _ARM = 0.56, 0.22  # shares of a bracket's width and height
_SOLID, _EMPTY, _ARM_SEEN = 0.9, 0.15, 0.6
_STRAY = 0.01  # ink between two brackets: dirt, or what is left of writing


def brackets_of(ink: np.ndarray) -> list[Box]:
    """Room between "[" and "]", from uint8 (height, width) ink of 0 and 1 at 12 px/mm."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    opening: list[tuple[int, int, int, int]] = []
    closing: list[tuple[int, int, int, int]] = []
    for label, (x, y, w, h, _) in enumerate(stats.tolist()):
        if label == 0 or not (_within(h, _HIGH_MM) and _within(w, _WIDE_MM) and w < 0.6 * h):
            continue
        part = labels[y : y + h, x : x + w] == label
        if _opens(part):
            opening.append((x, y, w, h))
        elif _opens(part[:, ::-1]):
            closing.append((x, y, w, h))
    pairs = [_pair(ink, left, closing) for left in opening]
    return [box for box in pairs if box is not None]


def _within(px: int, mm: tuple[float, float]) -> bool:
    return mm[0] * LINE_PX_PER_MM <= px <= mm[1] * LINE_PX_PER_MM


def _opens(part: np.ndarray) -> bool:
    """Whether a bool (height, width) shape is a stem on the left with an arm to the right at either end."""
    height, width = part.shape
    stem, arm = max(2, round(_STEM * width)), max(2, round(_ARM * height))
    left, right = part[:, :stem], part[:, stem:]
    ends = right[:arm].any(axis=0).mean(), right[-arm:].any(axis=0).mean()
    return bool(left.any(axis=1).mean() >= _SOLID and right[arm:-arm].mean() <= _EMPTY and min(ends) >= _ARM_SEEN)


def _pair(ink: np.ndarray, left: tuple[int, int, int, int], closing: Sequence[tuple[int, int, int, int]]) -> Box | None:
    """The room up to the nearest closing bracket on the same line, if nothing is printed in it."""
    x, y, w, h = left
    right = [
        other
        for other in closing
        if _within(other[0] - (x + w), _APART_MM)
        and abs(other[1] - y) < _SAME_LINE * h
        and abs(other[3] - h) < _SAME_LINE * h
    ]
    if not right:
        return None
    nearest = min(right, key=lambda other: other[0])
    top, end = min(y, nearest[1]), max(y + h, nearest[1] + nearest[3])
    if ink[top:end, x + w + 1 : nearest[0] - 1].mean() > _STRAY:
        return None
    return Box(*(v / LINE_PX_PER_MM for v in (x + w, top, nearest[0] - x - w, end - top)))
