"""Files for the tests of intake, made by other programs than this one."""

from __future__ import annotations

import io
from pathlib import Path

import cv2
import img2pdf
import numpy as np
import pikepdf
import pytest
from PIL import Image

from scanform.errors import FileUnreadable
from scanform.intake import count_pages, load_page

NAME = pikepdf.Name


def sheet(width: int = 425, height: int = 550) -> np.ndarray:
    """A page at 50 dpi that looks different under each of the eight ways to turn and mirror it."""
    pixels = np.full((height, width), 255, np.uint8)
    pixels[20:120, 20:60] = 0
    pixels[20:50, 60:200] = 0
    pixels[height - 40 : height - 20, 20:90] = 96
    cv2.putText(pixels, "R7", (width // 3, height // 2), cv2.FONT_HERSHEY_SIMPLEX, 3, 0, 8)
    return pixels


def jpeg_bytes(pixels: np.ndarray, **options: object) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=80, **options)
    return buffer.getvalue()


def decoded(data: bytes) -> np.ndarray:
    grey = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)
    assert grey is not None
    return grey


def same_picture(found: np.ndarray, expected: np.ndarray) -> bool:
    """Whether two pages show the same, apart from resampling at edges: compared at 1/8 of the size."""
    small = (expected.shape[1] // 8, expected.shape[0] // 8)
    a, b = (cv2.resize(x, small, interpolation=cv2.INTER_AREA).astype(float) for x in (found, expected))
    return float(np.mean(np.abs(a - b))) < 4


def put(folder: Path, name: str, data: bytes) -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def one_image_pdf(
    data: bytes,
    entries: dict[str, object],
    content: bytes,
    size: tuple[float, float] = (612, 792),
    **page: object,
) -> bytes:
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=size)
    stream = pikepdf.Stream(pdf, data)
    for key, value in {"Type": NAME.XObject, "Subtype": NAME.Image, **entries}.items():
        stream[f"/{key}"] = value
    pdf.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Scan=stream))
    pdf.pages[0].Contents = pikepdf.Stream(pdf, content)
    for key, value in page.items():
        pdf.pages[0][f"/{key}"] = value
    buffer = io.BytesIO()
    pdf.save(buffer)
    return buffer.getvalue()


def jpeg_entries(pixels: np.ndarray) -> dict[str, object]:
    return {
        "Width": pixels.shape[1],
        "Height": pixels.shape[0],
        "ColorSpace": NAME.DeviceGray,
        "BitsPerComponent": 8,
        "Filter": NAME.DCTDecode,
    }


FULL_PAGE = b"q 612 0 0 792 0 0 cm /Scan Do Q"


def encrypted_pdf(folder: Path, owner_only: bool = False) -> Path:
    pdf = pikepdf.open(io.BytesIO(img2pdf.convert(jpeg_bytes(sheet()))))
    path = folder / "locked.pdf"
    pdf.save(path, encryption=pikepdf.Encryption(owner="boss", user="" if owner_only else "crew"))
    return path


def bits(pixels: np.ndarray) -> bytes:
    return np.packbits(pixels > 127, axis=1).tobytes()


def bitonal(width: int = 424, height: int = 552) -> np.ndarray:
    return np.where(sheet(width, height) > 127, np.uint8(255), np.uint8(0))


def tiff(path: Path, pages: list[np.ndarray], compression: str | None = None, **options: object) -> Path:
    mode = "1" if compression in ("group3", "group4") else "L"
    images = [Image.fromarray(page).convert(mode) for page in pages]
    images[0].save(path, "TIFF", compression=compression, save_all=True, append_images=images[1:], **options)
    return path


def stored_for(orientation: int) -> np.ndarray:
    """The sheet as a camera stores it under an EXIF orientation, from the tag's own definition.

    EXIF 2.32, tag 0x0112 (from memory): which edge of the scene row 0 and column 0 of the stored picture are.
    """
    row0, column0 = {
        1: ("top", "left"),
        2: ("top", "right"),
        3: ("bottom", "right"),
        4: ("bottom", "left"),
        5: ("left", "top"),
        6: ("right", "top"),
        7: ("right", "bottom"),
        8: ("left", "bottom"),
    }[orientation]
    pixels = sheet()
    if row0 in ("left", "right"):
        pixels = pixels.T
    if row0 in ("bottom", "right"):
        pixels = pixels[::-1]
    if column0 in ("right", "bottom"):
        pixels = pixels[:, ::-1]
    return np.ascontiguousarray(pixels)


def refused(path: Path) -> str:
    """Both doors refuse the file; the sentence is one, and names the file."""
    with pytest.raises(FileUnreadable) as loading:
        load_page(path, 1)
    sentence = str(loading.value)
    assert path.name in sentence
    assert "\n" not in sentence
    assert sentence.endswith(".")
    return sentence


def refused_on_counting(path: Path) -> str:
    with pytest.raises(FileUnreadable) as counting:
        count_pages(path)
    assert str(counting.value) == refused(path)
    return str(counting.value)


def picture(kind: str) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(sheet()).save(buffer, kind)
    return buffer.getvalue()
