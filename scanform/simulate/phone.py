"""A sheet photographed with a phone: table, perspective, bent paper, uneven light, shadow, blur."""

from __future__ import annotations

import cv2
import numpy as np

from scanform.simulate.warp import PointMap, camera_map, warped
from scanform.simulate.wear import grain

__all__ = ["developed", "photographed"]


def photographed(page: np.ndarray, dpi: float, rng: np.random.Generator) -> tuple[np.ndarray, PointMap]:
    """``page`` (uint8 grey) on a table: uint8 (height, width, 3) RGB, and the true map from page mm to its pixels."""
    size_mm = (page.shape[1] * 25.4 / dpi, page.shape[0] * 25.4 / dpi)
    tall = int(rng.integers(2700, 3700))
    size_px = (int(tall * 3 / 4), tall)
    to_px = camera_map(size_mm, size_px, rng)
    return developed(page, dpi, to_px, size_px, rng), to_px


def developed(
    page: np.ndarray,
    dpi: float,
    to_px: PointMap,
    size_px: tuple[int, int],
    rng: np.random.Generator,
    sheets: np.ndarray | None = None,
) -> np.ndarray:
    """``page`` (uint8 grey) as a camera renders it through ``to_px``: uint8 (height, width, 3) RGB of ``size_px``.

    ``sheets``: uint8, 255 where ``page`` is paper, 0 where the table shows; all paper if left out.
    """
    size_mm = (page.shape[1] * 25.4 / dpi, page.shape[0] * 25.4 / dpi)
    tall = size_px[1]
    density = _px_per_mm(to_px, size_mm)
    soft = cv2.GaussianBlur(page, (0, 0), max(0.3, 0.45 * dpi / 25.4 / density))
    sheet = warped(soft, dpi, to_px, size_px, 0)
    inside = (
        warped(np.full_like(page, 255) if sheets is None else sheets, dpi, to_px, size_px, 0).astype(np.float32) / 255
    )
    shadow_of_sheet = cv2.GaussianBlur(np.roll(inside[::4, ::4], (2, 2), (0, 1)), (0, 0), rng.uniform(2, 6))
    under = cv2.resize(shadow_of_sheet, size_px)
    table = _table(size_px, rng) * (1 - 0.5 * under)
    paper, ink = rng.uniform(205, 250), rng.uniform(15, 50)
    lit = (ink + (paper - ink) * (sheet.astype(np.float32) / 255)) * inside + table * (1 - inside)
    lit *= _light(size_px, rng)
    lit = _blurred(lit, density, rng)
    grey = np.clip(lit, 0, 255).astype(np.uint8)
    grey = cv2.add(grey, grain((tall, size_px[0]), float(rng.uniform(1.5, 5.0)), rng), dtype=cv2.CV_8U)
    cast = np.array([rng.uniform(0.97, 1.03), 1.0, rng.uniform(0.86, 1.04)])  # warm lamp or cold sky
    wood = np.array([1.12, 0.98, 0.80]) if rng.random() < 0.5 else np.ones(3)
    channels = []
    for k in range(3):
        tint = np.float32(cast[k]) * (inside + np.float32(wood[k]) * (1 - inside))
        channels.append(np.clip(grey * tint, 0, 255).astype(np.uint8))
    return np.dstack(channels)


def _px_per_mm(to_px: PointMap, size_mm: tuple[float, float]) -> float:
    middle = np.array(size_mm) / 2
    a, b = to_px(np.array([middle, middle + np.array([10.0, 0.0])]))
    return float(np.linalg.norm(b - a) / 10)


def _table(size_px: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    """A surface under the sheet, float32 (height, width): wood grain, a plain desk, or a truck's bonnet."""
    width, height = size_px
    base = rng.uniform(35, 170)
    small = (height // 4, width // 4)
    kind = rng.integers(0, 3)
    if kind == 0:
        lines = rng.standard_normal((small[0], 1), dtype=np.float32)
        lines = np.asarray(cv2.blur(lines, (1, 5)), np.float32)
        wander = cv2.resize(rng.standard_normal((6, 6), dtype=np.float32), (small[1], small[0])) * 14
        rows = np.clip(np.arange(small[0], dtype=np.float32)[:, None] + wander, 0, small[0] - 1)
        surface = base + 22 * lines[rows.astype(int), 0]
        if rng.random() < 0.5:
            surface = np.asarray(cv2.resize(np.ascontiguousarray(surface.T), (small[1], small[0])))
    else:
        blotch = cv2.resize(rng.standard_normal((9, 9), dtype=np.float32), (small[1], small[0]))
        surface = base + (4.0 if kind == 1 else 12.0) * blotch + 3 * rng.standard_normal(small, dtype=np.float32)
    return cv2.resize(surface.astype(np.float32), size_px, interpolation=cv2.INTER_LINEAR)


def _light(size_px: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    """Light falling on the scene, float32 factors: a slope, a soft lamp spot, the shadow of a hand or phone."""
    width, height = size_px
    w, h = width // 8, height // 8
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    x, y = xx / w - 0.5, yy / h - 0.5
    angle = rng.uniform(0, 2 * np.pi)
    light = 1 + rng.uniform(0, 0.28) * (np.cos(angle) * x + np.sin(angle) * y)
    cx, cy = rng.uniform(-0.5, 0.5, 2)
    light -= rng.uniform(0, 0.30) * np.clip((x - cx) ** 2 + (y - cy) ** 2, 0, 1)
    if rng.random() < 0.6:
        a, offset = rng.uniform(0, 2 * np.pi), rng.uniform(-0.25, 0.35)
        d = np.cos(a) * x + np.sin(a) * y - offset + 0.04 * np.sin(rng.uniform(4, 12) * (x - y) + rng.uniform(0, 6))
        light *= 1 - rng.uniform(0.15, 0.5) / (1 + np.exp(-d / rng.uniform(0.006, 0.05)))
    return cv2.resize(np.clip(light, 0.2, 1.3).astype(np.float32), size_px, interpolation=cv2.INTER_CUBIC)


def _blurred(image: np.ndarray, px_per_mm: float, rng: np.random.Generator) -> np.ndarray:
    """Out of focus a little, and at times moved while the shutter was open."""
    image = np.asarray(cv2.GaussianBlur(image, (0, 0), max(0.4, rng.uniform(0.03, 0.11) * px_per_mm)))
    if rng.random() < 0.2:
        length = max(3, int(rng.uniform(0.15, 0.45) * px_per_mm)) | 1
        kernel = np.zeros((length, length), np.float32)
        kernel[length // 2] = 1 / length
        # Turned about its own middle and symmetric, so that the truth map's centre stays put.
        turn = cv2.getRotationMatrix2D((length // 2, length // 2), rng.uniform(0, 180), 1)
        kernel = np.asarray(cv2.warpAffine(kernel, turn, (length, length)), np.float32)
        image = np.asarray(cv2.filter2D(image, -1, kernel / kernel.sum()))
    return image
