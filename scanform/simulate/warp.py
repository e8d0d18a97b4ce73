"""Where paper lands on the scan: smooth maps from page millimetres to pixels, and the resampling they imply.

Pixel coordinates name pixel centres: (0, 0) is the middle of the top left pixel, as in OpenCV.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np

__all__ = ["PointMap", "camera_map", "feeder_map", "sampling_grid", "turned", "turned_map", "warped"]

# (n, 2) float mm (x, y) -> (n, 2) float64 px (x, y)
PointMap = Callable[[np.ndarray], np.ndarray]

GRID_STEP_PX = 12  # the maps bend over centimetres; between grid points a straight line is exact to 0.01 px
INVERSE_ROUNDS = 10


def feeder_map(
    size_mm: tuple[float, float],
    dpi_xy: tuple[float, float],
    size_px: tuple[int, int],
    skew_deg: float,
    stretch: float,
    shift_mm: tuple[float, float],
    rng: np.random.Generator,
) -> PointMap:
    """A sheet drawn through a feeder: skewed, shifted, its speed along the page off by up to ``stretch``.

    The relative error of the feed is a constant plus two slow waves, never more than ``stretch``; sideways it
    drifts by a fifth of a millimetre.
    """
    share = rng.dirichlet([1.5, 1.0, 0.7]) * stretch * rng.uniform(0.3, 1.0)
    constant = share[0] * rng.choice([-1, 1])
    waves = 2 * np.pi / rng.uniform([180.0, 50.0], [500.0, 160.0])
    phases = rng.uniform(0, 2 * np.pi, 2)
    drift, drift_wave, drift_phase = rng.uniform(0, 0.2), 2 * np.pi / rng.uniform(90, 400), rng.uniform(0, 6.28)
    angle = np.radians(skew_deg)
    c, s = np.cos(angle), np.sin(angle)
    scale = np.array(dpi_xy) / 25.4
    paper_centre = np.array(size_mm) / 2
    # The feeder meets the middle of the sheet in the middle of its window, give or take the shift.
    target = np.array(size_px) / scale / 2 + np.array(shift_mm)

    def fed(y: np.ndarray) -> np.ndarray:
        bend = sum(a * (np.sin(w * y + p) - np.sin(p)) / w for a, w, p in zip(share[1:], waves, phases, strict=True))
        return y * (1 + constant) + bend

    middle = float(fed(np.array(0.0)))

    def to_px(points_mm: np.ndarray) -> np.ndarray:
        points = np.asarray(points_mm, float).reshape(-1, 2) - paper_centre
        x = points[:, 0] * c - points[:, 1] * s
        y = points[:, 0] * s + points[:, 1] * c
        y = fed(y) - middle
        x = x + drift * np.sin(drift_wave * y + drift_phase)
        return (np.column_stack([x, y]) + target) * scale - 0.5

    return to_px


def camera_map(size_mm: tuple[float, float], size_px: tuple[int, int], rng: np.random.Generator) -> PointMap:
    """A hand-held camera over a sheet that does not lie flat: pinhole perspective of a gently bent surface."""
    width, height = size_mm
    centre = np.array([width, height]) / 2
    tilt = np.radians(np.clip(rng.normal(0, 7, 2), -16, 16))
    roll = np.radians(np.clip(rng.normal(0, 2.5), -7, 7))
    distance = height * rng.uniform(1.25, 2.0)
    lift = rng.uniform(0, 9) * rng.choice([1, 1, -0.6])  # how far the bent edges stand off the table, mm
    axis = rng.uniform(0, np.pi)
    direction = np.array([np.cos(axis), np.sin(axis)]) / (np.hypot(width, height) / 2)
    crest, second, wave = rng.uniform(-0.4, 0.4), rng.uniform(0, 2.0), rng.uniform(2, 4.5)
    cx, sx, cy, sy, cz, sz = (f(a) for a in (tilt[0], tilt[1], roll) for f in (np.cos, np.sin))
    around_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    around_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    around_z = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]])
    rotation = around_z @ around_y @ around_x

    def seen(points_mm: np.ndarray) -> np.ndarray:
        flat = np.asarray(points_mm, float).reshape(-1, 2) - centre
        t = np.clip(flat @ direction, -1.6, 1.6)
        z = lift * ((t - crest) ** 2) + second * np.sin(wave * t)
        space = np.column_stack([flat, -z]) @ rotation.T
        return space[:, :2] / (1 + space[:, 2:] / distance)

    # Zoom and aim so that the sheet fills the frame as a person would take it.
    edge = np.array([[u * width, v * height] for u in np.linspace(0, 1, 9) for v in np.linspace(0, 1, 9)])
    outline = seen(edge)
    low, high = outline.min(axis=0), outline.max(axis=0)
    frame = np.array(size_px, float)
    zoom = float((frame / (high - low)).min() * rng.uniform(0.84, 0.97))
    spare = frame - (high - low) * zoom
    offset = spare * rng.uniform(0.3, 0.7, 2) - low * zoom

    def to_px(points_mm: np.ndarray) -> np.ndarray:
        return seen(points_mm) * zoom + offset - 0.5

    return to_px


def sampling_grid(
    to_px: PointMap, size_mm: tuple[float, float], size_px: tuple[int, int]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The inverse of ``to_px`` on a coarse grid: column px (nx,), row px (ny,) and mm (ny, nx, 2)."""
    width, height = size_px
    columns = np.arange(0, width + GRID_STEP_PX, GRID_STEP_PX, dtype=float)
    rows = np.arange(0, height + GRID_STEP_PX, GRID_STEP_PX, dtype=float)
    mesh = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    edge = [[u * size_mm[0], v * size_mm[1]] for u in np.linspace(0, 1, 7) for v in np.linspace(0, 1, 7)]
    known = np.array(edge)
    back, _ = cv2.findHomography(to_px(known), known)
    start = _projected(back, mesh)
    points = start.copy()
    for _ in range(INVERSE_ROUNDS):  # fixed point: the homography undoes all but the gentle bends
        points += start - _projected(back, to_px(points))
    return columns, rows, points.reshape(len(rows), len(columns), 2)


