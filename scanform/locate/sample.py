"""Sample small pieces of paper through the map; whole pages are never warped."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import cv2
import numpy as np

from scanform.form import Box
from scanform.locate.warp import PageMap

__all__ = ["frame_points_mm", "frames_of", "local_frames", "sample_boxes", "sample_points"]

_STEP_MM = 1.0
_REMAP_MOST_ROWS = 30_000  # cv2.remap addresses rows with a signed 16-bit number


def local_frames(page_map: PageMap, centres_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The map near each of float (n, 2) centres as an affine frame: centres px (n, 2), Jacobians px/mm (n, 2, 2)."""
    return frames_of(page_map.to_px(frame_points_mm(centres_mm)))


def frame_points_mm(centres_mm: np.ndarray) -> np.ndarray:
    """The points whose places :func:`frames_of` makes frames of: float (n, 2) centres to (3n, 2)."""
    return np.concatenate([centres_mm, centres_mm + [_STEP_MM, 0], centres_mm + [0, _STEP_MM]])


def frames_of(px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The map near n centres as an affine frame: centres px (n, 2), Jacobians px/mm (n, 2, 2).

    ``px``: float (3n, 2), where the map puts :func:`frame_points_mm`. Over the few mm of a field the map differs from
    its tangent by less than a hundredth of a millimetre.
    """
    centres, right, below = px.reshape(3, -1, 2)
    return centres, np.stack([right - centres, below - centres], axis=2) / _STEP_MM


def sample_boxes(
    pixels: np.ndarray,
    page_map: PageMap,
    boxes: Sequence[Box],
    shifts_mm: np.ndarray,
    margin_mm: float,
    px_per_mm: float,
) -> np.ndarray:
    """Patches of equally large boxes with a margin all round: uint8 (n, height, width) at ``px_per_mm``.

    ``shifts_mm``: float (n, 2), how far each box's artwork lies from where the map puts it.
    """
    w = boxes[0].w_mm + 2 * margin_mm
    h = boxes[0].h_mm + 2 * margin_mm
    columns, rows = round(w * px_per_mm), round(h * px_per_mm)
    centres = np.array([box.centre_mm for box in boxes]) + shifts_mm
    if w > 20 or h > 20:
        # Over a long field the tangent is not enough: map a coarse lattice and interpolate between its points.
        return _sample_long(pixels, page_map, centres, (w, h), (columns, rows))
    centres_px, jacobians = local_frames(page_map, centres)
    # From a patch's pixel (column, row) to the page's.
    affine = np.empty((len(boxes), 2, 3))
    affine[:, :, :2] = jacobians / px_per_mm
    affine[:, :, 2] = centres_px + jacobians @ (0.5 / px_per_mm - w / 2, 0.5 / px_per_mm - h / 2)
    patches = np.empty((len(boxes), rows, columns), np.uint8)
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    for matrix, patch in zip(affine, patches, strict=True):
        cv2.warpAffine(pixels, matrix, (columns, rows), patch, how, cv2.BORDER_CONSTANT, 255)
    return patches


def sample_points(pixels: np.ndarray, map_x: np.ndarray, map_y: np.ndarray) -> np.ndarray:
    """Grey values at places in px, float32 (rows, columns) each: uint8 (rows, columns), white off the page."""
    parts = []
    for start in range(0, len(map_x), _REMAP_MOST_ROWS):
        end = start + _REMAP_MOST_ROWS
        parts.append(
            cv2.remap(
                pixels,
                map_x[start:end],
                map_y[start:end],
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_CONSTANT,
                borderValue=255,
            )
        )
    return np.concatenate(parts) if len(parts) > 1 else parts[0]


def _sample_long(
    pixels: np.ndarray,
    page_map: PageMap,
    centres_mm: np.ndarray,
    size_mm: tuple[float, float],
    size_px: tuple[int, int],
) -> np.ndarray:
    columns, rows = size_px
    lattice, between_x, between_y = _lattice(size_mm, size_px)
    px = page_map.to_px((centres_mm[:, None, None] + lattice).reshape(-1, 2))
    px = px.astype(np.float32).reshape(len(centres_mm), *lattice.shape)
    # Not by cv2.remap, which knows 32 places between two nodes and no more: steps of 0.16 mm.
    map_x, map_y = (between_y @ px[..., k] @ between_x.T for k in (0, 1))
    return sample_points(pixels, map_x.reshape(-1, columns), map_y.reshape(-1, columns)).reshape(-1, rows, columns)


@lru_cache(maxsize=64)
def _lattice(size_mm: tuple[float, float], size_px: tuple[int, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Nodes over a field, float64 (down, across, 2) mm from its middle, and the weights between them each way."""
    (w, h), (columns, rows) = size_mm, size_px
    across, down = max(2, round(w / 5) + 1), max(2, round(h / 5) + 1)
    x, y = np.meshgrid(np.linspace(-w / 2, w / 2, across), np.linspace(-h / 2, h / 2, down))
    return np.stack([x, y], axis=2), _between(across, columns), _between(down, rows)


def _between(nodes: int, places: int) -> np.ndarray:
    """Weights of evenly spaced nodes at the middles of as many places over their whole span: float32 (places, nodes).

    Each place is interpolated linearly between the two nodes beside it.
    """
    at = (np.arange(places) + 0.5) / places * (nodes - 1)
    return np.maximum(1 - np.abs(at[:, None] - np.arange(nodes)), 0).astype(np.float32)
