"""First maps of a page from its registration marks, for each paper size on which their places make sense."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scanform.form import Layout, Paper
from scanform.locate.artwork import Anchors
from scanform.locate.known import KnownLayouts
from scanform.locate.marks import FoundMark, map_from_all_marks, map_from_marks
from scanform.locate.warp import PageMap

__all__ = ["Start", "first_maps"]


@dataclass(frozen=True, eq=False)
class Start:
    """A first map, the paper size it supposes, the marks it was made from, and how many of these agree on it."""

    paper: Paper
    map: PageMap
    anchors: Anchors
    agreeing: int


def first_maps(marks: list[FoundMark], known: KnownLayouts) -> list[Start]:
    """A map for every paper size on which the marks' places make sense, the best first; one alone if that is sure."""
    layouts = {paper: sheets[0].layout for paper in Paper if (sheets := known.on_paper(paper))}
    for paper, layout in layouts.items():
        sure = map_from_all_marks(marks, layout)
        if sure is not None:
            return [Start(paper, sure[0], _anchors(marks, layout), sure[2])]
    maps = []
    for paper, layout in layouts.items():
        found = map_from_marks(marks, layout)
        if found is not None:
            page_map, error_mm, agreeing = found
            maps.append(
                (-agreeing, error_mm, Start(paper, page_map, _agreeing(_anchors(marks, layout), page_map), agreeing))
            )
    return [start for _, _, start in sorted(maps, key=lambda m: m[:2])]


_MARK_WEIGHT = 0.5  # as much as a well printed border; a mark is often alone in its part of the page
_STRAY_MM = 2.5  # as in the map from the marks: one that lies further off is another sheet's, or no mark


def _anchors(marks: list[FoundMark], layout: Layout) -> Anchors:
    """The marks' middles."""
    places = {mark.identity: mark.box_mm.centre_mm for mark in layout.marks}
    mm = np.array([places[mark.identity] for mark in marks], np.float64)
    # Where the diagonals cross is the middle in perspective too; over 8 mm the corners' mean is as good.
    px = np.array([mark.corners_px.mean(axis=0) for mark in marks], np.float64)
    return Anchors(mm, px, _MARK_WEIGHT)


def _agreeing(anchors: Anchors, page_map: PageMap) -> Anchors:
    """Those that agree with the map.

    A stray must not be among them: where it is alone in a corner, a polynomial follows it and nothing contradicts.
    """
    near = np.linalg.norm(anchors.offsets_mm(page_map), axis=1) < _STRAY_MM
    return Anchors(anchors.mm[near], anchors.px[near], anchors.weight)
