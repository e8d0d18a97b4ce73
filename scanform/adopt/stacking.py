"""Filled copies of one form laid over each other roughly: which belong together, which way up, to about 1 mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from scanform.adopt.fineness import page_px_per_mm
from scanform.form import BLANK_PX_PER_MM, Paper
from scanform.intake import Page
from scanform.locate import PageMap
from scanform.locate.print_match import Keypoints, match_print, page_keypoints

__all__ = ["Laid", "Sheet", "Stack", "ink_of_page", "laid_together", "sheet_of", "turned_upon"]

_PAPER_WINDOW_MM = 6.0  # wider than any stroke; tinted bands of print come out as their edges
# Wider than the dark bar of a heading is high, which is print through and through; no pen covers so much so darkly.
_BAR_WINDOW_MM, _BAR_INK = 12.0, 150
_SOLID_SHARE = 99.0  # percentile of darkness that counts as solid ink: print covers 2 to 6 % of a form
_LEAST_CONTRAST = 25.0  # grey levels
_CANDIDATES = 4  # pages tried as the one that all others are matched with
_NEARLY_ALL = 0.9
_PAPER_SLACK = 0.04


@dataclass(frozen=True, eq=False)
class Sheet:
    """One page made ready. ``ink``: uint8 (height, width), 0 paper to 255 solid ink, whatever the paper's grey was.

    ``keypoints``: in px of the ink. ``source`` and ``number``: file and page, as the user knows it.
    """

    source: str
    number: int
    ink: np.ndarray = field(repr=False)
    px_per_mm: float
    keypoints: Keypoints = field(repr=False)


@dataclass(frozen=True, eq=False)
class Laid:
    """A page of the stack: its ``ink`` turned the stack's way up, and the map from the stack's mm to its px.

    ``turned``: by how many quarter turns, clockwise, the page had to be turned for that.
    """

    sheet: Sheet
    ink: np.ndarray = field(repr=False)
    map: PageMap
    turned: int


@dataclass(frozen=True, eq=False)
class Stack:
    """Copies of one form in one frame of ``size_mm``; ``others``: pages that do not show it."""

    laid: tuple[Laid, ...]
    others: tuple[Sheet, ...]
    size_mm: tuple[float, float]


def ink_of_page(pixels: np.ndarray, px_per_mm: float) -> np.ndarray:
    """How dark each pixel is against the paper around it: uint8, 0 paper to 255 solid ink, from uint8 grey."""
    near, far = (
        cv2.subtract(_paper(pixels, px_per_mm, window_mm), pixels) for window_mm in (_PAPER_WINDOW_MM, _BAR_WINDOW_MM)
    )
    solid = max(_LEAST_CONTRAST, float(np.percentile(near[::3, ::3], _SOLID_SHARE)))
    ink, with_bars = (cv2.convertScaleAbs(dark, alpha=255.0 / solid) for dark in (near, far))
    return np.where(with_bars > _BAR_INK, with_bars, ink)


def _paper(pixels: np.ndarray, px_per_mm: float, window_mm: float) -> np.ndarray:
    """The grey of the paper around each pixel, uint8: the lightest within half a window, made smooth."""
    factor = min(1.0, 2.0 / px_per_mm)  # it changes slowly
    small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    window = max(3, round(window_mm * px_per_mm * factor) | 1)
    closed = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((window, window), np.uint8))
    return np.asarray(cv2.resize(cv2.blur(closed, (window, window)), (pixels.shape[1], pixels.shape[0])))


def sheet_of(page: Page, finest_px_per_mm: float = BLANK_PX_PER_MM) -> Sheet:
    """A page made ready to be matched with others; its ink is kept no finer than is asked for."""
    px_per_mm = page_px_per_mm(page)
    pixels = page.pixels
    if px_per_mm > 1.1 * finest_px_per_mm:
        factor = finest_px_per_mm / px_per_mm
        pixels = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        px_per_mm *= pixels.shape[1] / page.pixels.shape[1]
    return Sheet(page.source, page.number, ink_of_page(pixels, px_per_mm), px_per_mm, page_keypoints(pixels))


def laid_together(sheets: Sequence[Sheet]) -> Stack:
    """All pages that show the same print as most others, in a frame that is the middle of theirs.

    Of each page the frame's scale, skew and place differ a little: those of the stack are the medians. Which way up is
    what most pages say.
    """
    matched: list[tuple[Sheet, np.ndarray]] = []
    for one in sheets[:: max(1, len(sheets) // _CANDIDATES)][:_CANDIDATES]:
        matched = max(matched, _matched_with(one, sheets), key=len)
        if len(matched) >= _NEARLY_ALL * len(sheets):
            break
    others = tuple(s for s in sheets if all(s is not sheet for sheet, _ in matched))
    turns = [_quarter_turns(homography) for _, homography in matched]
    usual = max(set(turns), key=turns.count)
    laid = [turned_upon(sheet, h, (usual - turn) % 4) for (sheet, h), turn in zip(matched, turns, strict=True)]
    frame, size = _middle_frame(laid)
    return Stack(tuple(replace(one, map=_in_frame(one.map, frame, size)) for one in laid), others, size)


def _matched_with(one: Sheet, sheets: Sequence[Sheet]) -> list[tuple[Sheet, np.ndarray]]:
    """Pages that show the print of one, and the homographies from its mm to their px."""
    size = one.ink.shape[1] / one.px_per_mm, one.ink.shape[0] / one.px_per_mm
    own = Keypoints((one.keypoints.places + 0.5) / one.px_per_mm, one.keypoints.descriptors)
    found = []
    for sheet in sheets:
        if sheet is one:
            scale = one.px_per_mm
            found.append((one, np.array([[scale, 0, -0.5], [0, scale, -0.5], [0, 0, 1.0]])))
            continue
        match = match_print(sheet.keypoints, own, size)
        if match is not None:
            found.append((sheet, match.map.homography))
    return found


def _quarter_turns(homography: np.ndarray) -> int:
    """By how many quarter turns, clockwise, the page lies turned against the one it was matched with."""
    angle = np.degrees(np.arctan2(homography[1, 0], homography[0, 0]))
    return int(np.round(angle / 90)) % 4


def turned_upon(sheet: Sheet, homography: np.ndarray, turns: int) -> Laid:
    """The page turned by quarter turns, with the map that its homography then is."""
    height, width = sheet.ink.shape
    about = {
        0: np.eye(3),
        1: np.array([[0, -1, height - 1], [1, 0, 0], [0, 0, 1.0]]),
        2: np.array([[-1, 0, width - 1], [0, -1, height - 1], [0, 0, 1.0]]),
        3: np.array([[0, 1, 0], [-1, 0, width - 1], [0, 0, 1.0]]),
    }[turns]
    ink = np.ascontiguousarray(np.rot90(sheet.ink, -turns))
    return Laid(sheet, ink, PageMap(about @ homography, (1.0, 1.0)), turns)


def _middle_frame(laid: Sequence[Laid]) -> tuple[np.ndarray, tuple[float, float]]:
    """The affine map (3, 3) from the middle frame's mm to those that the pages were matched in, and its size in mm."""
    sides = np.array([[one.ink.shape[1], one.ink.shape[0]] / np.array(one.sheet.px_per_mm) for one in laid])
    size = _paper_size(float(np.median(sides[:, 0])), float(np.median(sides[:, 1])))
    # Points of the common frame well inside the page, and where each page has them in its own mm.
    first = laid[0].map.homography
    inside = np.array([[u, v] for u in np.linspace(0.15, 0.85, 6) for v in np.linspace(0.15, 0.85, 6)])
    corner_px = inside * [laid[0].ink.shape[1], laid[0].ink.shape[0]]
    common = PageMap(np.linalg.inv(first), (1.0, 1.0)).to_px(corner_px)
    own = np.array([(one.map.to_px(common) + 0.5) / one.sheet.px_per_mm for one in laid])
    middle = np.median(own, axis=0)
    affine, _ = cv2.estimateAffine2D(middle, common, ransacReprojThreshold=2.0)
    return np.vstack([affine, [0.0, 0.0, 1.0]]), size


def _paper_size(width: float, height: float) -> tuple[float, float]:
    """The paper that a scan of this size is of; its own size if it is none of them."""
    for paper in Paper:
        for size in (paper.size_mm, paper.size_mm[::-1]):
            if abs(width / size[0] - 1) < _PAPER_SLACK and abs(height / size[1] - 1) < _PAPER_SLACK:
                return size
    return width, height


def _in_frame(page_map: PageMap, frame: np.ndarray, size_mm: tuple[float, float]) -> PageMap:
    return PageMap(page_map.homography @ frame, size_mm)
