"""TIFF of one or many pages: directories are walked here, strips decoded by libtiff through Pillow."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from PIL import Image

from scanform.errors import FileUnreadable
from scanform.intake.complaints import heard_complaints
from scanform.intake.limits import MAX_FILE_PAGES, check_pixels
from scanform.intake.pixels import grey_of

__all__ = ["OpenTiff", "TiffPage", "t6_hole"]

# TIFF 6.0 tags.
_NEW_SUBFILE, _SUBFILE, _WIDTH, _HEIGHT, _ORIENTATION = 254, 255, 256, 257, 274
_COMPRESSION, _T6 = 259, 4
_STRIP_OFFSETS, _STRIP_COUNTS, _TILE_OFFSETS, _TILE_COUNTS = 273, 279, 324, 325
_X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 282, 283, 296
_WANTED = frozenset(
    {_NEW_SUBFILE, _SUBFILE, _WIDTH, _HEIGHT, _ORIENTATION, _STRIP_OFFSETS, _STRIP_COUNTS, _TILE_OFFSETS}
    | {_COMPRESSION, _TILE_COUNTS, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT}
)
# Pillow tells about odd tags on the terminal; what matters of them is checked here.
warnings.filterwarnings("ignore", module=r"PIL\.TiffImagePlugin")

# Field types: bytes each takes, and its numpy code (a rational is two of them).
_TYPES = {1: (1, "u1"), 3: (2, "u2"), 4: (4, "u4"), 5: (8, "u4"), 13: (4, "u4"), 16: (8, "u8"), 18: (8, "u8")}
_REDUCED, _MASK = 1, 4
_SIDEWAYS = frozenset({5, 6, 7, 8})
_CM_PER_INCH = 2.54
# No code word of ITU-T T.6, nor two in a row, give more than ten zero bits: this stands for bytes never written.
_HOLE = bytes(3)
_EOFB = b"\0\0\0\0\0\0\0\0\0\0\0\1" * 2  # ITU-T T.6, 2.4.1: two end-of-line codes, a byte here a bit


@dataclass(frozen=True)
class TiffPage:
    """One directory; ``index`` counts all of them from 0. Sizes in pixels as displayed; dpi None if unknown.

    ``t6_strips``: offset and length in bytes of each strip in T.6 ("G4") code, empty for other codes.
    """

    index: int
    width: int
    height: int
    x_dpi: float | None
    y_dpi: float | None
    t6_strips: tuple[tuple[int, int], ...]


class OpenTiff:
    """A TIFF held open for random access; ``pages`` leaves out thumbnails and masks.

    Raises :class:`FileUnreadable` when a directory or a strip lies behind the file's end, and for more pages
    or pixels than allowed.
    """

    def __init__(self, path: Path, what: str) -> None:
        self._file = path.open("rb")
        try:
            self.pages = _pages(self._file, what)
        except BaseException:
            self._file.close()
            raise
        self._image: Image.Image | None = None

    def pixels(self, page: TiffPage, what: str) -> np.ndarray:
        """Decode to uint8 (height, width) grey, turned as the orientation tag asks (Pillow does that).

        Raises :class:`FileUnreadable` for a page that libtiff complains about, Pillow's errors for other damage.
        """
        if _has_hole(self._file, page.t6_strips):
            raise _part_lost(what)
        with heard_complaints() as complaints:
            if self._image is None:
                self._image = Image.open(self._file, formats=("TIFF",))
            self._image.seek(page.index)
            grey = grey_of(self._image)
        # After a bad code word in a fax page libtiff leaves the rest white, and Pillow is content with that.
        if any("Warning, " not in line for line in complaints):
            raise _part_lost(what)
        return grey

    def close(self) -> None:
        """Let go of the file."""
        if self._image is not None:
            self._image.close()
        self._file.close()


def _part_lost(what: str) -> FileUnreadable:
    return FileUnreadable(f"{what} is damaged: part of its picture is lost; copy or scan it again.")


def t6_hole(code: bytes) -> bool:
    """Tell whether T.6 ("G4") code has zero bytes inside; decoders take them for the page's end, silently.

    What follows the end-of-facsimile-block code is no code: some writers leave the rest of a TIFF there.
    """
    hole = code.rstrip(b"\0").find(_HOLE)
    if hole < 0:
        return False
    bits = np.unpackbits(np.frombuffer(code[: hole + len(_HOLE)], np.uint8))
    return _EOFB not in bits.tobytes()


def _has_hole(file: BinaryIO, strips: tuple[tuple[int, int], ...]) -> bool:
    for offset, length in strips:
        file.seek(offset)
        if t6_hole(file.read(length)):
            return True
    return False


def _pages(file: BinaryIO, what: str) -> list[TiffPage]:
    size = file.seek(0, io.SEEK_END)
    file.seek(0)
    head = file.read(16)
    order = "<" if head[:2] == b"II" else ">"
    big = head[2:4] in (b"+\0", b"\0+")
    word = 8 if big else 4
    cut_short = FileUnreadable(f"{what} is cut short: its end is missing; copy or scan it again.")
    if len(head) < (16 if big else 8):
        raise cut_short
    offset = _number(head[8:16] if big else head[4:8], order)
    pages: list[TiffPage] = []
    seen: set[int] = set()
    while offset:
        if offset in seen:
            raise FileUnreadable(f"{what} is damaged: its pages form a ring; copy or scan it again.")
        if len(seen) >= 2 * MAX_FILE_PAGES:
            raise FileUnreadable(f"{what} has more than {MAX_FILE_PAGES} pages; split it.")
        seen.add(offset)
        if offset + word > size:
            raise cut_short
        file.seek(offset)
        entries = _number(file.read(8 if big else 2), order)
        block = entries * (20 if big else 12) + word
        if file.tell() + block > size:
            raise cut_short
        raw = file.read(block)
        tags = _tags(file, raw, entries, order, big, size)
        offset = _number(raw[-word:], order)
        if _is_page(tags):
            if any(end > size for end in _strip_ends(tags)):
                raise cut_short
            pages.append(_page(tags, len(seen) - 1, f"Page {len(pages) + 1} of {what}"))
    return pages


def _number(raw: bytes, order: str) -> int:
    return int.from_bytes(raw, "little" if order == "<" else "big")


def _tags(file: BinaryIO, raw: bytes, entries: int, order: str, big: bool, size: int) -> dict[int, np.ndarray]:
    """Return a directory's wanted tags as integer arrays; a value that lies outside the file is left out."""
    step, word = (20, 8) if big else (12, 4)
    tags: dict[int, np.ndarray] = {}
    for at in range(0, entries * step, step):
        tag = _number(raw[at : at + 2], order)
        kind = _TYPES.get(_number(raw[at + 2 : at + 4], order))
        if tag not in _WANTED or kind is None:
            continue
        length = kind[0] * _number(raw[at + 4 : at + 4 + word], order)
        value = raw[at + 4 + word : at + step]
        if length > word:
            where = _number(value, order)
            if where + length > size:
                continue
            file.seek(where)
            value = file.read(length)
        tags[tag] = np.frombuffer(value[:length], order + kind[1])
    return tags


