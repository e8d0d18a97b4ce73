"""A sheet crossed out as a whole: long lines that run slantwise over everything printed on it."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from scanform.form import FieldKind
from scanform.locate import LocatedSheet
from scanform.read.types import Reading

__all__ = ["crossed_out", "longest_slant_mm"]

# Print is upright and handwriting short: of 210 simulated sheets of all grades that nobody crossed out none has more
# than 40 mm of slanting line, creases included; of 120 with a cross or a single line 116 have more than 60 mm. The
# others are by pens so faint that they are lost in the scan.
_LEAST_SLANT_MM = 60.0
# A cross over a sheet meets boxes that nobody meant to mark. Looking for lines costs 20 ms, and one sheet in ten has
# two groups of boxes in doubt.
_FEWEST_ODD_GROUPS = 2
_PX_PER_MM = 2.0
_INK_SHARE = 0.2  # of the way from paper to solid print: a thin pen at two pixels a millimetre
_PIECE_MM, _GAP_MM = 15.0, 2.5  # a line by hand bends: it is found in straight pieces; a gap is where it meets print
_UPRIGHT_DEGREES = 15.0
_ALIKE_DEGREES, _APART_MM, _BEND = 5.0, 4.0, 0.03  # pieces of one line; mm aside for each mm between them
_LONGEST_PIECES = 8
_PAPER_SIDE = 8  # px of a block in which the paper's grey is measured
_BOXES = (FieldKind.CHOICE, FieldKind.DECISION, FieldKind.MARK)


def crossed_out(sheet: LocatedSheet, readings: Sequence[Reading]) -> bool:
    """Whether the sheet seems to be crossed out as a whole; ``readings`` are those of its tick boxes at least."""
    # Lines over answers make them look struck out: an answer plainly taken back is no doubt by itself, but odd.
    odd = sum(bool(reading.evidence or reading.taken_back) for reading in readings if reading.kind in _BOXES)
    return odd >= _FEWEST_ODD_GROUPS and longest_slant_mm(_ink(sheet), _PX_PER_MM) > _LEAST_SLANT_MM


def _ink(sheet: LocatedSheet) -> np.ndarray:
    """The sheet's ink, bool (rows, columns) at two pixels a millimetre; the small correction of the map is left out."""
    by = max(1, int(sheet.map.px_per_mm() / _PX_PER_MM))
    height, width = sheet.raster.shape
    small = cv2.resize(sheet.raster, (width // by, height // by), interpolation=cv2.INTER_AREA)
    to_small = np.diag([1 / by, 1 / by, 1]) @ sheet.map.homography @ np.diag([1 / _PX_PER_MM, 1 / _PX_PER_MM, 1])
    size = round(sheet.layout.width_mm * _PX_PER_MM), round(sheet.layout.height_mm * _PX_PER_MM)
    flat = cv2.warpPerspective(small, to_small, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderValue=255)
    blocks = size[0] // _PAPER_SIDE, size[1] // _PAPER_SIDE
    paper = cv2.medianBlur(cv2.resize(flat, blocks, interpolation=cv2.INTER_AREA), 7)
    paper = cv2.resize(cv2.dilate(paper, np.ones((3, 3), np.uint8)), size)
    ink: np.ndarray = paper.astype(np.int16) - flat > _INK_SHARE * max(sheet.paper_grey - sheet.print_grey, 25.0)
    return ink


def longest_slant_mm(ink: np.ndarray, px_per_mm: float) -> float:
    """Length in mm of the longest line that runs neither along nor across, bool (rows, columns); 0 if there is none."""
    found = cv2.HoughLinesP(
        ink.astype(np.uint8) * 255,
        1,
        np.pi / 360,
        int(0.6 * _PIECE_MM * px_per_mm),
        minLineLength=_PIECE_MM * px_per_mm,
        maxLineGap=_GAP_MM * px_per_mm,
    )
    if found is None:
        return 0.0
    pieces = found.reshape(-1, 2, 2) / px_per_mm
    along = pieces[:, 1] - pieces[:, 0]
    degrees = np.degrees(np.arctan2(along[:, 1], along[:, 0])) % 180
    slanting = np.minimum(degrees % 90, 90 - degrees % 90) > _UPRIGHT_DEGREES
    pieces, along, degrees = pieces[slanting], along[slanting], degrees[slanting]
    lengths = np.linalg.norm(along, axis=1)
    longest = np.argsort(-lengths)[:_LONGEST_PIECES]
    return max((_length_with_its_like(pieces, degrees, along[n] / lengths[n], n) for n in longest), default=0.0)


def _length_with_its_like(pieces: np.ndarray, degrees: np.ndarray, direction: np.ndarray, n: int) -> float:
    """How much of the line through piece ``n`` is drawn, in mm: float (k, 2, 2) ends, float (k,) directions."""
    from_here = pieces - pieces[n].mean(axis=0)
    along = from_here @ direction
    aside = from_here.mean(axis=1) @ [-direction[1], direction[0]]
    turned = np.abs((degrees - degrees[n] + 90) % 180 - 90)
    near = (np.abs(aside) < _APART_MM + _BEND * np.abs(along.mean(axis=1))) & (turned < _ALIKE_DEGREES)
    drawn, end = 0.0, -np.inf
    for start, stop in sorted(np.sort(along[near], axis=1).tolist()):
        drawn += max(0.0, stop - max(start, end))
        end = max(end, stop)
    return drawn
