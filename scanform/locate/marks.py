"""Find the registration marks on a page and make the first map from them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from scanform.form import Layout, Paper
from scanform.form.paper import registration_marks
from scanform.locate.warp import PageMap, fit_homography

__all__ = ["FEWEST_MARKS", "FoundMark", "all_marks", "find_marks", "map_from_all_marks", "map_from_marks", "reduced"]

# A sheet's long side at about 100, 150 and 300 dpi: marks of 8 mm are then 31, 47 and 94 px. At 150 dpi the detector
# finds them at every scan grade; at 100 dpi it finds all eight on nearly every clean page in half the time.
_SEARCH_LONG_SIDES_PX = (1170, 1750, 3500)
# Before these a glance, at no less than about 70 dpi (22 px a mark), at the side margins alone (the marks end 28 mm
# from an edge, 0.13 of the width) and at large squares only: of a sheet that fills most of the picture the marks (0.11
# of its long side in perimeter), but not its tick boxes (0.067).
_GLANCE_LONG_SIDE_PX = 820
_MARGIN_SHARE = 0.2
_GLANCE_PERIMETER = 0.08
_LEAST_PERIMETER = 0.03
_ONE_WINDOW, _MANY_WINDOWS = (17, 17), (5, 43)  # px that a threshold is taken over: one size, or several in turn
_ALL_MARKS, _ENOUGH_MARKS = 8, 6
FEWEST_MARKS = 3


@dataclass(frozen=True, eq=False)
class FoundMark:
    """A mark's identity and its corners in page px, float32 (4, 2), clockwise from the mark's own top left."""

    identity: int
    corners_px: np.ndarray


def reduced(pixels: np.ndarray, long_side_px: int) -> tuple[np.ndarray, float]:
    """The page made smaller by a whole number, to about ``long_side_px`` or less, and 1 / that number.

    Whole numbers because averaging blocks of pixels is ten times as fast as resampling.
    """
    by = max(1, min(round(max(pixels.shape) / long_side_px), *pixels.shape))  # a strip of one pixel keeps it
    return _blocks_averaged(pixels, by)


def _blocks_averaged(pixels: np.ndarray, by: int) -> tuple[np.ndarray, float]:
    if by == 1:
        return pixels, 1.0
    height, width = (size // by * by for size in pixels.shape)
    small = cv2.resize(pixels[:height, :width], (width // by, height // by), interpolation=cv2.INTER_AREA)
    return small, 1 / by


@lru_cache(maxsize=8)
def _detector(window_px: tuple[int, int], least_perimeter: float) -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.minMarkerPerimeterRate = least_perimeter
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = window_px
    parameters.adaptiveThreshWinSizeStep = 10
    return cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), parameters)


def find_marks(pixels: np.ndarray) -> list[FoundMark]:
    """All marks with identities that our sheets use, on a uint8 (height, width) page.

    A glance at the margins comes first, which is enough if it sees all eight. If not, the whole page is searched, less
    reduced; and once more, with more thresholds, if that sees fewer than six.
    """
    best = _glance(pixels)
    if len(best) == _ALL_MARKS:
        return best
    for n, long_side in enumerate(_SEARCH_LONG_SIDES_PX):
        detector = _detector(_MANY_WINDOWS if n else _ONE_WINDOW, _LEAST_PERIMETER)
        found = _marks_on(*reduced(pixels, long_side), detector)
        # Of two searches that see as many the later is the more exact one: with few marks that matters.
        if len(found) >= len(best):
            best = found
        # A page without any mark is most often other paper, or a blank back: one more look is enough there.
        if len(best) >= _ENOUGH_MARKS or (n and not best):
            break
    return best


def _glance(pixels: np.ndarray) -> list[FoundMark]:
    """The marks in the page's side margins, put side by side and made small."""
    width = pixels.shape[1]
    by = 2 ** max(0, int(np.log2(max(pixels.shape) / _GLANCE_LONG_SIDE_PX)))
    strip = round(_MARGIN_SHARE * width / by) * by
    if min(strip, pixels.shape[0]) < by:
        return []
    sides, factor = [pixels[:, :strip], pixels[:, width - strip :]], 1.0
    while factor * by > 1:  # halving twice is faster than averaging blocks of four
        sides = [_blocks_averaged(side, 2)[0] for side in sides]
        factor /= 2
    small = np.concatenate(sides, axis=1)
    found = _marks_on(small, factor, _detector(_ONE_WINDOW, _GLANCE_PERIMETER))
    right = np.array([width - 2 * strip, 0], np.float32)
    return [FoundMark(m.identity, m.corners_px + right * (m.corners_px[:, :1] > strip)) for m in found]


