"""What the page itself shows of how it was captured, and the scan grade that follows.

A file does not say whether it came from a good feeder, a fax or a phone; what its pixels show does. Everything here is
read off the registration marks and the map that locating has found anyway, in about a millisecond.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from scanform.locate.sample import local_frames, sample_boxes
from scanform.locate.sheet import LocatedSheet

__all__ = ["PageQualities", "ScanGrade", "page_qualities", "scan_grade"]

_RIM_MM = 0.8  # paper sampled beside each mark
_RIM_PX_PER_MM = 8.0
_EVERY = 31  # of the page's own pixels, each way: a few thousand tell black and white from grey

# Measured on 40 simulated pages of each grade (seeds from 5,900,000), lowest to highest in brackets.
_MOST_MID_GREY = 0.02  # a page of black and white alone has 0, a grey one 0.79 and more
_MOST_ALIKE = 1.02  # across over down: feeders stretch by 1 %; ITU-T T.4 has 204 x 196 dpi (1.032 to 1.048)
_HALF_LINES = 1.9  # T.4's coarser grid has half as many lines: 204 x 98
_MOST_SCALE_SPREAD = 0.045  # feeders (0.001 to 0.039); most phones are further off square
_MOST_PAPER_SPREAD = 0.055  # lamps (0 to 0.042); light on a photo (0.063 to 0.82)
_LEAST_PX_PER_MM = 9.8  # 250 dpi, halfway between the usual settings of 200 and 300
_MOST_EDGE_MM = 0.236  # a good scan at 300 dpi (0.191 to 0.231); at 200 dpi after a photocopier (0.240 to 0.305)
_BEYOND_PX_PER_MM = 6.7  # 170 dpi: nothing was fitted on coarser pages
_BEYOND_EDGE_MM = 0.55  # nor on pages more blurred than phones' (0.257 to 0.424)
_BEYOND_CONTRAST = 70.0  # nor on paler ones (103 and more)


class ScanGrade(StrEnum):
    """How a page was captured, as far as its pixels tell.

    ``office``: grey, flat, fine and sharp. ``worn``: grey and flat, coarser or less sharp. ``bitonal``: black and
    white. ``fax``: black and white on a fax's grid. ``phone``: light or scale change over the page. ``other``: beyond
    what calibration was fitted on.
    """

    OFFICE = "office"
    BITONAL = "bitonal"
    WORN = "worn"
    PHONE = "phone"
    FAX = "fax"
    OTHER = "other"


@dataclass(frozen=True)
class PageQualities:
    """Measured on one page.

    ``mid_grey_share``: share of pixels that are neither 0 nor 255. ``px_per_mm``: pixels of the page per mm;
    ``across_over_down``: the same across the image over that down it. ``scale_spread``: largest over smallest local
    scale, less 1; a lens makes one, a feeder hardly. ``paper_spread``: range of the paper's grey beside the marks over
    its middle, the outermost mark on either side left out. ``edge_mm``: width of the step from paper to print.
    ``contrast``: grey of paper less that of print.
    """

    mid_grey_share: float
    px_per_mm: float
    across_over_down: float
    scale_spread: float
    paper_spread: float
    edge_mm: float
    contrast: float


def page_qualities(sheet: LocatedSheet) -> PageQualities:
    """Measure a located page."""
    seen = sheet.page.pixels[_EVERY // 2 :: _EVERY, _EVERY // 2 :: _EVERY]
    boxes = [mark.box_mm for mark in sheet.layout.marks]
    _, jacobians = local_frames(sheet.map, np.array([box.centre_mm for box in boxes]))
    across, down = np.linalg.norm(jacobians[:, 0], axis=1), np.linalg.norm(jacobians[:, 1], axis=1)
    area = np.abs(np.linalg.det(jacobians))
    patches = sample_boxes(sheet.raster, sheet.map, boxes, np.zeros((len(boxes), 2)), _RIM_MM, _RIM_PX_PER_MM).astype(
        np.float32
    )
    paper, edges = _paper_and_edges(patches)
    inner = np.sort(paper)[1:-1]
    return PageQualities(
        mid_grey_share=float(((seen > 0) & (seen < 255)).mean()) if seen.size else 1.0,
        px_per_mm=float(np.sqrt(np.median(area))) / sheet.raster_scale,
        across_over_down=float(np.median(across / down)),
        scale_spread=float(np.sqrt(area.max() / area.min()) - 1),
        paper_spread=float(np.ptp(inner) / max(float(np.median(inner)), 1.0)),
        edge_mm=float(np.median(edges)),
        contrast=sheet.paper_grey - sheet.print_grey,
    )


def _paper_and_edges(patches: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each mark, float32 (n, side, side): the grey of its paper, and the width of its edge in mm."""
    side = patches.shape[1]
    rim = round(_RIM_MM * _RIM_PX_PER_MM)
    # Straight across each of the four sides, from outside, along its middle half.
    along = slice(side // 4, side - side // 4)
    profiles = np.stack(
        [
            patches[:, : 2 * rim, along].mean(axis=2),
            patches[:, -1 : -2 * rim - 1 : -1, along].mean(axis=2),
            patches[:, along, : 2 * rim].mean(axis=1),
            patches[:, along, -1 : -2 * rim - 1 : -1].mean(axis=1),
        ],
        axis=1,
    )
    paper, dark = profiles[..., : rim // 2].mean(axis=-1), profiles[..., -rim // 2 :].mean(axis=-1)
    depth = np.maximum(paper - dark, 10.0)
    # An edge that is w wide falls by depth / w a millimetre where it is steepest.
    steepest = np.maximum(-np.diff(profiles, axis=-1).min(axis=-1) * _RIM_PX_PER_MM, 1.0)
    return np.median(paper, axis=1), np.median(depth / steepest, axis=1)


def scan_grade(qualities: PageQualities) -> ScanGrade:
    """The grade that the qualities show."""
    q = qualities
    ratio = max(q.across_over_down, 1 / q.across_over_down)  # a viewer may have turned the page by a quarter
    if q.px_per_mm < _BEYOND_PX_PER_MM and ratio < _HALF_LINES:
        return ScanGrade.OTHER
    if q.mid_grey_share < _MOST_MID_GREY:
        return ScanGrade.FAX if ratio > _MOST_ALIKE else ScanGrade.BITONAL
    if q.edge_mm > _BEYOND_EDGE_MM or q.contrast < _BEYOND_CONTRAST:
        return ScanGrade.OTHER
    if q.scale_spread > _MOST_SCALE_SPREAD or q.paper_spread > _MOST_PAPER_SPREAD:
        return ScanGrade.PHONE
    fine = q.px_per_mm >= _LEAST_PX_PER_MM and q.edge_mm <= _MOST_EDGE_MM
    return ScanGrade.OFFICE if fine else ScanGrade.WORN
