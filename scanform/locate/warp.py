"""The map from a sheet's millimetres to a page's pixels: a homography, then a smooth correction on the paper."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

__all__ = ["DEGREE_TERMS", "PageMap", "fit_homography", "fit_polynomial", "polynomial_terms"]

DEGREE_TERMS = {1: 3, 2: 6, 3: 10, 4: 15}  # terms of a polynomial in x and y by its degree
_DEGREES = {terms: degree for degree, terms in DEGREE_TERMS.items()}


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
        return self._projected(points if self.correction is None else points + self.displacement_mm(points))

    def to_px_by_terms(self, points_mm: np.ndarray, terms: np.ndarray) -> np.ndarray:
        """As :meth:`to_px`, for points whose :func:`polynomial_terms` of this degree or a higher one are at hand."""
        if self.correction is None:
            return self._projected(points_mm)
        return self._projected(points_mm + terms[:, : len(self.correction)] @ self.correction)

    def _projected(self, points_mm: np.ndarray) -> np.ndarray:
        h = self.homography
        px = points_mm @ h[:2, :2].T
        px += h[:2, 2]
        px /= (points_mm @ h[2, :2] + h[2, 2])[:, None]
        return px

    def displacement_mm(self, points_mm: np.ndarray) -> np.ndarray:
        """The correction at float (n, 2) points in mm, float64 (n, 2)."""
        if self.correction is None:
            return np.zeros((len(points_mm), 2))
        return polynomial_terms(points_mm, self.size_mm, _DEGREES[len(self.correction)]) @ self.correction

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
    x = points[:, 0] * (2 / size_mm[0]) - 1
    y = points[:, 1] * (2 / size_mm[1]) - 1
    terms = np.empty((DEGREE_TERMS[degree], len(points)))
    terms[0] = 1.0
    # Each row of x^i y^j of one degree is the row of the degree before, times x, and its last term times y once more.
    before, at = 0, 1
    for total in range(1, degree + 1):
        np.multiply(terms[before : before + total], x, out=terms[at : at + total])
        np.multiply(terms[before + total - 1], y, out=terms[at + total])
        before, at = at, at + total + 1
    return terms.T


def fit_polynomial(terms: np.ndarray, values: np.ndarray, quality: np.ndarray, rounds: int = 4) -> np.ndarray:
    """Robust least squares (iterated, Tukey's biweight): float64 (n, k) terms, (n,) values, (n,) weights to (k,).

    Handwriting that crosses a border pulls single measurements far away; these end up with no weight at all.
    """
    weights = quality.copy()
    weighs = quality > 0
    # A whisper of ridge keeps high terms at zero where no artwork says anything about them.
    ridge = 1e-3 * max(float(quality.sum()), 1e-9) / len(quality) * np.eye(terms.shape[1])
    ridge[0, 0] = 0
    result = np.zeros(terms.shape[1])
    for _ in range(rounds):
        weighted = terms * weights[:, None]
        result = np.linalg.solve(terms.T @ weighted + ridge, weighted.T @ values)
        error = np.abs(values - terms @ result)
        scale = max(4.685 * 1.4826 * float(np.median(error[weighs])), 0.15) if weighs.any() else 1.0
        weights = quality * np.maximum(1 - (error / scale) ** 2, 0) ** 2
    return result
