"""Pages for the tests of locating: sheets in every state, and how far off their fields were found."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scanform.form import Box, Layout, Paper
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, NotLocated, locate

DPI = 300.0
PX_PER_MM = DPI / 25.4
BlankSheet = Callable[[str, Paper], np.ndarray]
LayoutOf = Callable[[str, Paper], Layout]


def page_of(pixels: np.ndarray) -> Page:
    return Page("scan.pdf", 1, "0" * 64, np.ascontiguousarray(pixels))


def found(pixels: np.ndarray, known: KnownLayouts) -> LocatedSheet:
    result = locate(page_of(pixels), known)
    assert isinstance(result, LocatedSheet), result
    return result


def not_found(pixels: np.ndarray, known: KnownLayouts) -> NotLocated:
    result = locate(page_of(pixels), known)
    assert isinstance(result, NotLocated)
    assert result.reason.endswith(".")
    assert "\n" not in result.reason
    return result


def places_to_read(layout: Layout) -> list[Box]:
    boxes: list[Box] = []
    for field in layout.fields:
        boxes += [answer.box_mm for answer in field.answers] or list(field.cells_mm) or [field.box_mm]
    return boxes


def corners_mm(box: Box) -> np.ndarray:
    return np.array(
        [[box.x_mm, box.y_mm], [box.right_mm, box.y_mm], [box.right_mm, box.bottom_mm], [box.x_mm, box.bottom_mm]]
    )


def position_errors_mm(
    sheet: LocatedSheet, to_px: Callable[[np.ndarray], np.ndarray], lost: bool = False
) -> np.ndarray:
    """How far each place to read lies from where it truly is: corner by corner, in mm of paper."""
    errors = []
    height, width = sheet.page.pixels.shape
    for box in places_to_read(sheet.layout):
        true = to_px(corners_mm(box))
        if lost and not ((true > 0) & (true < [width, height])).all():
            continue
        scale = np.linalg.norm(true[1] - true[0]) / box.w_mm, np.linalg.norm(true[3] - true[0]) / box.h_mm
        error = np.array(sheet.polygon_px(box)) - true
        errors += list(np.linalg.norm(error, axis=1) / np.mean(scale))
    return np.array(errors)


def straight(points_mm: np.ndarray) -> np.ndarray:
    """Where a point of the sheet is on its own rendering at 300 dpi."""
    return points_mm * PX_PER_MM - 0.5


def painted_white(page: np.ndarray, *boxes: Box) -> np.ndarray:
    page = page.copy()
    for box in boxes:
        y, x = round(box.y_mm * PX_PER_MM), round(box.x_mm * PX_PER_MM)
        page[y : round(box.bottom_mm * PX_PER_MM), x : round(box.right_mm * PX_PER_MM)] = 255
    return page


def with_marks(page: np.ndarray, layout: Layout, keep: set[int]) -> np.ndarray:
    return painted_white(page, *(m.box_mm.grown(0.5) for m in layout.marks if m.identity not in keep))
