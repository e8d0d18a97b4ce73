"""Tell an empty page (a blank back, a separator) from one with something on it."""

from __future__ import annotations

import cv2
import numpy as np

from scanform.locate.marks import reduced

__all__ = ["ink_share"]

_LONG_SIDE_PX = 900
_EDGE_SHARE = 0.04  # scanners draw their own shadow round the paper's edge
_DARKER = 0.14  # of the paper's own grey: fainter than the lightest pencil, above show-through of most paper


def ink_share(pixels: np.ndarray) -> float:
    """Share of a uint8 (height, width) page that is darker than the paper around it, scanner edges left out."""
    small, _ = reduced(pixels, _LONG_SIDE_PX)
    edge_y, edge_x = (max(1, round(size * _EDGE_SHARE)) for size in small.shape)
    inner = small[edge_y:-edge_y, edge_x:-edge_x]
    if inner.size == 0:
        return 0.0
    paper = cv2.morphologyEx(cv2.medianBlur(inner, 5), cv2.MORPH_CLOSE, np.ones((31, 31), np.uint8))
    paper = cv2.blur(paper, (31, 31)).astype(np.float32)
    darker = cv2.blur(inner, (3, 3)) < paper * (1 - _DARKER)
    # Single specks are dust: what counts has neighbours.
    return float(cv2.morphologyEx(darker.astype(np.uint8), cv2.MORPH_OPEN, np.ones((2, 2), np.uint8)).mean())
