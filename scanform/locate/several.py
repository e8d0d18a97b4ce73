"""More than one sheet in a picture: find each, and show :func:`scanform.locate.locate` one at a time.

Two sheets photographed side by side, or laid on one scanner glass, carry every mark twice. Each mark, and each code,
says by its own four corners where the middle of its sheet must be; marks that agree on it are of one sheet. For each
sheet the rest of the picture is painted over, so that all places stay in the pixels of the whole picture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from scanform.form import Layout, Paper
from scanform.intake import Page
from scanform.locate.codes import codes_with_places, read_code
from scanform.locate.known import KnownLayouts
from scanform.locate.marks import FEWEST_MARKS, all_marks, reduced
from scanform.locate.sheet import LocatedSheet, NotLocated, locate
from scanform.locate.warp import fit_homography

__all__ = ["sheets_on"]

# A second sheet of which half can be seen leaves the first at most two thirds of the picture; seen from the side, where
# the far one looks smaller, a little more.
_FILLS_PICTURE = 0.75
_SEARCH_LONG_SIDE_PX = 2500  # two sheets side by side: each mark then has the 25 px that one has on its own at 150 dpi
# By one mark's corners the middle of its sheet is found within 30 mm (perspective of 35 degrees included); two sheets
# that do not lie on each other are 200 mm apart.
_SAME_MIDDLE_MM = 80.0
_STRAY_MM = 2.5  # as for the marks of a lone sheet
_HALF_SEEN = 0.5
_ON_EACH_OTHER = 0.03  # of a sheet's area: outlines of sheets side by side may touch
_CLEARLY_MORE_MARKS = 2
_RIM_MM, _WIDE_RIM_MM = 8.0, 40.0  # kept round a sheet whose map is known, and round one guessed from a mark or two
_CODE = -1
_PAINT = 255

_EDGE_SEEN = "part of another sheet can be seen in the picture; only this one was read"
_COVERED = (
    "Two sheets lie on each other in this picture, and this one is partly covered; lay them side by side, not "
    "touching, and take the picture again."
)


@dataclass(frozen=True, eq=False)
class _Sign:
    """A mark or a code in the picture: its identity (-1 for a code) and its corners in px, float (4, 2)."""

    identity: int
    corners_px: np.ndarray


@dataclass(frozen=True, eq=False)
class _Place:
    """Where a sheet lies: float32 (4, 2) outline in px, the same with a rim, and how many marks say so."""

    outline_px: np.ndarray
    rim_px: np.ndarray
    marks: int
    signs: int


def sheets_on(page: Page, known: KnownLayouts) -> list[LocatedSheet | NotLocated]:
    """Every sheet in a picture, in reading order, each as :func:`locate` gives it; one entry at least.

    A sheet counts if at least half of it is in the picture. The mere edge of another is painted over and noted.
    """
    first = locate(page, known)
    if isinstance(first, LocatedSheet):
        if _share_of_picture(first) >= _FILLS_PICTURE:
            return [first]
    elif first.outcome == "blank" or not known.sheets:
        return [first]
    signs = _signs(page.pixels)
    places = [place for group in _groups(signs, known) for place in _places(group, known)]
    whole = [place for place in places if _seen_share(place.outline_px, page.pixels.shape) >= _HALF_SEEN]
    edges = [place for place in places if place not in whole]
    whole, covered, hidden = _stacked(whole)
    edges += hidden
    if len(whole) <= 1 and not edges:
        return [_own_code_only(first, page, known)]
    if not whole:
        return [first]
    whole = _in_reading_order(whole)
    results: list[LocatedSheet | NotLocated] = []
    for part, place in enumerate(whole, start=1):
        if place in covered:
            results.append(NotLocated("unreadable", _COVERED))
            continue
        others = [other for other in (*whole, *edges) if other is not place]
        found = locate(_alone(page, part, place, others), known)
        results.append(_noted(_of_whole_page(found, page, part)) if edges else _of_whole_page(found, page, part))
    return results


def _share_of_picture(sheet: LocatedSheet) -> float:
    layout = sheet.layout
    corners = np.array([[0, 0], [layout.width_mm, 0], [layout.width_mm, layout.height_mm], [0, layout.height_mm]])
    height, width = sheet.raster.shape
    return _seen_area(sheet.map.to_px(corners), sheet.raster.shape) / (height * width)


def _own_code_only(first: LocatedSheet | NotLocated, page: Page, known: KnownLayouts) -> LocatedSheet | NotLocated:
    """The sheet as found, unless its code was read beside it: then once more with all but the sheet painted over."""
    if not isinstance(first, LocatedSheet) or first.code is None:
        return first
    if read_code(first.raster, first.map, first.layout) == first.code:
        return first
    layout = first.layout
    corners = _corners_mm((0.0, 0.0, layout.width_mm, layout.height_mm))
    rim = _grown(corners, _RIM_MM)
    px = [((first.map.to_px(c) + 0.5) / first.raster_scale - 0.5).astype(np.float32) for c in (corners, rim)]
    found = locate(_alone(page, page.part, _Place(px[0], px[1], first.marks_found, first.marks_found), []), known)
    return _of_whole_page(found, page, page.part)


def _signs(pixels: np.ndarray) -> list[_Sign]:
    small, factor = reduced(pixels, _SEARCH_LONG_SIDE_PX)
    signs = [_Sign(mark.identity, mark.corners_px) for mark in all_marks(small, factor)]
    return signs + [_Sign(_CODE, (corners + 0.5) / factor - 0.5) for corners in codes_with_places(small)]


def _corners_of(sign: _Sign, layout: Layout) -> np.ndarray:
    if sign.identity == _CODE:
        return _corners_mm(layout.code_box_mm)
    return _corners_mm(next(mark.box_mm for mark in layout.marks if mark.identity == sign.identity))


def _corners_mm(box: tuple[float, float, float, float]) -> np.ndarray:
    x, y, w, h = box
    return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]], np.float64)


def _grown(corners_mm: np.ndarray, by_mm: float) -> np.ndarray:
    return corners_mm + by_mm * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])


def _affine(signs: list[_Sign], layout: Layout) -> np.ndarray:
    """The affine map from mm to px that fits the signs' corners best: float64 (3, 2) for points (x, y, 1)."""
    mm = np.concatenate([_corners_of(sign, layout) for sign in signs])
    px = np.concatenate([sign.corners_px for sign in signs]).astype(np.float64)
    return np.linalg.lstsq(np.column_stack([mm, np.ones(len(mm))]), px, rcond=None)[0]


