"""Find a sheet by its printed words and boxes, where too few registration marks can be seen.

Keypoints of the page (SIFT: Lowe, IJCV 60(2), 2004) are matched with those of the sheet's artwork as it was drawn, in
whichever rotation and at whatever scale; the map on which most matches agree is the sheet's (RANSAC: Fischler and
Bolles, CACM 24(6), 1981).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from scanform.form import Layout
from scanform.locate.artwork import Anchors
from scanform.locate.marks import reduced
from scanform.locate.picture import artwork_picture
from scanform.locate.warp import PageMap

__all__ = ["Keypoints", "PrintMatch", "keypoints_of", "match_print", "page_keypoints", "paired", "picture_keypoints"]

_PX_PER_MM = 4.0  # about 100 dpi: print of 8 pt is then 8 px high, and a sheet has 2,500 keypoints
_LONG_SIDE_PX = 1300  # a page of the same fineness
_MOST_KEYPOINTS = 3000
_CLEARLY_NEARER = 0.8  # Lowe's ratio: the best match against the next best
# A feeder or a bent page moves print by a few mm from the best flat map: by 0.01 of how far the matches reach.
_STRAY_SHARE = 0.01
# Pages of a sheet have hundreds of agreeing matches (160 and more in the five scan grades), other paper a dozen.
_FEWEST_AGREEING = 40
_NEIGHBOURS, _BORNE_OUT_MM = 8, 0.5
_MATCH_WEIGHT = 0.1  # places of keypoints are good to 0.1 to 0.2 mm, and there are many more of them than borders
_MOST_OFF_SQUARE = 2.2  # no scan or photo stretches one way so much more than the other; T.4's coarse grid is 2.08


@dataclass(frozen=True, eq=False)
class Keypoints:
    """Places float64 (n, 2), in mm of a sheet or px of a page, and SIFT descriptors float32 (n, 128)."""

    places: np.ndarray
    descriptors: np.ndarray


@dataclass(frozen=True, eq=False)
class PrintMatch:
    """The map on which the most matches agree, and those: float64 (n, 2) mm on the sheet, px on the page."""

    map: PageMap
    anchors: Anchors

    @property
    def agreeing(self) -> int:
        """How many matches agree."""
        return len(self.anchors.mm)


def keypoints_of(layout: Layout) -> Keypoints:
    """Keypoints of a sheet's artwork, in mm."""
    found = picture_keypoints(artwork_picture(layout, _PX_PER_MM))
    return Keypoints((found.places + 0.5) / _PX_PER_MM, found.descriptors)


def page_keypoints(pixels: np.ndarray) -> Keypoints:
    """Keypoints of a uint8 (height, width) page, in its px."""
    small, factor = reduced(pixels, _LONG_SIDE_PX)
    found = picture_keypoints(small)
    return Keypoints((found.places + 0.5) / factor - 0.5, found.descriptors)


def picture_keypoints(picture: np.ndarray) -> Keypoints:
    """Keypoints of a uint8 (height, width) picture, in its own px."""
    points, descriptors = cv2.SIFT.create(nfeatures=_MOST_KEYPOINTS).detectAndCompute(picture, None)
    if descriptors is None:
        return Keypoints(np.empty((0, 2)), np.empty((0, 128), np.float32))
    return Keypoints(np.array([point.pt for point in points], np.float64), descriptors)


def match_print(page: Keypoints, sheet: Keypoints, size_mm: tuple[float, float]) -> PrintMatch | None:
    """Where on the page the sheet's print lies; None if too little of it agrees on one place, or it is mirrored."""
    on_sheet, on_page = paired(page, sheet)
    if len(on_sheet) < _FEWEST_AGREEING:
        return None
    stray_px = max(1.0, _STRAY_SHARE * float(np.ptp(on_page, axis=0).max()))
    homography, agree = cv2.findHomography(on_sheet, on_page, cv2.RANSAC, stray_px, maxIters=2000)
    if homography is None or int(agree.sum()) < _FEWEST_AGREEING or not _upright(homography, size_mm):
        return None
    agreeing = agree.ravel().astype(bool)
    page_map = PageMap(homography, size_mm)
    return PrintMatch(page_map, _borne_out(page_map, on_sheet[agreeing], on_page[agreeing]))


def _borne_out(page_map: PageMap, on_sheet: np.ndarray, on_page: np.ndarray) -> Anchors:
    """The matches that lie where their neighbours on the sheet say: one alone in a corner must not bend the map."""
    offsets = Anchors(on_sheet, on_page, _MATCH_WEIGHT).offsets_mm(page_map)
    apart = np.linalg.norm(on_sheet[:, None] - on_sheet[None], axis=2)
    near = np.argpartition(apart, _NEIGHBOURS, axis=1)[:, : _NEIGHBOURS + 1]
    said = np.median(offsets[near], axis=1)
    kept = np.linalg.norm(offsets - said, axis=1) < _BORNE_OUT_MM
    return Anchors(on_sheet[kept], on_page[kept], _MATCH_WEIGHT)


def paired(page: Keypoints, sheet: Keypoints) -> tuple[np.ndarray, np.ndarray]:
    """Places float64 (n, 2) of keypoints that clearly belong together: on the sheet, and on the page."""
    if len(page.places) < 2 or len(sheet.places) < 2:
        return np.empty((0, 2)), np.empty((0, 2))
    nearest, best, second = _two_nearest(page.descriptors, sheet.descriptors)
    clearly = np.sqrt(best).astype(np.float64) < _CLEARLY_NEARER * np.sqrt(second).astype(np.float64)
    return sheet.places[nearest[clearly]], page.places[clearly]


def _two_nearest(of: np.ndarray, among: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For each descriptor which one ``among`` others is nearest, int (n,), its squared distance and the next one's.

    OpenCV's descriptors are whole numbers of 0 to 255 and 512 long, so that sums of their products are exact in
    float32, in whichever order: the same as one by one, by one product of matrices in a fifth of the time.
    """
    apart = of @ (-2 * among.T)
    apart += np.einsum("ij,ij->i", among, among)
    rows, nearest = np.arange(len(of)), apart.argmin(axis=1)
    best = apart[rows, nearest]
    apart[rows, nearest] = np.inf
    own = np.einsum("ij,ij->i", of, of)
    return nearest, best + own, apart.min(axis=1) + own


def _upright(homography: np.ndarray, size_mm: tuple[float, float]) -> bool:
    """Whether the map is one that a camera or a scanner can make: not mirrored, not folded, about square."""
    width, height = size_mm
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    depth = corners @ homography[2, :2] + homography[2, 2]
    if depth.min() <= 0 < depth.max() or depth.max() > 4 * depth.min():
        return False
    middle = np.array([[width / 2, height / 2]])
    px = PageMap(homography, size_mm).to_px(np.concatenate([middle, middle + [1.0, 0], middle + [0, 1.0]]))
    jacobian = np.stack([px[1] - px[0], px[2] - px[0]], axis=1)
    across, down = np.linalg.norm(jacobian, axis=0)
    return bool(np.linalg.det(jacobian) > 0 and max(across, down) < _MOST_OFF_SQUARE * min(across, down))
