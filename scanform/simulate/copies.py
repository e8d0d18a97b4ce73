"""What copiers, feeders and paper do to a sheet beyond a scan grade: other sizes, skew, slip, pale toner, tinted paper.

Each takes a page as uint8 (height, width) and gives another one, which can then be captured by
:func:`scanform.simulate.scanner.scan`. Those that move the print give a map from the sheet's mm to the new page's too.
"""

from __future__ import annotations

import cv2
import numpy as np

from scanform.simulate.warp import PointMap, warped

__all__ = [
    "PAPER_TINTS",
    "black_edges",
    "copied",
    "pale",
    "recycled",
    "shown_through",
    "skewed",
    "then",
    "tinted",
    "unevenly_fed",
]

# RGB of coloured office paper under a scanner's lamp; common practice, no published standard.
PAPER_TINTS = {
    "yellow": (250, 240, 150),
    "pink": (245, 190, 200),
    "green": (190, 235, 190),
    "blue": (185, 215, 245),
    "salmon": (250, 190, 150),
}
_SPACE_MM = (20.0, 90.0)  # between two changes of a feeder's speed


def copied(
    page: np.ndarray, dpi: float, ratio: float, onto_mm: tuple[float, float], shift_mm: tuple[float, float] = (0, 0)
) -> tuple[np.ndarray, PointMap]:
    """A copy reduced or enlarged by ``ratio``, centred on paper of ``onto_mm`` (width, height) but for a shift."""
    size = _size_mm(page, dpi)
    middle, target = np.array(size) / 2, np.array(onto_mm) / 2 + shift_mm
    return _laid(page, dpi, onto_mm, lambda mm: (np.asarray(mm, float) - middle) * ratio + target, 255)


def skewed(page: np.ndarray, dpi: float, degrees: float, lid: int) -> tuple[np.ndarray, PointMap]:
    """The page turned on the glass, whose edges cut its corners off; ``lid``: grey beside the paper."""
    size = _size_mm(page, dpi)
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    middle, turn = np.array(size) / 2, np.array([[c, -s], [s, c]])
    return _laid(page, dpi, size, lambda mm: (np.asarray(mm, float) - middle) @ turn.T + middle, lid)


def unevenly_fed(page: np.ndarray, dpi: float, most: float, rng: np.random.Generator) -> tuple[np.ndarray, PointMap]:
    """Drawn through at a speed that changes from stretch to stretch down the page, each off by up to ``most``."""
    size = _size_mm(page, dpi)
    knots = np.concatenate([[0.0], np.cumsum(rng.uniform(*_SPACE_MM, 20))])
    knots = np.append(knots[knots < size[1] - _SPACE_MM[0]], size[1])
    places = np.concatenate([[0.0], np.cumsum(np.diff(knots) * (1 + rng.uniform(-most, most, len(knots) - 1)))])
    longer = size[0], float(places[-1])

    def fed(mm: np.ndarray) -> np.ndarray:
        points = np.asarray(mm, float).reshape(-1, 2)
        y = points[:, 1]
        inside = np.interp(y, knots, places)
        beyond = np.minimum(y, 0) + np.maximum(y - size[1], 0)  # the map goes on past the paper's edges
        return np.column_stack([points[:, 0], inside + beyond])

    return _laid(page, dpi, longer, fed, 255)


def _laid(
    page: np.ndarray, dpi: float, onto_mm: tuple[float, float], to_mm: PointMap, outside: int
) -> tuple[np.ndarray, PointMap]:
    scale = dpi / 25.4
    size_px = round(onto_mm[0] * scale), round(onto_mm[1] * scale)
    return warped(page, dpi, lambda mm: to_mm(mm) * scale - 0.5, size_px, outside), to_mm


def then(first: PointMap, second: PointMap) -> PointMap:
    """One map after the other."""
    return lambda mm: second(first(np.asarray(mm, float).reshape(-1, 2)))


def pale(page: np.ndarray, share: float) -> np.ndarray:
    """Print and ink with only ``share`` of their contrast: toner running out, a copier set too light."""
    return cv2.LUT(page, np.round(255 - (255 - np.arange(256)) * share).astype(np.uint8))


def recycled(page: np.ndarray, dpi: float, rng: np.random.Generator) -> np.ndarray:
    """Grey, cloudy paper with fibres and specks in it, under the print."""
    height, width = page.shape
    clouds = cv2.resize(rng.normal(0, 3, (height // 60, width // 60)).astype(np.float32), (width, height))
    paper = np.clip(rng.uniform(185, 215) + clouds, 0, 255).astype(np.uint8)
    area_cm2 = height * width * (2.54 / dpi) ** 2
    for _ in range(int(6 * area_cm2)):
        start = rng.uniform(0, [width, height])
        end = start + rng.normal(0, 0.5 * dpi / 25.4, 2)
        grey = int(rng.uniform(120, 175))
        cv2.line(paper, tuple(start.astype(int).tolist()), tuple(end.astype(int).tolist()), grey, 1, cv2.LINE_AA)
    return cv2.multiply(page, paper, scale=1 / 255)


def tinted(page: np.ndarray, tint: tuple[int, int, int]) -> np.ndarray:
    """The page on coloured paper, uint8 (height, width, 3) RGB."""
    return np.dstack([cv2.multiply(page, np.full_like(page, value), scale=1 / 255) for value in tint])


def black_edges(page: np.ndarray, dpi: float, rng: np.random.Generator) -> np.ndarray:
    """Black bands of 3 to 9 mm along one to four edges, as a copier leaves them whose lid was open."""
    page = page.copy()
    for turn in rng.permutation(4)[: int(rng.integers(1, 5))]:
        side = np.rot90(page, int(turn))  # a view: what is drawn on it is on the page
        ragged = rng.uniform(3, 9) + 0.6 * np.sin(np.linspace(0, rng.uniform(2, 12), side.shape[1]))
        depth = np.round(ragged * dpi / 25.4)
        band = np.arange(int(depth.max()) + 1)[:, None] < depth
        part = side[: len(band)]
        part[band[: len(part)]] = int(rng.uniform(0, 40))
    return page


def shown_through(front: np.ndarray, dpi: float, level: float) -> np.ndarray:
    """An unprinted back through which the front's print shows, mirrored and softened; ``level``: 1 would be as dark."""
    soft = cv2.GaussianBlur(front, (0, 0), 0.12 * dpi / 25.4)
    return pale(np.ascontiguousarray(soft[:, ::-1]), level)


def _size_mm(page: np.ndarray, dpi: float) -> tuple[float, float]:
    return page.shape[1] * 25.4 / dpi, page.shape[0] * 25.4 / dpi