def _first(tags: dict[int, np.ndarray], tag: int, default: int) -> int:
    values = tags.get(tag)
    return int(values[0]) if values is not None and len(values) else default


def _is_page(tags: dict[int, np.ndarray]) -> bool:
    return not _first(tags, _NEW_SUBFILE, 0) & (_REDUCED | _MASK) and _first(tags, _SUBFILE, 1) != 2


def _strip_ends(tags: dict[int, np.ndarray]) -> list[int]:
    """Return where each strip or tile ends, in bytes; old fax writers leave the lengths out."""
    ends: list[int] = []
    for offsets_tag, counts_tag in ((_STRIP_OFFSETS, _STRIP_COUNTS), (_TILE_OFFSETS, _TILE_COUNTS)):
        offsets = tags.get(offsets_tag)
        if offsets is None:
            continue
        counts = tags.get(counts_tag)
        if counts is None or len(counts) != len(offsets):
            counts = np.ones(len(offsets), np.uint64)
        ends += [int(offset) + int(count) for offset, count in zip(offsets, counts, strict=True)]
    return ends


def _page(tags: dict[int, np.ndarray], index: int, what: str) -> TiffPage:
    width, height = _first(tags, _WIDTH, 0), _first(tags, _HEIGHT, 0)
    check_pixels(width, height, what)
    unit = _first(tags, _RESOLUTION_UNIT, 2)
    scale = {2: 1.0, 3: _CM_PER_INCH}.get(unit)
    dpi: list[float | None] = []
    for tag in (_X_RESOLUTION, _Y_RESOLUTION):
        value = tags.get(tag)
        known = scale is not None and value is not None and len(value) >= 2 and value[1] > 0
        dpi.append(float(value[0]) / float(value[1]) * scale if known else None)  # type: ignore[index,operator]
    if _first(tags, _ORIENTATION, 1) in _SIDEWAYS:
        width, height = height, width
        dpi.reverse()
    strips: tuple[tuple[int, int], ...] = ()
    if _first(tags, _COMPRESSION, 1) == _T6 and _STRIP_OFFSETS in tags and _STRIP_COUNTS in tags:
        strips = tuple(zip(tags[_STRIP_OFFSETS].tolist(), tags[_STRIP_COUNTS].tolist(), strict=False))
    return TiffPage(index, width, height, dpi[0], dpi[1], strips)
