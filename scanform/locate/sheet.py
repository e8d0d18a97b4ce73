"""Find the sheet on a page: which one it is, which way up it lies, and the map from its millimetres to pixels."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from scanform.form import Box, Field, Layout, Paper, SheetCode
from scanform.intake import Page
from scanform.locate.artwork import refine, told_apart
from scanform.locate.blank import ink_share
from scanform.locate.codes import read_code, read_code_anywhere
from scanform.locate.known import KnownLayouts, KnownSheet
from scanform.locate.marks import FEWEST_MARKS, FoundMark, find_marks, map_from_all_marks, map_from_marks, reduced
from scanform.locate.sample import sample_boxes
from scanform.locate.warp import PageMap

__all__ = ["LocatedSheet", "NotLocated", "locate"]

# Fitted on nothing: a blank office back has at most 0.01 % of its area darker than the paper, a sheet 2 % and more.
_BLANK_INK_SHARE = 0.0004
_WORST_RESIDUAL_MM = 0.8
_FEWEST_ARTWORK = 0.45
# Between two built-in sheets on one paper the right one comes out at 0.85 and more, the wrong one at 0.15 and less, on
# two simulated pages of every grade and sheet with the code painted over.
_TOLD_APART = 0.7
_MOST_LONG_SIDE_PX = 4000  # about 340 dpi on A4: more pixels cost time and show nothing more of a pen stroke


@dataclass(frozen=True)
class NotLocated:
    """A page without a sheet that can be read. ``outcome``: ``blank``, ``unknown-form`` or ``unreadable``."""

    outcome: str
    reason: str


@dataclass(frozen=True, eq=False)
class LocatedSheet:
    """A sheet found on a page.

    ``raster``: uint8 (height, width), the page, reduced if it was larger than is of use; ``map`` leads into it, and
    ``raster_scale`` is raster px per page px. ``shifts_mm`` and ``doubts_mm``: per printed frame, in the order of the
    layout's fields, what a crease or a local stretch adds to the map, and how unsure that is. ``residual_mm``: 95th
    percentile of the artwork's distance from the smooth map. ``paper_grey`` and ``print_grey``: grey of paper and of
    solid print, measured on the registration marks.
    """

    page: Page
    layout: Layout
    code: SheetCode | None
    map: PageMap
    raster: np.ndarray = field(repr=False)
    raster_scale: float
    shifts_mm: dict[Box, tuple[float, float]] = field(repr=False)
    doubts_mm: dict[Box, float] = field(repr=False)
    residual_mm: float
    marks_found: int
    artwork_found: float
    paper_grey: float
    print_grey: float
    warnings: tuple[str, ...] = ()

    def patches(self, boxes: list[Box], margin_mm: float, px_per_mm: float) -> np.ndarray:
        """Patches of equally large boxes of one kind: uint8 (n, height, width)."""
        shifts = np.array([self.shifts_mm.get(box, (0.0, 0.0)) for box in boxes])
        return sample_boxes(self.raster, self.map, boxes, shifts, margin_mm, px_per_mm)

    def polygon_px(self, box: Box) -> tuple[tuple[float, float], ...]:
        """The box's four corners on the page, in page px, clockwise from its own top left."""
        known = self._field_polygons_px.get(box)
        return known if known is not None else self._polygons_px([box])[0]

    @cached_property
    def _field_polygons_px(self) -> dict[Box, tuple[tuple[float, float], ...]]:
        """Of all fields together: one by one each would cost as much as all."""
        boxes = [spec.box_mm for spec in self.layout.fields]
        return dict(zip(boxes, self._polygons_px(boxes), strict=True))

    def _polygons_px(self, boxes: list[Box]) -> list[tuple[tuple[float, float], ...]]:
        shifts = np.array([self.shifts_mm.get(box, (0.0, 0.0)) for box in boxes])
        x, y, w, h = np.array(boxes).T
        corners = np.stack([np.stack([x, x + w, x + w, x], axis=1), np.stack([y, y, y + h, y + h], axis=1)], axis=2)
        px = (self.map.to_px((corners + shifts[:, None]).reshape(-1, 2)) + 0.5) / self.raster_scale - 0.5
        return [tuple((x, y) for x, y in polygon) for polygon in px.round(1).reshape(-1, 4, 2).tolist()]

    def residual_of(self, spec: Field) -> float:
        """How far, in mm, the field's printed artwork may lie from where it is sampled."""
        boxes = [a.box_mm for a in spec.answers] or list(spec.cells_mm) or [spec.box_mm]
        return max(self.doubts_mm.get(box, 0.0) for box in boxes)


