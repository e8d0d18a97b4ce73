"""How much of a form's print a page shows where it should be: what tells a form from its other print runs."""

from __future__ import annotations

import cv2
import numpy as np

from scanform.locate.sample import local_frames
from scanform.locate.unmarked.form import KnownForm, Tiles
from scanform.locate.warp import PageMap

__all__ = ["share_shown"]

# Of a piece's printed pixels, those that are dark on the page, give or take a pixel; a piece that is dark nearly all
# over shows nothing. Chosen before any page was looked at.
_PRINT_THERE, _BLACK_ALL_OVER = 0.85, 0.5
# A scanner that makes black and white by comparing with what is about leaves of a dark bar its rim alone (on seven of
# 20 such copies of a form with a bar across it a quarter of each piece of the bar), and of thin grey rules nothing.
# What has no rim either is missing. In black and white the second grey is all that is not paper; on four pages in grey
# 0.31 at most.
_SOLID, _RIM = 0.8, 0.15
_ONE_GREY = 0.9
# Feeders stretch by 1 % or so, copiers both sides alike; a run whose rows are 4 % wider apart is another run's.
_MOST_STRETCHED, _OTHER_RUN = 0.018, 0.9
_INNER = np.linspace(0.1, 0.9, 9)  # shares of the form's sides
_CORNER = 0.42  # of the form's shorter side: what may be torn off at a corner, each way
_NEXT_PX = np.ones((3, 3), np.uint8)
_FEWEST_TELLING = 20


def share_shown(
    raster: np.ndarray,
    page_map: PageMap,
    form: KnownForm,
    pieces: np.ndarray,
    there: np.ndarray,
    even: np.ndarray,
    middle_grey: float,
) -> float:
    """Share of the form's print outside the places to write, 0 to 1, less if the form had to be pulled out for it.

    ``raster``: the page, uint8 (height, width). Of each piece of print: ``pieces`` uint8 (n, side, side), what the page
    has there; ``there`` bool (n,), whether it is alike; ``even`` bool (n,), whether it is as good as one grey.
    ``middle_grey``: between the page's paper and its print.
    """
    printed, dark = _printed(form.tiles), _dark(pieces, middle_grey)
    shown = there | _written_over(printed, dark)
    lost = _torn_off(form, even)
    if _black_and_white(raster):
        lost |= _lost_in_black_and_white(printed, dark)
    telling = form.unwritten & (shown | ~lost)
    if telling.sum() < _FEWEST_TELLING:
        telling = form.unwritten  # what is lost may be all that would tell: then it is missing
    return float(shown[telling].mean()) * _evenly(page_map)


def _evenly(page_map: PageMap) -> float:
    """1 for a form that lies on the page as a copier and a feeder may leave it; less for one stretched along one side.

    A print run whose rows stand wider apart looks like this one pulled out: every word is found, at another row. The
    median over the form tells, since such a map is bent besides, and at its corners may be anything.
    """
    width, height = page_map.size_mm
    across, down = np.meshgrid(width * _INNER, height * _INNER)
    _, jacobians = local_frames(page_map, np.stack([across.ravel(), down.ravel()], axis=1))
    wide, high = np.linalg.norm(jacobians, axis=1).T
    return 1.0 if abs(float(np.median(np.log(high / wide)))) < _MOST_STRETCHED else _OTHER_RUN


def _torn_off(form: KnownForm, even: np.ndarray) -> np.ndarray:
    """Which pieces of print, bool (n,), lie in a corner of the form where the page is even: paper that is gone."""
    width, height = form.size_mm
    x, y = form.tiles.centres_mm.T
    corner = np.maximum(np.minimum(x, width - x), np.minimum(y, height - y)) < _CORNER * min(width, height)
    return corner & even


def _printed(tiles: Tiles) -> np.ndarray:
    """Which pixels of the pieces are print, bool (n, side, side)."""
    light, black = np.percentile(tiles.pictures, 90), np.percentile(tiles.pictures, 1)
    return np.asarray(tiles.pictures < (light + black) / 2)


def _dark(pieces: np.ndarray, middle_grey: float) -> np.ndarray:
    """Which pixels of the page are dark, give or take a pixel, bool (n, side, side)."""
    return np.stack([cv2.erode(piece, _NEXT_PX) for piece in pieces]) < middle_grey


def _written_over(printed: np.ndarray, dark: np.ndarray) -> np.ndarray:
    """Which pieces of print, bool (n,), are there beneath whatever else is: what is dark on the blank is dark here.

    Where another print run has its print elsewhere, the blank's is missing.
    """
    found = (dark & printed).sum(axis=(1, 2)) / np.maximum(printed.sum(axis=(1, 2)), 1)
    telling = dark.mean(axis=(1, 2)) < _BLACK_ALL_OVER
    return np.asarray((found > _PRINT_THERE) & telling & (printed.sum(axis=(1, 2)) > 0))


def _black_and_white(raster: np.ndarray) -> bool:
    """Whether a page has two greys and no more."""
    counts = np.sort(cv2.calcHist([raster], [0], None, [256], [0, 256]).ravel())
    return bool(counts[-2] >= _ONE_GREY * max(counts[:-1].sum(), 1.0))


def _lost_in_black_and_white(printed: np.ndarray, dark: np.ndarray) -> np.ndarray:
    """Which pieces, bool (n,), are faint on the blank, or print all over and on the page as good as their rim alone."""
    share = printed.mean(axis=(1, 2))
    return np.asarray((share == 0) | ((share > _SOLID) & (dark.mean(axis=(1, 2)) > _RIM)))
