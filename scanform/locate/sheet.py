"""Find the sheet on a page: which one it is, which way up it lies, and the map from its millimetres to pixels."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from scanform.form import Box, Field, Layout, SheetCode
from scanform.intake import Page
from scanform.locate.blank import Traces, clearer, traces
from scanform.locate.codes import read_code, read_code_anywhere
from scanform.locate.fit import LEAST_CONTRAST, Fit, confirmed, fitted, grey_levels, sure_of, words_shown
from scanform.locate.known import KnownLayouts, KnownSheet
from scanform.locate.marks import FEWEST_MARKS, find_marks, reduced
from scanform.locate.print_match import Keypoints, match_print, page_keypoints
from scanform.locate.sample import sample_boxes
from scanform.locate.serial_line import read_serial_line
from scanform.locate.starts import Start, first_maps
from scanform.locate.unmarked import FormFit, best_form
from scanform.locate.warp import PageMap

__all__ = ["LocatedSheet", "NotLocated", "locate"]

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
    layout's fields, what a crease or a local stretch adds to the map, and how unsure that is: infinite where the sheet
    cannot be seen, writing boxes included. ``residual_mm``: 95th
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
        """How far, in mm, the field's printed artwork may lie from where it is sampled; infinite if it is not seen."""
        boxes = [a.box_mm for a in spec.answers] or list(spec.cells_mm) or [spec.box_mm]
        return max(self.doubts_mm.get(box, 0.0) for box in boxes)


def locate(page: Page, known: KnownLayouts) -> LocatedSheet | NotLocated:
    """Find the sheet on the page.

    Marks give a first map, the code says which sheet it is, the printed artwork corrects the map and has to confirm it.
    Where fewer than three marks can be seen, printed words and boxes give the first map. Where the code cannot be read,
    the printed serial line says which sheet it is, else the artwork itself if it fits one sheet and clearly no other.
    Pages without marks and code are looked at for the print of adopted forms first.
    """
    raster, scale = reduced(page.pixels, _MOST_LONG_SIDE_PX)
    marks, on_page = find_marks(raster), Traces.INK
    seen = raster
    if not marks:
        on_page = traces(page.pixels)
        if on_page in (Traces.NOTHING, Traces.SHOWS_THROUGH):
            return NotLocated("blank", _BLANK[on_page])
    if len(marks) < FEWEST_MARKS:
        seen = clearer(raster)
        marks = marks if seen is raster else max(marks, find_marks(seen), key=len)
    if not known.templates:
        return NotLocated("unknown-form", "No templates are known here, so no sheet can be told; give their files.")
    starts = first_maps(marks, known)
    code = _read_code(seen, starts, known)
    if code is not None and known.of_code(code) is None:
        return _not_known(code)
    print_seen = None
    if known.forms and code is None and not starts:
        print_seen = page_keypoints(raster)
        form = best_form(raster, print_seen, known.forms)
        if isinstance(form, FormFit):
            return _located_form(page, (raster, scale), form)
        if form is not None:
            return NotLocated("unknown-form", form)
    fits = _fits_by_marks(seen, starts, code, known)
    best, by_print = _best(seen, fits), False
    if best is None:
        if print_seen is None or seen is not raster:
            print_seen = page_keypoints(seen)
        fits = _fits_by_print(seen, print_seen, code, known) or fits
        best, by_print = _best(seen, fits), True
    if not fits:
        return _nothing_of_ours(len(marks), code is not None, on_page)
    if best is None:
        return _not_confirmed(max(fits, key=lambda fit: fit.share), len(marks), code)
    named = _named(seen, fits, best, code, known)
    if isinstance(named, NotLocated):
        return named
    fit, code, warnings = named
    paper_grey, print_grey = fit.paper_grey, fit.print_grey
    if seen is not raster:
        paper_grey, print_grey = grey_levels(raster, fit.map, fit.sheet.layout)
    if paper_grey - print_grey <= LEAST_CONTRAST:
        return NotLocated(
            "unreadable", "This sheet is printed or scanned too faintly to be read; scan it again, darker."
        )
    found = len(marks) if by_print else next((s.agreeing for s in starts if s.paper == fit.sheet.layout.paper), 0)
    if by_print:
        warnings = (
            *warnings,
            f"only {found} of the sheet's eight registration marks could be used; it was found by its print",
        )
    return _located(page, (raster, scale), (paper_grey, print_grey), fit, code, found, warnings)