def _projected(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    full = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return full[:, :2] / full[:, 2:]


def warped(
    page: np.ndarray,
    dpi: float,
    to_px: PointMap,
    size_px: tuple[int, int],
    outside: float,
) -> np.ndarray:
    """``page`` (uint8 grey at ``dpi``) as it appears through ``to_px``: uint8 (height, width) of ``size_px``."""
    width, height = size_px
    scale = dpi / 25.4
    size_mm = (page.shape[1] / scale, page.shape[0] / scale)
    _, _, points = sampling_grid(to_px, size_mm, size_px)
    source = (points * scale - 0.5).astype(np.float32)
    map_x = _upsampled(source[..., 0], size_px)
    map_y = _upsampled(source[..., 1], size_px)
    return cv2.remap(
        page, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=(outside,)
    ).reshape(height, width)


def _upsampled(grid: np.ndarray, size_px: tuple[int, int]) -> np.ndarray:
    width, height = size_px
    # Grid point k falls exactly on pixel k * GRID_STEP_PX; cv2.resize would line up edges instead.
    at = np.arange(width) / GRID_STEP_PX
    k = at.astype(int)
    f = (at - k).astype(np.float32)
    wide = grid[:, k] * (1 - f) + grid[:, k + 1] * f
    at = np.arange(height) / GRID_STEP_PX
    k = at.astype(int)
    f = (at - k).astype(np.float32)[:, None]
    return wide[k] * (1 - f) + wide[k + 1] * f


def turned(pixels: np.ndarray, quarter_turns: int) -> np.ndarray:
    """The image turned clockwise by so many quarter turns."""
    return np.ascontiguousarray(np.rot90(pixels, -quarter_turns))


def turned_map(to_px: PointMap, size_px: tuple[int, int], quarter_turns: int) -> PointMap:
    """``to_px`` followed by the same clockwise turn; ``size_px`` is width and height before it."""
    width, height = size_px
    turns = quarter_turns % 4

    def after(points_mm: np.ndarray) -> np.ndarray:
        p = to_px(points_mm)
        if turns == 1:
            return np.column_stack([height - 1 - p[:, 1], p[:, 0]])
        if turns == 2:
            return np.column_stack([width - 1 - p[:, 0], height - 1 - p[:, 1]])
        if turns == 3:
            return np.column_stack([p[:, 1], width - 1 - p[:, 0]])
        return p

    return after
