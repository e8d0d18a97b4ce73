"""Pictures of archived pages and of the ink in them, upright, ready for a browser."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from scanform.binder import Binder, RecordedPage
from scanform.errors import UsageError
from scanform.intake import load_page
from scanform.report import cut_ink, quarter_turns, turned

__all__ = ["FieldPlace", "InkBox", "PagePictures", "UprightPage", "field_places", "ink_box", "upright_aspect"]

_PAGES_KEPT = 6  # some 50 MB of 300 dpi grey; neighbours in the queue often share a page
_JPEG_QUALITY = 82
_INK_SIZE_PX = (1120, 400)  # width and height that the ink of a field fits into: the desk's left side at 1280 x 720
_MOST_SCALE = 3.0  # beyond this ink turns into fog
_ABOVE = 0.9  # of the field's height: the row above and below shows
_A4_ASPECT = 210 / 297  # ISO 216
_LEAST_SHARE = 0.45  # of the picture's width that a field fills, unless the scale would grow too large


@dataclass(frozen=True)
class UprightPage:
    """A page turned the way one reads it. ``pixels``: uint8 (height, width). ``turns``: quarter turns it took."""

    pixels: np.ndarray
    turns: int


@dataclass(frozen=True)
class InkBox:
    """A field in the picture of its ink, as shares of the picture's size; ``aspect``: the picture's width by height."""

    left: float
    top: float
    width: float
    height: float
    aspect: float


@dataclass(frozen=True)
class FieldPlace:
    """Where a field lies on the upright page: four corners (x, y) as shares of its width and height."""

    field_id: str
    corners: tuple[tuple[float, float], ...]


class PagePictures:
    """The pages last looked at stay decoded. Safe to use from several threads."""

    def __init__(self, binder: Binder) -> None:
        self._binder = binder
        self._kept: OrderedDict[int, UprightPage] = OrderedDict()
        self._lock = threading.Lock()

    def upright(self, page: RecordedPage) -> UprightPage:
        """The page as one reads it. UsageError if its file is not archived, FileUnreadable if it cannot be opened."""
        with self._lock:
            found = self._kept.get(page.number)
            if found is not None:
                self._kept.move_to_end(page.number)
                return found
        record = page.record
        archived = self._binder.archived(record.sha256)
        if archived is None:
            raise UsageError(
                f"The file of page {page.number} is not in the binder's archive; put it back from a backup."
            )
        turns = quarter_turns(f.polygon_px for f in record.fields if f.polygon_px)
        pixels = np.ascontiguousarray(np.rot90(load_page(archived, record.page_number).pixels, turns))
        opened = UprightPage(pixels, turns)
        with self._lock:
            self._kept[page.number] = opened
            while len(self._kept) > _PAGES_KEPT:
                self._kept.popitem(last=False)
        return opened

    def whole(self, page: RecordedPage, height_px: int) -> bytes:
        """The whole page upright as JPEG, at most that high."""
        pixels = self.upright(page).pixels
        factor = min(1.0, height_px / pixels.shape[0])
        small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) if factor < 1 else pixels
        return cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])[1].tobytes()

    def ink(self, page: RecordedPage, field_id: str) -> bytes:
        """A field's ink large, as JPEG. UsageError if the page has no such field or nobody knows where it lies."""
        field = page.record.field(field_id)
        if field is None or len(field.polygon_px) != 4:
            raise UsageError(f"Page {page.number} has no place for '{field_id}'; look at the whole page.")
        opened = self.upright(page)
        height, width = opened.pixels.shape[:2]
        before = (width, height) if opened.turns % 2 == 0 else (height, width)
        corners = np.array(turned(field.polygon_px, opened.turns, *before))
        beside, above, scale = _framing(*_size(corners))
        cut = cut_ink(opened.pixels, corners.tolist(), beside, above, scale)
        return cv2.imencode(".jpg", cut, [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])[1].tobytes()


def ink_box(polygon_px: Sequence[Sequence[float]]) -> InkBox:
    """Where a field with those corners lies in the picture of its ink; no page is opened for it."""
    wide, high = _size(np.array(polygon_px))
    beside, above, _ = _framing(wide, high)
    whole_wide, whole_high = wide + 2 * beside, high + 2 * above
    return InkBox(
        beside / whole_wide, above / whole_high, wide / whole_wide, high / whole_high, whole_wide / whole_high
    )


def _size(corners: np.ndarray) -> tuple[float, float]:
    """Width and height in px, at least 1, of corners (4, 2) that begin top left and go clockwise."""
    across, down = np.linalg.norm(corners[1] - corners[0]), np.linalg.norm(corners[3] - corners[0])
    return max(float(across), 1.0), max(float(down), 1.0)


def _framing(wide: float, high: float) -> tuple[float, float, float]:
    """Pixels of the page to show beside and above a field of that size, and the scale, to fill the picture."""
    most_wide, most_high = _INK_SIZE_PX
    scale = min(_MOST_SCALE, most_high / (high * (1 + 2 * _ABOVE)), most_wide * _LEAST_SHARE / wide)
    scale = max(scale, min(most_wide / (wide + 2 * high), most_high / (3 * high), _MOST_SCALE / 2))
    beside = max(0.25 * high, (most_wide / scale - wide) / 2)
    above = min(max(0.25 * high, (most_high / scale - high) / 2), 2.5 * high)
    return beside, above, scale


def upright_aspect(page: RecordedPage) -> float:
    """Width by height of the page's upright picture; that of A4 if its size is not on record."""
    record = page.record
    if not record.width_px or not record.height_px:
        return _A4_ASPECT
    turns = quarter_turns(f.polygon_px for f in record.fields if f.polygon_px)
    aspect = record.width_px / record.height_px
    return aspect if turns % 2 == 0 else 1 / aspect


def field_places(page: RecordedPage) -> list[FieldPlace]:
    """Where the fields of a page lie on it once it stands upright; fields whose place nobody knows are left out."""
    record = page.record
    if not record.width_px or not record.height_px:
        return []
    turns = quarter_turns(f.polygon_px for f in record.fields if f.polygon_px)
    width, height = record.width_px, record.height_px
    after = (width, height) if turns % 2 == 0 else (height, width)
    return [
        FieldPlace(f.id, tuple((x / after[0], y / after[1]) for x, y in turned(f.polygon_px, turns, width, height)))
        for f in record.fields
        if len(f.polygon_px) == 4
    ]