def _located(
    page: Page,
    reduced_page: tuple[np.ndarray, float],
    greys: tuple[float, float],
    fit: Fit,
    code: SheetCode | None,
    marks_found: int,
    warnings: tuple[str, ...],
) -> LocatedSheet:
    frames = fit.sheet.probes.boxes
    shifts = zip(frames, fit.shifts_mm, strict=True)
    doubts = {box: float(d) for box, d in zip(frames, fit.doubts_mm, strict=True) if box}
    return LocatedSheet(
        page=page,
        layout=fit.sheet.layout,
        code=code,
        map=fit.map,
        raster=reduced_page[0],
        raster_scale=reduced_page[1],
        shifts_mm={box: (float(s[0]), float(s[1])) for box, s in shifts if box},
        doubts_mm=doubts | _writing_out_of_sight(fit, reduced_page[0].shape),
        residual_mm=fit.residual_mm,
        marks_found=marks_found,
        artwork_found=fit.share,
        paper_grey=greys[0],
        print_grey=greys[1],
        warnings=warnings,
    )


def _located_form(page: Page, reduced_page: tuple[np.ndarray, float], fit: FormFit) -> LocatedSheet:
    return LocatedSheet(
        page=page,
        layout=fit.form.layout,
        code=None,
        map=fit.map,
        raster=reduced_page[0],
        raster_scale=reduced_page[1],
        shifts_mm=fit.shifts_mm,
        doubts_mm=fit.doubts_mm,
        residual_mm=fit.residual_mm,
        marks_found=0,
        artwork_found=fit.shown,
        paper_grey=fit.paper_grey,
        print_grey=fit.print_grey,
    )


def _writing_out_of_sight(fit: Fit, shape: tuple[int, ...]) -> dict[Box, float]:
    """Writing boxes of which a part cannot be seen: what was written there may be missing."""
    probes = fit.sheet.probes
    stretches = zip(probes.boxes, probes.fields, fit.doubts_mm, strict=True)
    unseen = {field for box, field, doubt in stretches if box is None and np.isinf(doubt)}
    writing = list(dict.fromkeys(f for box, f in zip(probes.boxes, probes.fields, strict=True) if box is None))
    x, y, w, h = np.array(writing).T
    corners = np.stack([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]).transpose(2, 0, 1)
    px = fit.map.to_px(corners.reshape(-1, 2)).reshape(-1, 4, 2)
    off = ((px < 0) | (px > [shape[1] - 1, shape[0] - 1])).any(axis=(1, 2))
    unseen |= {field for field, is_off in zip(writing, np.atleast_1d(off).tolist(), strict=True) if is_off}
    return dict.fromkeys(unseen, float("inf"))


def _read_code(seen: np.ndarray, starts: list[Start], known: KnownLayouts) -> SheetCode | None:
    for start in starts:
        # The code's place depends on the paper size alone, so any template's layout will do.
        code = read_code(seen, start.map, known.on_paper(start.paper)[0].layout)
        if code is not None:
            return code
    return read_code_anywhere(seen)


def _fits_by_marks(seen: np.ndarray, starts: list[Start], code: SheetCode | None, known: KnownLayouts) -> list[Fit]:
    """The sheet that the code names, or every known one, over the page by the marks' maps."""
    return [
        fitted(seen, sheet, start.map, start.anchors)
        for start in starts
        for sheet in _candidates(code, known)
        if sheet.layout.paper == start.paper
    ]


def _best(seen: np.ndarray, fits: list[Fit]) -> Fit | None:
    """The sheet whose boxes and words the page shows; None if it shows none's."""
    shown = [fit for fit in fits if confirmed(seen, fit)]
    if len(shown) < 2:
        return shown[0] if shown else None
    # Boxes of two sheets lie alike, words do not.
    return max(shown, key=lambda fit: (words_shown(seen, fit), fit.share))


