"""Lay a known sheet over a page from a first map, and tell which sheet it is when several can be laid over it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from scanform.form import Layout
from scanform.locate.artwork import Anchors, refine, told_apart
from scanform.locate.known import KnownSheet
from scanform.locate.own_words import own_words_shown
from scanform.locate.sample import sample_boxes
from scanform.locate.warp import PageMap

__all__ = ["LEAST_CONTRAST", "Fit", "confirmed", "fitted", "grey_levels", "sure_of", "words_shown"]

_WORST_RESIDUAL_MM = 0.8
_FEWEST_ARTWORK = 0.45
# Nearly every office page; on others the words are looked at too, which takes 3 ms.
_PLAIN_ARTWORK, _PLAIN_RESIDUAL_MM = 0.9, 0.15
# On 32 simulated pages of four grades a sheet shows all its own words; through a map that is off by a row it shows
# none, and another sheet shows 0.19 of them at most (items that both have), though its boxes fit to 0.95.
_FEWEST_WORDS = 0.3
_FEWEST_WORDS_ALONE = 0.7  # without code and serial line nothing else tells the sheet from one that is not known here
# Between two built-in sheets on one paper the right one comes out at 0.85 and more, the wrong one at 0.15 and less, on
# two simulated pages of every grade and sheet with the code painted over.
_TOLD_APART = 0.7
LEAST_CONTRAST = 20.0  # grey levels between paper and print; below, print cannot be told from noise


@dataclass(frozen=True, eq=False)
class Fit:
    """A sheet laid over the page, its map corrected by the printed artwork (:func:`scanform.locate.artwork.refine`).

    ``shifts_mm`` float64 (n, 2) and ``doubts_mm`` float64 (n,): per probe. ``share``: of the artwork that was found.
    """

    sheet: KnownSheet
    map: PageMap
    shifts_mm: np.ndarray = field(repr=False)
    doubts_mm: np.ndarray = field(repr=False)
    residual_mm: float
    share: float
    paper_grey: float
    print_grey: float

    @property
    def fits(self) -> bool:
        """Whether enough of the printed boxes is there, and where it should be."""
        return self.share >= _FEWEST_ARTWORK and self.residual_mm <= _WORST_RESIDUAL_MM

    @property
    def plainly_fits(self) -> bool:
        """Whether nearly all are, and so exactly that the map can be no other."""
        return self.share >= _PLAIN_ARTWORK and self.residual_mm <= _PLAIN_RESIDUAL_MM


def words_shown(raster: np.ndarray, fit: Fit) -> float:
    """Share of the sheet's own words that the page shows, 0 to 1."""
    return own_words_shown(raster, fit.map, fit.sheet.word_pictures)


def confirmed(raster: np.ndarray, fit: Fit) -> bool:
    """Whether the page shows this sheet, given that its code names it: its boxes, and some of its words."""
    return fit.fits and (fit.plainly_fits or words_shown(raster, fit) >= _FEWEST_WORDS)


def fitted(raster: np.ndarray, sheet: KnownSheet, start: PageMap, anchors: Anchors) -> Fit:
    """The sheet over the page, from a first map that is right to about 2 mm, and the points that it was made from."""
    paper_grey, print_grey = grey_levels(raster, start, sheet.layout)
    corrected = refine(raster, start, sheet.probes, paper_grey - print_grey, anchors)
    return Fit(sheet, *corrected, paper_grey, print_grey)


def sure_of(raster: np.ndarray, fit: Fit, others: Sequence[Fit]) -> bool:
    """Whether the page shows this sheet by its words, and clearly none of the others by boxes or words."""
    shown = words_shown(raster, fit)
    contrast = fit.paper_grey - fit.print_grey
    mine = fit.map, fit.sheet.probes
    return shown >= _FEWEST_WORDS_ALONE and all(
        words_shown(raster, o) < _FEWEST_WORDS
        or told_apart(raster, contrast, mine, (o.map, o.sheet.probes)) >= _TOLD_APART
        for o in others
    )


def grey_levels(raster: np.ndarray, page_map: PageMap, layout: Layout) -> tuple[float, float]:
    """Median grey of paper and of solid print, from the rims of the marks and the paper just outside them.

    Where marks are torn off or covered, those that are left tell; where none is, the tick boxes do.
    """
    boxes = [mark.box_mm for mark in layout.marks]
    patches = sample_boxes(raster, page_map, boxes, np.zeros((len(boxes), 2)), 0.8, 6.0)
    # The patch runs 0.8 mm past the mark; its rim of solid print is one sixth of 8 mm wide.
    outside = np.concatenate([patches[:, :3], patches[:, -3:]], axis=1).reshape(len(boxes), -1)
    rim = np.concatenate([patches[:, 8:10, 10:-10], patches[:, -10:-8, 10:-10]], axis=1).reshape(len(boxes), -1)
    there = outside.mean(axis=1) - rim.mean(axis=1) > LEAST_CONTRAST
    if there.any():
        return _apart(float(np.median(outside[there])), float(np.median(rim[there])))
    return _levels_of_boxes(raster, page_map, layout)


def _apart(paper_grey: float, print_grey: float) -> tuple[float, float]:
    return paper_grey, min(print_grey, paper_grey - LEAST_CONTRAST)


def _levels_of_boxes(raster: np.ndarray, page_map: PageMap, layout: Layout) -> tuple[float, float]:
    """The same from the tick boxes' borders."""
    answers = [answer.box_mm for spec in layout.fields for answer in spec.answers]
    boxes = answers or [spec.box_mm for spec in layout.fields if not spec.cells_mm]
    boxes = [box for box in boxes if (box.w_mm, box.h_mm) == (boxes[0].w_mm, boxes[0].h_mm)]
    patches = sample_boxes(raster, page_map, boxes, np.zeros((len(boxes), 2)), 0.8, 6.0)
    paper_grey, print_grey = np.percentile(patches, (75, 2))
    return _apart(float(paper_grey), float(print_grey))