def _papers(known: KnownLayouts) -> list[Layout]:
    return [sheets[0].layout for paper in Paper if (sheets := known.on_paper(paper))]


def _groups(signs: list[_Sign], known: KnownLayouts) -> list[list[_Sign]]:
    """Signs that agree on where the middle of their sheet is."""
    layout = _papers(known)[0]
    middles, reaches = [], []
    for sign in signs:
        affine = _affine([sign], layout)
        middles.append(np.array([layout.width_mm / 2, layout.height_mm / 2, 1.0]) @ affine)
        reaches.append(_SAME_MIDDLE_MM * np.sqrt(abs(np.linalg.det(affine[:2]))))
    group = list(range(len(signs)))
    for i in range(len(signs)):
        for j in range(i):
            if np.linalg.norm(middles[i] - middles[j]) < min(reaches[i], reaches[j]):
                group = [group[j] if g == group[i] else g for g in group]
    return [[s for s, g in zip(signs, group, strict=True) if g == name] for name in dict.fromkeys(group)]


def _places(signs: list[_Sign], known: KnownLayouts) -> list[_Place]:
    """The sheets that a group of signs tells of: several if they lie on each other, none for one mark alone."""
    places = []
    left = list(signs)
    while True:
        fits = [fit for layout in _papers(known) if (fit := _fitted(left, layout)) is not None]
        if not fits:
            break
        layout, homography, used = max(fits, key=lambda fit: len(fit[2]))
        corners = _corners_mm((0.0, 0.0, layout.width_mm, layout.height_mm))
        outline, rim = (
            cv2.perspectiveTransform(c[None], homography)[0].astype(np.float32)
            for c in (corners, _grown(corners, _RIM_MM))
        )
        places.append(_Place(outline, rim, len(used), len(used)))
        inside = [s for s in left if s.identity == _CODE and _inside(s, outline)]
        left = [s for s in left if s not in used and s not in inside]
    if not places and (len(left) > 1 or any(sign.identity == _CODE for sign in left)):
        layout = _papers(known)[0]
        affine = _affine(left, layout)
        corners = _corners_mm((0.0, 0.0, layout.width_mm, layout.height_mm))
        outline, rim = (
            (np.column_stack([c, np.ones(4)]) @ affine).astype(np.float32)
            for c in (corners, _grown(corners, _WIDE_RIM_MM))
        )
        places.append(_Place(outline, rim, sum(s.identity != _CODE for s in left), len(left)))
    return places


