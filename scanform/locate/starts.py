"""First maps of a page from its registration marks, for each paper size on which their places make sense."""

from __future__ import annotations

from dataclasses import dataclass

from scanform.form import Paper
from scanform.locate.known import KnownLayouts
from scanform.locate.marks import FoundMark, map_from_all_marks, map_from_marks
from scanform.locate.warp import PageMap

__all__ = ["Start", "first_maps"]


@dataclass(frozen=True, eq=False)
class Start:
    """A first map, the paper size it supposes, and how many marks agree on it."""

    paper: Paper
    map: PageMap
    agreeing: int


def first_maps(marks: list[FoundMark], known: KnownLayouts) -> list[Start]:
    """A map for every paper size on which the marks' places make sense, the best first; one alone if that is sure."""
    layouts = {paper: sheets[0].layout for paper in Paper if (sheets := known.on_paper(paper))}
    for paper, layout in layouts.items():
        sure = map_from_all_marks(marks, layout)
        if sure is not None:
            return [Start(paper, sure[0], sure[2])]
    maps = []
    for paper, layout in layouts.items():
        found = map_from_marks(marks, layout)
        if found is not None:
            page_map, error_mm, agreeing = found
            maps.append((-agreeing, error_mm, Start(paper, page_map, agreeing)))
    return [start for _, _, start in sorted(maps, key=lambda m: m[:2])]