_WORTH_FITTING = 0.6  # of the most agreeing matches; the same sheet on the other paper has 0.5 to 0.7 of them


def _fits_by_print(seen: np.ndarray, page: Keypoints, code: SheetCode | None, known: KnownLayouts) -> list[Fit]:
    """The same by matching print, for the sheets whose print can be seen on the page."""
    matches = []
    for sheet in _candidates(code, known):
        match = match_print(page, sheet.keypoints, (sheet.layout.width_mm, sheet.layout.height_mm))
        if match is not None:
            matches.append((sheet, match))
    most = max((match.agreeing for _, match in matches), default=0)
    return [fitted(seen, sheet, m.map, m.anchors) for sheet, m in matches if m.agreeing >= _WORTH_FITTING * most]


def _candidates(code: SheetCode | None, known: KnownLayouts) -> list[KnownSheet]:
    if code is None:
        return known.sheets
    named = known.of_code(code)
    return [] if named is None else [named]


_Named = tuple[Fit, SheetCode | None, tuple[str, ...]]


def _named(
    seen: np.ndarray, fits: list[Fit], best: Fit, code: SheetCode | None, known: KnownLayouts
) -> _Named | NotLocated:
    """Which of the sheets laid over the page it is, its code, and what there is to say about it."""
    if code is not None:
        return best, code, ()
    line = read_serial_line(seen, best.map, best.sheet.layout)
    if line is not None:
        sheet = known.of_code(line)
        if sheet is None:
            return _not_known(line)
        fit = next((fit for fit in fits if fit.sheet is sheet), None)
        if fit is not None and confirmed(seen, fit) and (fit is best or not sure_of(seen, best, [fit])):
            return fit, line, ("the sheet's code could not be read; it was known by its printed serial line",)
        return NotLocated(
            "unknown-form",
            f"The sheet's code cannot be read; its serial line names '{line.template}' version {line.version}, but its "
            "printed boxes are those of another sheet; see what sheet this is, and scan it again.",
        )
    others = [fit for fit in fits if fit is not best and fit.fits]
    if not sure_of(seen, best, others):
        return NotLocated(
            "unknown-form",
            "The sheet's code and serial line cannot be read, and its boxes and words are not clearly those of one "
            "kind of sheet that is known here; see whether the code is torn off or covered, and scan the page again.",
        )
    return best, None, ("the sheet's code could not be read; it was known by its printed boxes",)


_BLANK = {
    Traces.NOTHING: "There is nothing on this page.",
    Traces.SHOWS_THROUGH: "There is nothing on this page; the print of its other side shows through.",
}


def _not_known(code: SheetCode) -> NotLocated:
    return NotLocated(
        "unknown-form",
        f"The code names template '{code.template}' version {code.version}, which is not known here; "
        "give its file with --template and read the page again.",
    )


def _not_confirmed(best: Fit, marks: int, code: SheetCode | None) -> NotLocated:
    seen = "The registration marks were found" if marks >= FEWEST_MARKS else f"Only {marks} of eight marks can be seen"
    kind = "" if code is not None else ", and the sheet's code cannot be read, which may be one not known here"
    return NotLocated(
        "unreadable",
        f"{seen}, but the printed boxes and words are not where they should be "
        f"({best.share:.0%} of the boxes found, off by {best.residual_mm:.1f} mm){kind}; "
        "the page may be folded, covered or too faint: flatten it and scan it again.",
    )


def _nothing_of_ours(marks: int, code_read: bool, on_page: Traces) -> NotLocated:
    if marks >= FEWEST_MARKS:
        return NotLocated(
            "unreadable",
            f"{marks} registration marks can be seen on this page, but not in the places of one sheet; lay one "
            "sheet flat, with no other beside it or on it, and scan it again.",
        )
    if marks == 2 or code_read:
        return NotLocated(
            "unreadable",
            f"This looks like one of our sheets, but only {marks} of its eight registration marks can be seen and "
            "its print cannot be made out; uncover and flatten the page and scan it again.",
        )
    if on_page is Traces.FAINT:
        return NotLocated("blank", "There is nothing on this page but faint shadows.")
    return NotLocated("unknown-form", "No registration marks and no code of ours on this page; it is other paper.")
