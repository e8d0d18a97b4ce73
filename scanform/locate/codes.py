"""Read the sheet's own code: the QR symbol where the map says it is, else anywhere on the page."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
import zxingcpp

from scanform.form import Box, Layout, SheetCode, parse_code
from scanform.form.paper import CODE_QUIET_MM
from scanform.locate.sample import sample_boxes
from scanform.locate.warp import PageMap

__all__ = ["codes_with_places", "read_code", "read_code_anywhere"]

_PX_PER_MM = 10.0  # 6 px a module at 0.64 mm
_QR = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)


def read_code(pixels: np.ndarray, page_map: PageMap, layout: Layout) -> SheetCode | None:
    """The code through the map, tried plain, then sharpened, then smoothed; None if none of these decodes."""
    patch = _patch(pixels, page_map, layout.code_box_mm)
    for version in _versions(patch):
        code = _decoded(version)
        if code is not None:
            return code
    return None


def read_code_anywhere(pixels: np.ndarray) -> SheetCode | None:
    """A code of ours anywhere on a uint8 (height, width) page."""
    return _decoded(pixels)


def codes_with_places(pixels: np.ndarray) -> list[np.ndarray]:
    """Where codes of ours are on a uint8 (height, width) page: float64 (4, 2) px, clockwise from their top left."""
    places = []
    for symbol in zxingcpp.read_barcodes(np.ascontiguousarray(pixels), formats=_QR):
        if parse_code(symbol.text) is not None:
            at = symbol.position
            corners = (at.top_left, at.top_right, at.bottom_right, at.bottom_left)
            places.append(np.array([(corner.x, corner.y) for corner in corners], np.float64))
    return places


def _patch(pixels: np.ndarray, page_map: PageMap, box: Box) -> np.ndarray:
    return sample_boxes(pixels, page_map, [box], np.zeros((1, 2)), CODE_QUIET_MM, _PX_PER_MM)[0]


def _versions(patch: np.ndarray) -> Iterator[np.ndarray]:
    yield patch
    smooth = cv2.GaussianBlur(patch, (0, 0), 1.2)
    yield smooth
    yield cv2.addWeighted(patch, 2.0, cv2.GaussianBlur(patch, (0, 0), 2.5), -1.0, 0)
    yield cv2.resize(smooth, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    yield cv2.morphologyEx(patch, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))


def _decoded(image: np.ndarray) -> SheetCode | None:
    for symbol in zxingcpp.read_barcodes(np.ascontiguousarray(image), formats=_QR):
        code = parse_code(symbol.text)
        if code is not None:
            return code
    return None
