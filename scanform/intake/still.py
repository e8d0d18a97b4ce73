"""PNG, BMP, GIF and WebP: one picture a file (of an animation the first), read through Pillow."""

from __future__ import annotations

import io
import warnings

import numpy as np
from PIL import Image

from scanform.errors import FileUnreadable
from scanform.intake.kinds import Kind
from scanform.intake.limits import check_pixels
from scanform.intake.pixels import grey_of

__all__ = ["check_still", "still_pixels"]

# Our own limit is checked first, from the header.
warnings.filterwarnings("ignore", category=Image.DecompressionBombWarning)

_EXIF_ORIENTATION = 274


def check_still(data: bytes, kind: Kind, what: str) -> None:
    """Check size and completeness from the headers; raises :class:`FileUnreadable`."""
    if kind is Kind.PNG:
        _check_png_end(data, what)
    elif kind is Kind.WEBP and len(data) < 8 + int.from_bytes(data[4:8], "little"):
        raise FileUnreadable(f"{what} is cut short: its end is missing; copy or scan it again.")
    check_pixels(*_stated_size(data, kind, what), what)


def still_pixels(data: bytes, kind: Kind, what: str) -> tuple[np.ndarray, int, float | None, float | None]:
    """Decode to uint8 (height, width) grey as stored; also EXIF orientation (1 to 8) and x, y dpi or None.

    Transparent becomes white. Raises :class:`FileUnreadable`, and Pillow's own errors for damage inside.
    """
    check_still(data, kind, what)
    with Image.open(io.BytesIO(data), formats=(kind.value.upper(),)) as image:
        check_pixels(*image.size, what)
        x_dpi, y_dpi = image.info.get("dpi", (None, None))
        pixels = grey_of(image)
        # After decoding: a PNG's EXIF block may follow its pixels.
        orientation = image.getexif().get(_EXIF_ORIENTATION, 1)
    return pixels, orientation if isinstance(orientation, int) else 1, x_dpi, y_dpi


def _check_png_end(data: bytes, what: str) -> None:
    at = 8
    while at + 12 <= len(data):
        if data[at + 4 : at + 8] == b"IEND":
            return
        at += 12 + int.from_bytes(data[at : at + 4], "big")
    raise FileUnreadable(f"{what} is cut short: its end is missing; copy or scan it again.")


def _stated_size(data: bytes, kind: Kind, what: str) -> tuple[int, int]:
    """Return width and height in pixels from the first header."""
    if len(data) < 30:
        raise FileUnreadable(f"{what} is cut short: its end is missing; copy or scan it again.")
    if kind is Kind.PNG:
        return int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    if kind is Kind.GIF:
        return int.from_bytes(data[6:8], "little"), int.from_bytes(data[8:10], "little")
    if kind is Kind.BMP:
        if data[14] == 12:
            return int.from_bytes(data[18:20], "little"), int.from_bytes(data[20:22], "little")
        width = int.from_bytes(data[18:22], "little", signed=True)
        height = int.from_bytes(data[22:26], "little", signed=True)
        return width, abs(height)
    # WebP (RFC 9649): extended, lossless and plain files state the size in three ways.
    if data[12:16] == b"VP8X":
        return int.from_bytes(data[24:27], "little") + 1, int.from_bytes(data[27:30], "little") + 1
    if data[12:16] == b"VP8L":
        bits = int.from_bytes(data[21:25], "little")
        return (bits & 0x3FFF) + 1, ((bits >> 14) & 0x3FFF) + 1
    return int.from_bytes(data[26:28], "little") & 0x3FFF, int.from_bytes(data[28:30], "little") & 0x3FFF
