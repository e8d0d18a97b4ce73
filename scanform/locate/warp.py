"""The map from a sheet's millimetres to a page's pixels: a homography, then a smooth correction on the paper."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

__all__ = ["PageMap", "fit_homography", "fit_polynomial", "polynomial_terms"]

_DEGREE_TERMS = {1: 3, 2: 6, 3: 10, 4: 15}


@dataclass(frozen=True, eq=False)
class PageMap:
    """``homography``: float64 (3, 3), mm to px. ``correction``: float64 (k, 2), displacement on the paper in mm.

    The correction is a polynomial in page coordinates scaled to -1..1 by ``size_mm``; it is added to a point before
    the homography. Feeder stretch and page curl live in it.
    """

    homography: np.ndarray
    size_mm: tuple[float, float]
    correction: np.ndarray | None = None

    def to_px(self, points_mm: np.ndarray) -> np.ndarray:
        """Map float (n, 2) points (x, y) in mm to float64 (n, 2) points in px."""
        points = np.asarray(points_mm, np.float64)
        if self.correction is not None:
            points = points + self.displacement_mm(points)
        h = self.homography
        w = points @ h[2, :2] + h[2, 2]
        return (points @ h[:2, :2].T + h[:2, 2]) / w[:, None]

    def displacement_mm(self, points_mm: np.ndarray) -> np.ndarray:
        """The correction at float (n, 2) points in mm, float64 (n, 2)."""
        if self.correction is None:
            return np.zeros((len(points_mm), 2))
        degree = next(d for d, k in _DEGREE_TERMS.items() if k == len(self.correction))
        return polynomial_terms(points_mm, self.size_mm, degree) @ self.correction

    def px_per_mm(self) -> float:
        """Scale at the middle of the sheet."""
        middle = np.array([[self.size_mm[0] / 2, self.size_mm[1] / 2]])
        across = self.to_px(np.concatenate([middle, middle + [10.0, 0], middle + [0, 10.0]]))
        return float(np.sqrt(np.abs(np.linalg.det(across[1:] - across[0]))) / 10)

    def corrected_by(self, more: np.ndarray) -> PageMap:
        """The same map with a further correction of the same degree or a higher one."""
        if self.correction is None:
            return PageMap(self.homography, self.size_mm, more)
        total = more.copy()
        # Lower-degree terms stand first, so that a lower-degree correction adds into the head of a higher one.
        total[: len(self.correction)] += self.correction[: len(more)]
        return PageMap(self.homography, self.size_mm, total)


def fit_homography(points_mm: np.ndarray, points_px: np.ndarray, tolerance_px: float) -> tuple[np.ndarray, np.ndarray]:
    """Homography mm to px from float (n, 2) point pairs, n >= 4, and which pairs agree with it, bool (n,).

    Pairs further than ``tolerance_px`` from the map are left out (RANSAC); the rest are fitted by least squares.
    Raises ValueError if no map fits.
    """
    matrix, kept = cv2.findHomography(
        points_mm.astype(np.float64), points_px.astype(np.float64), cv2.RANSAC, tolerance_px, maxIters=500
    )
    if matrix is None:
        raise ValueError("no homography fits the points")
    return matrix, kept.ravel().astype(bool)


def polynomial_terms(points_mm: np.ndarray, size_mm: tuple[float, float], degree: int) -> np.ndarray:
    """Terms of a polynomial in x and y up to ``degree`` at float (n, 2) points: float64 (n, k), low degrees first."""
    points = np.asarray(points_mm, np.float64)
    x = points[:, 0] / size_mm[0] * 2 - 1
    y = points[:, 1] / size_mm[1] * 2 - 1
    columns = [x**i * y ** (total - i) for total in range(degree + 1) for i in range(total, -1, -1)]
    return np.stack(columns, axis=1)


def fit_polynomial(terms: np.ndarray, values: np.ndarray, quality: np.ndarray, rounds: int = 4) -> np.ndarray:
    """Robust least squares (iterated, Tukey's biweight): float64 (n, k) terms, (n,) values, (n,) weights to (k,).

    Handwriting that crosses a border pulls single measurements far away; these end up with no weight at all.
    """
    weights = quality.copy()
    # A whisper of ridge keeps high terms at zero where no artwork says anything about them.
    ridge = 1e-3 * max(float(quality.sum()), 1e-9) / len(quality) * np.eye(terms.shape[1])
    ridge[0, 0] = 0
    result = np.zeros(terms.shape[1])
    for _ in range(rounds):
        weighted = terms * weights[:, None]
        result = np.linalg.solve(terms.T @ weighted + ridge, weighted.T @ values)
        error = np.abs(values - terms @ result)
        scale = max(4.685 * 1.4826 * float(np.median(error[quality > 0])), 0.15) if (quality > 0).any() else 1.0
        weights = quality * np.clip(1 - (error / scale) ** 2, 0, None) ** 2
    return result
