"""How a page without registration marks was captured, as far as its pixels show it."""

from __future__ import annotations

from scanform.locate import LocatedSheet, ScanGrade

__all__ = ["old_scan_grade"]

_EVERY = 31  # of the page's own pixels, each way, as for our own sheets
_MOST_MID_GREY = 0.02  # as for our own sheets (scanform.locate.quality): a page of black and white alone has 0
_LEAST_PX_PER_MM, _BEYOND_PX_PER_MM = 9.8, 6.7  # 250 and 170 dpi, likewise
_BEYOND_CONTRAST = 70.0


def old_scan_grade(sheet: LocatedSheet) -> ScanGrade:
    """Black and white, fine grey or coarse grey; ``other`` beyond what anything was fitted on."""
    seen = sheet.page.pixels[_EVERY // 2 :: _EVERY, _EVERY // 2 :: _EVERY]
    px_per_mm = sheet.map.px_per_mm() / sheet.raster_scale
    if px_per_mm < _BEYOND_PX_PER_MM:
        return ScanGrade.OTHER
    if float(((seen > 0) & (seen < 255)).mean()) < _MOST_MID_GREY:
        return ScanGrade.BITONAL
    if sheet.paper_grey - sheet.print_grey < _BEYOND_CONTRAST:
        return ScanGrade.OTHER
    return ScanGrade.OFFICE if px_per_mm >= _LEAST_PX_PER_MM else ScanGrade.WORN
