"""An adopted form prepared for finding: keypoints of its blank, and pieces of its print."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from scanform.form import BLANK_PX_PER_MM, AdoptedTemplate, Box, Layout, lay_out
from scanform.locate.print_match import Keypoints, picture_keypoints

__all__ = ["TILE_PX_PER_MM", "KnownForm", "Tiles"]

TILE_PX_PER_MM = 5.0
_KEYPOINT_PX_PER_MM = 4.0  # as for scanform's own sheets
_TILE_MM = 8.0  # a word or two, or the corner of a cell
_STEP_MM = 7.0
_OVERLAP_MM = 1.0
_FEWEST_FREE = 20
_EDGE_MM = 4.0  # scanners shade and staplers tear the outermost paper
_LEAST_EDGES = 0.012  # share of a tile's pixels with a steep step of grey along an axis: two strokes' worth
_STEEP = 60.0  # grey levels a pixel


@dataclass(frozen=True, eq=False)
class Tiles:
    """Pieces of the blank with print on them: middles float64 (n, 2) mm, pictures uint8 (n, side, side) at 5 px/mm.

    ``axes``: bool (n, 2), along which axes the print can be placed: level lines alone say nothing about x.
    """

    centres_mm: np.ndarray
    pictures: np.ndarray
    axes: np.ndarray

    @property
    def side_mm(self) -> float:
        """Of each piece."""
        return _TILE_MM


@dataclass(frozen=True, eq=False)
class KnownForm:
    """An adopted template, with what its pages are told and placed by; made when first asked for."""

    template: AdoptedTemplate

    @cached_property
    def layout(self) -> Layout:
        """The form as every room takes it."""
        return lay_out(self.template, self.template.paper)

    @cached_property
    def blank(self) -> np.ndarray:
        """The picture of the blank, uint8 (height, width) grey at 8 px/mm."""
        picture = cv2.imdecode(np.frombuffer(self.template.picture_png, np.uint8), cv2.IMREAD_GRAYSCALE)
        assert picture is not None, f"{self.template.name}: the picture of its blank cannot be opened"
        return np.asarray(picture)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height."""
        return self.template.width_mm, self.template.height_mm

    @cached_property
    def keypoints(self) -> Keypoints:
        """Of the print, in mm."""
        factor = _KEYPOINT_PX_PER_MM / BLANK_PX_PER_MM
        small = cv2.resize(self.blank, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        found = picture_keypoints(small)
        return Keypoints((found.places + 0.5) / _KEYPOINT_PX_PER_MM, found.descriptors)

    @cached_property
    def fine(self) -> np.ndarray:
        """The blank at 5 px/mm."""
        factor = TILE_PX_PER_MM / BLANK_PX_PER_MM
        return np.asarray(cv2.resize(self.blank, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA))

    @cached_property
    def tiles(self) -> Tiles:
        """Pieces of the print all over the form."""
        blank, side = self.fine, round(_TILE_MM * TILE_PX_PER_MM)
        steep = [np.abs(cv2.Sobel(blank, cv2.CV_32F, dx, 1 - dx, ksize=1)) > _STEEP for dx in (1, 0)]
        first, step = _EDGE_MM + _TILE_MM / 2, _STEP_MM
        width, height = self.size_mm
        centres, pictures, axes = [], [], []
        for y in np.arange(first, height - first, step):
            for x in np.arange(first, width - first, step):
                left, top = (round((v - _TILE_MM / 2) * TILE_PX_PER_MM) for v in (x, y))
                part = np.s_[top : top + side, left : left + side]
                told = [float(axis[part].mean()) >= _LEAST_EDGES for axis in steep]
                if any(told) and blank[part].shape == (side, side):
                    centres.append(((left + side / 2) / TILE_PX_PER_MM, (top + side / 2) / TILE_PX_PER_MM))
                    pictures.append(blank[part])
                    axes.append(told)
        return Tiles(
            np.array(centres, np.float64).reshape(-1, 2),
            np.array(pictures, np.uint8).reshape(-1, side, side),
            np.array(axes, bool).reshape(-1, 2),
        )

    @cached_property
    def unwritten(self) -> np.ndarray:
        """Which tiles, bool (n,), have no place to write in them; all if too few have none."""
        half = _TILE_MM / 2 - _OVERLAP_MM
        tiles = [Box(x - half, y - half, 2 * half, 2 * half) for x, y in self.tiles.centres_mm.tolist()]
        free = np.array([not any(tile.overlaps(box) for box in self._places) for tile in tiles], bool)
        return free if free.sum() >= _FEWEST_FREE else np.ones(len(tiles), bool)

    @cached_property
    def _places(self) -> list[Box]:
        return [
            box
            for spec in self.layout.fields
            for box in ([answer.box_mm for answer in spec.answers] or spec.cells_mm or [spec.box_mm])
        ]

    @cached_property
    def field_boxes(self) -> tuple[Box, ...]:
        """Every box, cell and room that is sampled, none twice."""
        boxes = [
            box
            for spec in self.layout.fields
            for box in (spec.box_mm, *spec.cells_mm, *(answer.box_mm for answer in spec.answers))
        ]
        return tuple(dict.fromkeys(boxes))