def locate(page: Page, known: KnownLayouts) -> LocatedSheet | NotLocated:
    """Find the sheet on the page.

    Marks give a first map, the code says which sheet it is, the printed artwork corrects the map. Where the code
    cannot be read, the sheet whose artwork fits is taken if no other fits nearly as well.
    """
    raster, scale = reduced(page.pixels, _MOST_LONG_SIDE_PX)
    marks = find_marks(raster)
    starts = _first_maps(marks, known)
    if not starts:
        return _without_map(page, raster, marks, known)
    code = _read_code(raster, starts, known)
    sheet: KnownSheet | None
    if code is not None:
        sheet = known.of_code(code)
        if sheet is None:
            return NotLocated(
                "unknown-form",
                f"The code names template '{code.template}' version {code.version}, which is not known here; "
                "give its file with --template and read the page again.",
            )
        paper = sheet.layout.paper
        start = next((s for s in starts if s[0] == paper), None) or starts[0]
        candidates = [sheet]
    else:
        start = starts[0]
        candidates = known.on_paper(start[0])
    _, page_map, agreeing = start
    paper_grey, print_grey = _grey_levels(raster, page_map, candidates[0].layout)
    contrast = paper_grey - print_grey
    fits = [(sheet, *refine(raster, page_map, sheet.probes, contrast)) for sheet in candidates]
    fits.sort(key=lambda fit: -fit[5])
    best = fits[0]
    mine = best[1], best[0].probes
    if any(told_apart(raster, contrast, mine, (other[1], other[0].probes)) < _TOLD_APART for other in fits[1:]):
        return NotLocated(
            "unknown-form",
            "The sheet's code cannot be read, and its printed boxes fit more than one kind of sheet; "
            "see whether the code is torn off or covered, and scan the page again.",
        )
    sheet, refined, shifts, doubts, residual, share = best
    if share < _FEWEST_ARTWORK or residual > _WORST_RESIDUAL_MM:
        return NotLocated(
            "unreadable",
            f"The registration marks were found, but the printed boxes are not where they should be "
            f"({share:.0%} found, off by {residual:.1f} mm); "
            "the page may be folded, covered or too faint: flatten it and scan it again.",
        )
    frames = sheet.probes.boxes
    warnings = () if code is not None else ("the sheet's code could not be read; it was known by its printed boxes",)
    return LocatedSheet(
        page=page,
        layout=sheet.layout,
        code=code,
        map=refined,
        raster=raster,
        raster_scale=scale,
        shifts_mm={box: (float(s[0]), float(s[1])) for box, s in zip(frames, shifts, strict=False) if box},
        doubts_mm={box: float(d) for box, d in zip(frames, doubts, strict=False) if box},
        residual_mm=residual,
        marks_found=agreeing,
        artwork_found=share,
        paper_grey=paper_grey,
        print_grey=print_grey,
        warnings=warnings,
    )


def _first_maps(marks: list[FoundMark], known: KnownLayouts) -> list[tuple[Paper, PageMap, int]]:
    """A map for every paper size on which the marks' places make sense, the best first; one alone if that is sure."""
    layouts = {paper: sheets[0].layout for paper in Paper if (sheets := known.on_paper(paper))}
    for paper, layout in layouts.items():
        sure = map_from_all_marks(marks, layout)
        if sure is not None:
            return [(paper, sure[0], sure[2])]
    maps = []
    for paper, layout in layouts.items():
        start = map_from_marks(marks, layout)
        if start is not None:
            page_map, error_mm, agreeing = start
            maps.append((-agreeing, error_mm, paper, page_map))
    maps.sort(key=lambda m: m[:2])
    return [(paper, page_map, -agreeing) for agreeing, _, paper, page_map in maps]


def _read_code(raster: np.ndarray, starts: list[tuple[Paper, PageMap, int]], known: KnownLayouts) -> SheetCode | None:
    for paper, page_map, _ in starts:
        # The code's place depends on the paper size alone, so any template's layout will do.
        code = read_code(raster, page_map, known.on_paper(paper)[0].layout)
        if code is not None:
            return code
    return read_code_anywhere(raster)


def _without_map(page: Page, raster: np.ndarray, marks: list[FoundMark], known: KnownLayouts) -> NotLocated:
    if not marks and ink_share(page.pixels) < _BLANK_INK_SHARE:
        return NotLocated("blank", "There is nothing on this page.")
    if not known.templates:
        return NotLocated("unknown-form", "No templates are known here, so no sheet can be told; give their files.")
    if len(marks) >= FEWEST_MARKS:
        return NotLocated(
            "unreadable",
            f"{len(marks)} registration marks can be seen on this page, but not in the places of one sheet; lay one "
            "sheet flat, with no other beside it or on it, and scan it again.",
        )
    if len(marks) == 2 or read_code_anywhere(raster) is not None:
        return NotLocated(
            "unreadable",
            f"This looks like one of our sheets, but only {len(marks)} of its eight registration marks can be seen and "
            "three are needed; take the cover off the edges, flatten the page and scan it again.",
        )
    return NotLocated("unknown-form", "No registration marks and no code of ours on this page; it is other paper.")


def _grey_levels(raster: np.ndarray, page_map: PageMap, layout: Layout) -> tuple[float, float]:
    """Median grey of paper and of solid print, from the rims of the marks and the paper just outside them."""
    boxes = [mark.box_mm for mark in layout.marks]
    patches = sample_boxes(raster, page_map, boxes, np.zeros((len(boxes), 2)), 0.8, 6.0)
    # The patch runs 0.8 mm past the mark; its rim of solid print is one sixth of 8 mm wide.
    paper = np.concatenate([patches[:, :3].ravel(), patches[:, -3:].ravel()])
    solid = np.concatenate([patches[:, 8:10, 10:-10].ravel(), patches[:, -10:-8, 10:-10].ravel()])
    paper_grey, print_grey = float(np.median(paper)), float(np.median(solid))
    return paper_grey, min(print_grey, paper_grey - 20)