def _fitted(signs: list[_Sign], layout: Layout) -> tuple[Layout, np.ndarray, list[_Sign]] | None:
    """The homography on which most marks agree, and these; None if they are fewer than three."""
    marks = [sign for sign in signs if sign.identity != _CODE]
    if len(marks) < FEWEST_MARKS:
        return None
    mm = np.concatenate([_corners_of(mark, layout) for mark in marks])
    px = np.concatenate([mark.corners_px for mark in marks]).astype(np.float64)
    side = float(np.mean([np.linalg.norm(m.corners_px[0] - m.corners_px[1]) for m in marks]))
    try:
        homography, kept = fit_homography(mm, px, _STRAY_MM * side / layout.marks[0].box_mm.w_mm)
    except (ValueError, cv2.error):
        return None
    agreeing = np.flatnonzero(kept.reshape(-1, 4).all(axis=1))
    used = [marks[n] for n in agreeing]
    return (layout, homography, used) if len(used) >= FEWEST_MARKS else None


def _inside(sign: _Sign, outline_px: np.ndarray) -> bool:
    middle = sign.corners_px.mean(axis=0)
    return cv2.pointPolygonTest(outline_px, (float(middle[0]), float(middle[1])), False) >= 0


def _seen_area(outline_px: np.ndarray, shape: tuple[int, ...]) -> float:
    """Area in px of that part of a convex outline that lies in the picture."""
    height, width = shape[:2]
    picture = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    return float(cv2.intersectConvexConvex(outline_px.astype(np.float32), picture)[0])


def _seen_share(outline_px: np.ndarray, shape: tuple[int, ...]) -> float:
    area = cv2.contourArea(outline_px)
    return _seen_area(outline_px, shape) / area if area > 0 else 0.0


def _stacked(places: list[_Place]) -> tuple[list[_Place], list[_Place], list[_Place]]:
    """Sheets that lie on each other: ``(sheets to report, those of them that are covered, mere edges below others)``.

    On top is the one with clearly more of its marks to be seen. What is covered by half and more is an edge.
    """
    covered: list[_Place] = []
    hidden: list[_Place] = []
    for n, one in enumerate(places):
        for other in places[:n]:
            shared = float(cv2.intersectConvexConvex(one.outline_px, other.outline_px)[0])
            low, high = sorted((one, other), key=lambda place: place.marks)
            share = shared / cv2.contourArea(low.outline_px)
            if share < _ON_EACH_OTHER:
                continue
            if high.marks - low.marks < _CLEARLY_MORE_MARKS:
                covered += [low, high]
            elif share > _HALF_SEEN:
                hidden.append(low)
            else:
                covered.append(low)
    return [place for place in places if place not in hidden], covered, hidden


def _in_reading_order(places: list[_Place]) -> list[_Place]:
    """Rows from top to bottom, in each from left to right; sheets half a height apart are in two rows."""
    height = max(float(np.ptp(place.outline_px[:, 1])) for place in places)

    def key(place: _Place) -> tuple[int, float]:
        x, y = place.outline_px.mean(axis=0)
        return round(float(y) / height), float(x)

    return sorted(places, key=key)


def _alone(page: Page, part: int, place: _Place, others: list[_Place]) -> Page:
    """The picture with everything painted over that is not this sheet."""
    keep = np.zeros(page.pixels.shape, np.uint8)
    cv2.fillConvexPoly(keep, np.round(place.rim_px).astype(np.int32), 1)
    own = np.zeros_like(keep)
    cv2.fillConvexPoly(own, np.round(place.outline_px).astype(np.int32), 1)
    for other in others:
        cv2.fillConvexPoly(keep, np.round(other.outline_px).astype(np.int32), 0)
    keep |= own
    return replace(page, pixels=np.where(keep > 0, page.pixels, np.uint8(_PAINT)), part=part)


def _of_whole_page(found: LocatedSheet | NotLocated, page: Page, part: int) -> LocatedSheet | NotLocated:
    return replace(found, page=replace(page, part=part)) if isinstance(found, LocatedSheet) else found


def _noted(found: LocatedSheet | NotLocated) -> LocatedSheet | NotLocated:
    return replace(found, warnings=(*found.warnings, _EDGE_SEEN)) if isinstance(found, LocatedSheet) else found
