"""Find the sheet on the page: which one, which way up, and the map from its millimetres to pixels."""

from scanform.locate.known import KnownLayouts, KnownSheet
from scanform.locate.quality import PageQualities, ScanGrade, page_qualities, scan_grade
from scanform.locate.several import sheets_on
from scanform.locate.sheet import LocatedSheet, NotLocated, locate
from scanform.locate.warp import PageMap

__all__ = [
    "KnownLayouts",
    "KnownSheet",
    "LocatedSheet",
    "NotLocated",
    "PageMap",
    "PageQualities",
    "ScanGrade",
    "locate",
    "page_qualities",
    "scan_grade",
    "sheets_on",
]
