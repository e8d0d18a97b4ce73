"""Stroke geometry: curves through points, resampling, and the distortions that make two letters differ."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

__all__ = [
    "Strokes",
    "bent",
    "curve",
    "extent",
    "resampled",
    "rounded",
    "sheared",
    "slow_noise",
]

# Strokes of one character or mark: float64 (n, 2) arrays of (x, y), pen down within one array.
Strokes = list[np.ndarray]


def extent(strokes: Sequence[np.ndarray]) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of all strokes together."""
    points = np.concatenate(strokes)
    low, high = points.min(axis=0), points.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def curve(points: np.ndarray, per_span: int = 8) -> np.ndarray:
    """A centripetal Catmull-Rom spline through ``points`` (n, 2); two points or fewer come back as they are."""
    if len(points) < 3:
        return points
    closed = bool(np.allclose(points[0], points[-1]))
    first = points[-2] if closed else 2 * points[0] - points[1]
    last = points[1] if closed else 2 * points[-1] - points[-2]
    p = np.vstack([first, points, last])
    knots = np.concatenate([[0.0], np.cumsum(np.sqrt(np.linalg.norm(np.diff(p, axis=0), axis=1)) + 1e-6)])
    pieces = []
    for i in range(len(points) - 1):
        t0, t1, t2, t3 = knots[i : i + 4]
        t = np.linspace(t1, t2, per_span, endpoint=False)[:, None]
        p0, p1, p2, p3 = p[i : i + 4]
        a1 = (t1 - t) / (t1 - t0) * p0 + (t - t0) / (t1 - t0) * p1
        a2 = (t2 - t) / (t2 - t1) * p1 + (t - t1) / (t2 - t1) * p2
        a3 = (t3 - t) / (t3 - t2) * p2 + (t - t2) / (t3 - t2) * p3
        b1 = (t2 - t) / (t2 - t0) * a1 + (t - t0) / (t2 - t0) * a2
        b2 = (t3 - t) / (t3 - t1) * a2 + (t - t1) / (t3 - t1) * a3
        pieces.append((t2 - t) / (t2 - t1) * b1 + (t - t1) / (t2 - t1) * b2)
    pieces.append(points[-1:])
    return np.concatenate(pieces)


def rounded(points: np.ndarray, rounds: int = 2) -> np.ndarray:
    """Corners cut by Chaikin's rule; the two ends stay where they are."""
    for _ in range(rounds):
        if len(points) < 3:
            return points
        near = 0.75 * points[:-1] + 0.25 * points[1:]
        far = 0.25 * points[:-1] + 0.75 * points[1:]
        middle = np.stack([near, far], axis=1).reshape(-1, 2)
        points = np.vstack([points[:1], middle[1:-1], points[-1:]])
    return points


def resampled(points: np.ndarray, step: float) -> np.ndarray:
    """The same path (n, 2) with points ``step`` apart, both ends kept; at least two points."""
    lengths = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    count = max(2, int(along[-1] / step) + 1)
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1])])


def slow_noise(count: int, period: float, rng: np.random.Generator) -> np.ndarray:
    """Smooth noise, float64 (count,), about unit size, that changes over ``period`` samples."""
    knots = max(2, int(np.ceil(count / max(period, 1.0))) + 1)
    values = rng.standard_normal(knots + 2)
    x = np.arange(count) / max(period, 1.0) + rng.random()
    whole = np.minimum(x.astype(int), knots)
    part = x - whole
    blend = part * part * (3 - 2 * part)
    return values[whole] * (1 - blend) + values[whole + 1] * blend


def sheared(strokes: Sequence[np.ndarray], slant: float, turn_rad: float) -> Strokes:
    """Strokes leant to the right by ``slant`` (x per y, y down) and then turned about the origin."""
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    matrix = np.array([[1.0, -slant], [0.0, 1.0]])
    turn = np.array([[c, -s], [s, c]])
    return [points @ (turn @ matrix).T for points in strokes]


def bent(strokes: Sequence[np.ndarray], amount: float, rng: np.random.Generator) -> Strokes:
    """Strokes pushed about by a smooth random field of size ``amount`` (same unit as the points, box about 1)."""
    frequency = rng.uniform(1.5, 5.0, (3, 2)) * rng.choice([-1, 1], (3, 2))
    phase = rng.uniform(0, 2 * np.pi, 3)
    push = rng.standard_normal((3, 2)) * amount
    out = []
    for points in strokes:
        waves = np.sin(points @ frequency.T + phase)
        out.append(points + waves @ push)
    return out
