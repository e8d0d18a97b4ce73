"""Pens: polylines in millimetres become ink on a grey page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from scanform.form.geometry import Box
from scanform.simulate.strokes import extent, resampled, slow_noise

__all__ = ["DPI", "PEN_KINDS", "Pen", "blank_page", "draw", "fainter", "lay_ink", "random_pen"]

DPI = 300.0  # working resolution of a simulated page, before it is scanned
SUPERSAMPLE = 3
STEP_MM = 0.1

# name: (share, width low/high in mm, grey low/high of solid ink, skips per 100 mm, grain, bleed in mm).
# Line widths as sold (ballpoint 0.25-0.5, gel 0.35-0.7, felt 0.6-1.1, pencil 0.3-0.7); greys measured off
# nothing: chosen so that blue ballpoint lands mid grey and pencil light grey, as on a grey scan.
PEN_KINDS: dict[str, tuple[float, tuple[float, float], tuple[float, float], float, float, float]] = {
    "black ballpoint": (0.30, (0.28, 0.50), (30, 75), 2.0, 0.22, 0.02),
    "blue ballpoint": (0.32, (0.28, 0.50), (75, 125), 2.5, 0.24, 0.02),
    "gel": (0.14, (0.35, 0.70), (12, 50), 0.3, 0.08, 0.03),
    "felt": (0.10, (0.60, 1.10), (10, 60), 0.0, 0.06, 0.05),
    "pencil": (0.14, (0.30, 0.65), (95, 150), 0.0, 0.55, 0.02),
}


@dataclass(frozen=True)
class Pen:
    """One pen in one hand.

    ``grey``: level of solid ink, 0 black to 255 invisible. ``skips``: gaps per 100 mm of line. ``pressure``:
    how much width and darkness change along a stroke, 0 to 1. ``grain``: how rough the ink is, 0 to 1.
    """

    kind: str
    width_mm: float
    grey: float
    skips: float
    wobble_mm: float
    pressure: float
    grain: float
    bleed_mm: float


def random_pen(rng: np.random.Generator) -> Pen:
    """A pen as found in a cab."""
    names = list(PEN_KINDS)
    shares = np.array([PEN_KINDS[name][0] for name in names])
    kind = names[int(rng.choice(len(names), p=shares / shares.sum()))]
    _, width, grey, skips, grain, bleed = PEN_KINDS[kind]
    return Pen(
        kind=kind,
        width_mm=float(rng.uniform(*width)),
        grey=float(rng.uniform(*grey)),
        skips=float(min(4.0, skips * rng.gamma(0.7) * 1.4)),
        wobble_mm=float(rng.uniform(0.01, 0.06)),
        pressure=float(rng.uniform(0.15, 0.6)),
        grain=float(grain * rng.uniform(0.6, 1.4)),
        bleed_mm=bleed,
    )


def fainter(pen: Pen, share: float) -> Pen:
    """The same pen pressed less: ``share`` 0 leaves it, 1 makes it invisible."""
    return replace(
        pen,
        grey=pen.grey + (255 - pen.grey) * share,
        width_mm=max(0.25, pen.width_mm * (1 - 0.3 * share)),
        grain=min(0.8, pen.grain + 0.3 * share),
    )


def blank_page(width_mm: float, height_mm: float, dpi: float = DPI) -> np.ndarray:
    """White paper: uint8 (height, width), 255 everywhere."""
    scale = dpi / 25.4
    return np.full((round(height_mm * scale), round(width_mm * scale)), 255, np.uint8)


def draw(
    page: np.ndarray, strokes_mm: Sequence[np.ndarray], pen: Pen, rng: np.random.Generator, dpi: float = DPI
) -> Box | None:
    """Write strokes on ``page`` (uint8, changed in place); gives the inked area in mm, None if off the page.

    Each stroke is float (n, 2) of (x, y) in mm from the page's top left. A one-point stroke is a dot.
    """
    strokes = [np.asarray(s, float).reshape(-1, 2) for s in strokes_mm if len(s)]
    if not strokes:
        return None
    scale = dpi / 25.4
    left, top, right, bottom = extent(strokes)
    pad = pen.width_mm * 1.6 + 3 * pen.wobble_mm + 0.3
    x0, y0 = int(np.floor((left - pad) * scale)), int(np.floor((top - pad) * scale))
    x1, y1 = int(np.ceil((right + pad) * scale)), int(np.ceil((bottom + pad) * scale))
    fine = scale * SUPERSAMPLE
    cover = np.zeros(((y1 - y0) * SUPERSAMPLE, (x1 - x0) * SUPERSAMPLE), np.uint8)
    for level, thickness, a, b in _segments(strokes, pen, fine, rng):
        start = (round((a[0] * scale - x0) * SUPERSAMPLE), round((a[1] * scale - y0) * SUPERSAMPLE))
        stop = (round((b[0] * scale - x0) * SUPERSAMPLE), round((b[1] * scale - y0) * SUPERSAMPLE))
        cv2.line(cover, start, stop, level, thickness)
    small = cv2.resize(cover, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA)
    ink = np.asarray(small, np.float32) / np.float32(255)
    if pen.bleed_mm > 0:
        ink = np.asarray(cv2.GaussianBlur(ink, (0, 0), max(0.3, pen.bleed_mm * scale)), np.float32)
    if pen.grain > 0:
        ink *= _grain(ink.shape, pen.grain, scale, rng)
    lay_ink(page, ink, pen.grey, x0, y0)
    return Box(left, top, right - left, bottom - top)


def lay_ink(page: np.ndarray, ink: np.ndarray, grey: float, x0: int, y0: int) -> None:
    """Darken ``page`` (uint8, in place) by ``ink`` (float32, 0 to 1) whose top left pixel is (x0, y0).

    Ink multiplies with what is there: over black print it stays black, two strokes crossing get darker.
    """
    height, width = page.shape
    left, top = max(0, x0), max(0, y0)
    right, bottom = min(width, x0 + ink.shape[1]), min(height, y0 + ink.shape[0])
    if right <= left or bottom <= top:
        return
    part = ink[top - y0 : bottom - y0, left - x0 : right - x0]
    under = page[top:bottom, left:right]
    dark = 1 - part * np.float32(1 - grey / 255)
    page[top:bottom, left:right] = np.clip(under * dark + 0.5, 0, 255).astype(np.uint8)


def _segments(
    strokes: Sequence[np.ndarray], pen: Pen, fine: float, rng: np.random.Generator
) -> list[tuple[int, int, np.ndarray, np.ndarray]]:
    """Short pieces as (ink level, thickness in fine px, from, to), palest first so that darker ones win."""
    pieces = []
    for points in strokes:
        if len(points) == 1:
            points = np.vstack([points, points + np.array([0.05, 0.03])])
        path = resampled(points, STEP_MM)
        n = len(path)
        wobble = np.column_stack([slow_noise(n, 1.2 / STEP_MM, rng), slow_noise(n, 1.2 / STEP_MM, rng)])
        tremor = np.column_stack([slow_noise(n, 0.35 / STEP_MM, rng), slow_noise(n, 0.35 / STEP_MM, rng)])
        fade = np.minimum(1.0, n * STEP_MM / 3.0)  # short strokes have no room to wander
        path = path + pen.wobble_mm * fade * (wobble + 0.25 * tremor)
        level, width = _pressure(n, pen, rng)
        level = level * _skips(n, pen, rng)
        thickness = np.maximum(1, np.round(width * pen.width_mm * fine)).astype(int)
        grey = np.clip(np.round(level * 255), 0, 255).astype(int)
        for i in range(n - 1):
            if grey[i] > 0:
                pieces.append((int(grey[i]), int(thickness[i]), path[i], path[i + 1]))
    pieces.sort(key=lambda piece: piece[0])
    return pieces


def _pressure(n: int, pen: Pen, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Darkness (at most 1) and relative width along a stroke of n points: lighter where the pen lands and lifts."""
    along = np.arange(n) * STEP_MM
    length = along[-1]
    landing = np.clip(along / rng.uniform(0.1, 0.8), 0, 1)
    lift = np.clip((length - along) / rng.uniform(0.2, 1.6), 0, 1)
    ends = np.minimum(0.55 + 0.45 * landing, 0.35 + 0.65 * lift)
    if rng.random() < 0.25:  # a blob where the ball first touches
        ends = np.maximum(ends, np.where(along < 0.25, 1.15, 0))
    slow = slow_noise(n, 3.0 / STEP_MM, rng)
    level = 1 - pen.pressure * (0.35 * (1 - np.minimum(ends, 1)) + 0.18 * np.abs(slow))
    width = 1 + pen.pressure * (0.75 * (ends - 1) + 0.22 * slow)
    return np.clip(level, 0.25, 1), np.clip(width, 0.35, 1.6)


def _skips(n: int, pen: Pen, rng: np.random.Generator) -> np.ndarray:
    """Where the ball ran dry: factors 0 to 1, float64 (n,)."""
    keep = np.ones(n)
    for _ in range(rng.poisson(pen.skips * n * STEP_MM / 100)):
        start = int(rng.integers(0, n))
        keep[start : start + max(1, int(min(rng.exponential(0.6), 1.8) / STEP_MM))] *= rng.choice([0.0, 0.25, 0.5])
    return keep


def _grain(shape: tuple[int, ...], amount: float, scale: float, rng: np.random.Generator) -> np.ndarray:
    """Paper tooth: float32 factors 0 to 1, spots about 0.1 mm wide."""
    noise = rng.standard_normal(shape, dtype=np.float32)
    spot = 0.07 * scale
    noise = cv2.GaussianBlur(noise, (0, 0), max(0.5, spot)) * np.float32(2 * np.sqrt(np.pi) * max(0.5, spot))
    return 1 - np.clip(amount * 0.5 * (noise + 0.4), 0, 0.95).astype(np.float32)
