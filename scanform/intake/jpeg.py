"""JPEG: what its header says, whether it is all there, and its grey pixels."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

from scanform.errors import FileUnreadable
from scanform.intake.complaints import heard_complaints
from scanform.intake.limits import check_pixels
from scanform.intake.pixels import grey_of

__all__ = ["JpegHeader", "jpeg_header", "jpeg_pixels"]

# ITU-T T.81, table B.1: markers that stand alone, and the frame headers (C4, C8 and CC are no frames).
_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_START_OF_SCAN, _END_OF_IMAGE = 0xDA, b"\xff\xd9"
_EXIF_ORIENTATION, _EXIF_X, _EXIF_Y, _EXIF_UNIT = 274, 282, 283, 296
_CM_PER_INCH = 2.54
# libjpeg decodes past damage with a remark. In 60 files with one bit turned over, each that drew a remark showed
# a wrong picture. Spare bytes behind a scan are damage too, but for a device's padding to whole words of four.
_DAMAGE = "Corrupt JPEG data"
_SPARE_BYTES = re.compile(r"Corrupt JPEG data: [1-3] extraneous bytes before marker 0xd9")


@dataclass(frozen=True)
class JpegHeader:
    """Sizes in stored pixels, before ``orientation`` (EXIF, 1 to 8) is applied; dpi None if not claimed."""

    width: int
    height: int
    components: int
    orientation: int
    x_dpi: float | None
    y_dpi: float | None


def jpeg_header(data: bytes, what: str) -> JpegHeader:
    """Read a JPEG's header and make sure that its end is there, without decoding.

    ``what`` names the picture in a refusal. Raises :class:`FileUnreadable` for a picture that is cut short,
    too large, or not 8 bits deep.
    """
    frame: bytes | None = None
    density: tuple[float, float] | None = None
    exif = b""
    at = 2
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 4 > len(data):
            raise _cut_short(what)
        marker = data[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if marker in _ALONE or marker == 0:
            at += 2
            continue
        if marker == _END_OF_IMAGE[1]:
            raise FileUnreadable(f"{what} holds no picture; copy or scan it again.")
        body = data[at + 4 : at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")]
        at += 2 + max(2, int.from_bytes(data[at + 2 : at + 4], "big"))
        if marker in _FRAMES:
            frame = body
        elif marker == 0xE0 and body.startswith(b"JFIF\0") and len(body) >= 12:
            density = _jfif_dpi(body)
        elif marker == 0xE1 and body.startswith(b"Exif\0\0") and not exif:
            exif = body
        elif marker == _START_OF_SCAN:
            break
    # Inside a scan 0xFF is always followed by 0 or a restart marker (T.81, F.1.2.3), so an end marker after its
    # start is the picture's own; thumbnails with theirs come before. Searched from the end, where it mostly is.
    if data.rfind(_END_OF_IMAGE, at) < 0:
        raise _cut_short(what)
    if frame is None or len(frame) < 6:
        raise FileUnreadable(f"{what} has no frame header; copy or scan it again.")
    height, width = int.from_bytes(frame[1:3], "big"), int.from_bytes(frame[3:5], "big")
    check_pixels(width, height, what)
    if frame[0] != 8:
        raise FileUnreadable(f"{what} is a JPEG of {frame[0]} bits a sample; save it as an ordinary 8 bit JPEG.")
    orientation, exif_dpi = _exif_facts(exif)
    x_dpi, y_dpi = density or exif_dpi or (None, None)
    return JpegHeader(width, height, frame[5], orientation, x_dpi, y_dpi)


def jpeg_pixels(data: bytes, header: JpegHeader, what: str) -> np.ndarray:
    """Decode to uint8 (height, width) grey as stored, not turned; raises :class:`FileUnreadable`."""
    with heard_complaints() as complaints:
        pixels = _decoded(data, header)
    if pixels is None or pixels.shape != (header.height, header.width):
        raise FileUnreadable(f"{what} is damaged and cannot be decoded; copy or scan it again.")
    if any(_tells_of_damage(line) for line in complaints):
        raise FileUnreadable(f"{what} is damaged: part of its picture is lost; copy or scan it again.")
    return pixels


def _decoded(data: bytes, header: JpegHeader) -> np.ndarray | None:
    if header.components == 4:
        # Ink densities come either way round, told by the Adobe marker, which only Pillow looks at.
        with Image.open(io.BytesIO(data), formats=("JPEG",)) as image:
            return grey_of(image)
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)


def _tells_of_damage(line: str) -> bool:
    return _DAMAGE in line and not _SPARE_BYTES.search(line)


def _cut_short(what: str) -> FileUnreadable:
    return FileUnreadable(f"{what} is cut short: its end is missing; copy or scan it again.")


def _jfif_dpi(body: bytes) -> tuple[float, float] | None:
    unit, x, y = body[7], int.from_bytes(body[8:10], "big"), int.from_bytes(body[10:12], "big")
    if unit not in (1, 2) or not x or not y:
        return None
    scale = 1.0 if unit == 1 else _CM_PER_INCH
    return x * scale, y * scale


def _exif_facts(payload: bytes) -> tuple[int, tuple[float, float] | None]:
    """Return orientation and dpi; a broken EXIF block does not make the picture unreadable."""
    if not payload:
        return 1, None
    exif = Image.Exif()
    try:
        exif.load(payload)
        orientation = exif.get(_EXIF_ORIENTATION, 1)
        x, y = float(exif.get(_EXIF_X, 0)), float(exif.get(_EXIF_Y, 0))
        scale = _CM_PER_INCH if exif.get(_EXIF_UNIT, 2) == 3 else 1.0
    except Exception:
        return 1, None
    if not isinstance(orientation, int) or not 1 <= orientation <= 8:
        orientation = 1
    return orientation, (x * scale, y * scale) if x > 0 and y > 0 else None
