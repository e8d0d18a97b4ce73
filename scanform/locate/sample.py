"""Sample small pieces of paper through the map; whole pages are never warped."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from scanform.form import Box
from scanform.locate.warp import PageMap

__all__ = ["local_frames", "sample_boxes", "sample_grid"]

_REMAP_MOST_ROWS = 30_000  # cv2.remap addresses rows with a signed 16-bit number


def local_frames(page_map: PageMap, centres_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The map near each of float (n, 2) centres as an affine frame: centres px (n, 2), Jacobians px/mm (n, 2, 2).

    Over the few mm of a field the map differs from its tangent by less than a hundredth of a millimetre.
    """
    n = len(centres_mm)
    step = 1.0
    stacked = np.concatenate([centres_mm, centres_mm + [step, 0], centres_mm + [0, step]])
    px = page_map.to_px(stacked)
    jacobians = np.stack([px[n : 2 * n] - px[:n], px[2 * n :] - px[:n]], axis=2) / step
    return px[:n], jacobians


def sample_grid(
    pixels: np.ndarray, centres_px: np.ndarray, jacobians: np.ndarray, offsets_mm: np.ndarray
) -> np.ndarray:
    """Grey values at the same offsets (mm, float (m, 2)) around each of n centres: uint8 (n, m)."""
    n = len(centres_px)
    # One matrix product for all points; float32 keeps a pixel's place to a thousandth on any page we accept.
    moved = jacobians.reshape(2 * n, 2).astype(np.float32) @ offsets_mm.T.astype(np.float32)
    moved = moved.reshape(n, 2, -1) + centres_px[:, :, None].astype(np.float32)
    return _remap_rows(pixels, moved[:, 0], moved[:, 1])


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
        return np.stack([_sample_long(pixels, page_map, centre, (w, h), (columns, rows)) for centre in centres])
    centres_px, jacobians = (part.astype(np.float32) for part in local_frames(page_map, centres))
    x = ((np.arange(columns) + 0.5) / px_per_mm - w / 2).astype(np.float32)
    y = ((np.arange(rows) + 0.5) / px_per_mm - h / 2).astype(np.float32)[:, None]
    # J @ (x, y) splits into a column part and a row part: two outer sums instead of a product per pixel.
    across = centres_px[:, :, None, None] + jacobians[:, :, 0, None, None] * x
    maps = across + jacobians[:, :, 1, None, None] * y
    n = len(boxes)
    flat = [np.ascontiguousarray(maps[:, axis]).reshape(n * rows, columns) for axis in (0, 1)]
    return _remap_rows(pixels, flat[0], flat[1]).reshape(n, rows, columns)


def _remap_rows(pixels: np.ndarray, map_x: np.ndarray, map_y: np.ndarray) -> np.ndarray:
    parts = []
    for start in range(0, len(map_x), _REMAP_MOST_ROWS):
        end = start + _REMAP_MOST_ROWS
        parts.append(
            cv2.remap(
                pixels,
                map_x[start:end].astype(np.float32, copy=False),
                map_y[start:end].astype(np.float32, copy=False),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_CONSTANT,
                borderValue=255,
            )
        )
    return np.concatenate(parts) if len(parts) > 1 else parts[0]


def _sample_long(
    pixels: np.ndarray,
    page_map: PageMap,
    centre_mm: np.ndarray,
    size_mm: tuple[float, float],
    size_px: tuple[int, int],
) -> np.ndarray:
    w, h = size_mm
    columns, rows = size_px
    nodes_x, nodes_y = max(2, round(w / 5) + 1), max(2, round(h / 5) + 1)
    at_x, at_y = (np.arange(nodes_x) / (nodes_x - 1) - 0.5) * w, (np.arange(nodes_y) / (nodes_y - 1) - 0.5) * h
    lattice = np.stack(np.meshgrid(centre_mm[0] + at_x, centre_mm[1] + at_y), axis=-1)
    px = page_map.to_px(lattice.reshape(-1, 2)).reshape(nodes_y, nodes_x, 2).astype(np.float32)
    wanted_x = ((np.arange(columns) + 0.5) / columns * (nodes_x - 1)).astype(np.float32)
    wanted_y = ((np.arange(rows) + 0.5) / rows * (nodes_y - 1)).astype(np.float32)
    where_x = np.broadcast_to(wanted_x, (rows, columns)).copy()
    where_y = np.broadcast_to(wanted_y[:, None], (rows, columns)).copy()
    full = cv2.remap(px, where_x, where_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return _remap_rows(pixels, full[..., 0], full[..., 1])