def all_marks(small: np.ndarray, factor: float) -> list[FoundMark]:
    """Every mark on a page that was reduced by ``factor``, in px of the whole; an identity may occur more than once."""
    return _every_mark_on(small, factor, _detector(_MANY_WINDOWS, _LEAST_PERIMETER))


def _marks_on(small: np.ndarray, factor: float, detector: cv2.aruco.ArucoDetector) -> list[FoundMark]:
    by_identity: dict[int, FoundMark] = {}
    for mark in _every_mark_on(small, factor, detector):
        by_identity.setdefault(mark.identity, mark)
    return list(by_identity.values())


def _every_mark_on(small: np.ndarray, factor: float, detector: cv2.aruco.ArucoDetector) -> list[FoundMark]:
    corners, identities, _ = detector.detectMarkers(small)
    if identities is None:
        return []
    known = {mark.identity for mark in registration_marks(Paper.A4)}
    return [
        # Pixel centres, not pixel corners, keep their place.
        FoundMark(int(identity), (quad.reshape(4, 2) + 0.5) / factor - 0.5)
        for quad, identity in zip(corners, identities.ravel(), strict=True)
        if int(identity) in known
    ]


def map_from_marks(found: list[FoundMark], layout: Layout) -> tuple[PageMap, float, int] | None:
    """A first map from the marks: ``(map, root mean square error in mm, marks that agree)``, or None.

    Three agreeing marks are the least from which a sheet's map is trusted.
    """
    pairs = _pairs(found, layout)
    if pairs is None:
        return None
    mm, px, px_per_mm = pairs
    try:
        homography, kept = fit_homography(mm, px, tolerance_px=_STRAY_MM * px_per_mm)
    except (ValueError, cv2.error):
        return None
    agreeing = int(kept.reshape(-1, 4).all(axis=1).sum())
    if agreeing < FEWEST_MARKS:
        return None
    page_map = PageMap(homography, (layout.width_mm, layout.height_mm))
    return page_map, _error_mm(page_map, mm[kept], px[kept], px_per_mm), agreeing


def map_from_all_marks(found: list[FoundMark], layout: Layout) -> tuple[PageMap, float, int] | None:
    """As :func:`map_from_marks`, if the marks leave no question: at least six, all where this sheet has its own."""
    pairs = _pairs(found, layout)
    if pairs is None or not _ENOUGH_MARKS <= len(pairs[0]) // 4 == len(found):
        return None
    mm, px, px_per_mm = pairs
    homography, _ = cv2.findHomography(mm, px)
    if homography is None:
        return None
    page_map = PageMap(homography, (layout.width_mm, layout.height_mm))
    error_mm = _error_mm(page_map, mm, px, px_per_mm)
    return (page_map, error_mm, len(found)) if error_mm < _SURE_MM else None


# Corners further than this from the map are strays. All of one paper size's marks together come out below 0.3 mm, and
# at 1.5 mm or more in the places of the other.
_STRAY_MM = 2.5
_SURE_MM = 0.5


def _pairs(found: list[FoundMark], layout: Layout) -> tuple[np.ndarray, np.ndarray, float] | None:
    """Corners in mm and in px, float64 (4 n, 2) each, and the scale in px/mm; None if the marks are too few."""
    places = {mark.identity: mark.box_mm for mark in layout.marks}
    usable = [mark for mark in found if mark.identity in places]
    if len(usable) < FEWEST_MARKS:
        return None
    mm = np.concatenate([_corners_mm(places[mark.identity]) for mark in usable])
    px = np.concatenate([mark.corners_px for mark in usable]).astype(np.float64)
    side_px = float(np.mean([np.linalg.norm(m.corners_px[0] - m.corners_px[1]) for m in usable]))
    return mm, px, side_px / layout.marks[0].box_mm.w_mm


def _error_mm(page_map: PageMap, mm: np.ndarray, px: np.ndarray, px_per_mm: float) -> float:
    """Root mean square distance."""
    return float(np.sqrt(((page_map.to_px(mm) - px) ** 2).sum(axis=1).mean()) / px_per_mm)


def _corners_mm(box: tuple[float, float, float, float]) -> np.ndarray:
    x, y, w, h = box
    return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
