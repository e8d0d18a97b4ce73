"""Arithmetic on grey pages: turn upright, make pixels square, put transparent paper on white."""

from __future__ import annotations

import cv2
import numpy as np
from PIL import Image

__all__ = ["grey_of", "is_square", "over_white", "squared_size", "upright"]

# A feeder stretches a page by up to 1 %, and writers round page sizes to whole points: below this the two
# resolutions of a page count as equal and its pixels stay untouched.
SQUARE_TOLERANCE = 0.015
# T.4 fax at 204 x 98 dpi is 2.08 apart, 204 x 391 is 1.92; farther apart than this is a wrong tag.
MAX_ASPECT = 3.0


def upright(pixels: np.ndarray, orientation: int) -> np.ndarray:
    """Turn an image (height, width) so that it shows as its EXIF/TIFF orientation tag, 1 to 8, asks for.

    Source of the eight cases: TIFF 6.0, tag 274. An unknown value leaves the image as it is.
    """
    if orientation == 2:
        return cv2.flip(pixels, 1)
    if orientation == 3:
        return cv2.flip(pixels, -1)
    if orientation == 4:
        return cv2.flip(pixels, 0)
    if orientation == 5:
        return cv2.transpose(pixels)
    if orientation == 6:
        return cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE)
    if orientation == 7:
        return cv2.flip(cv2.transpose(pixels), -1)
    if orientation == 8:
        return cv2.rotate(pixels, cv2.ROTATE_90_COUNTERCLOCKWISE)
    return pixels


def is_square(x_dpi: float, y_dpi: float) -> bool:
    """Tell whether pixels of these two resolutions count as square."""
    return abs(x_dpi / y_dpi - 1) <= SQUARE_TOLERANCE


def squared_size(width: int, height: int, x_dpi: float | None, y_dpi: float | None) -> tuple[int, int, float | None]:
    """Return width, height and dpi after the coarser axis is brought to the finer one's resolution.

    Sizes in pixels. A resolution that is missing, zero or absurd leaves the size as it is, with dpi None.
    """
    if not x_dpi or not y_dpi or not (0 < x_dpi < 1e5 and 0 < y_dpi < 1e5):
        return width, height, None
    if max(x_dpi / y_dpi, y_dpi / x_dpi) > MAX_ASPECT:
        return width, height, None
    if is_square(x_dpi, y_dpi):
        return width, height, (x_dpi + y_dpi) / 2
    dpi = max(x_dpi, y_dpi)
    return round(width * dpi / x_dpi), round(height * dpi / y_dpi), dpi


def over_white(grey: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    """Lay an image over white paper; both arrays uint8 (height, width), alpha 255 opaque."""
    ink = cv2.multiply(255 - grey, alpha, scale=1 / 255)
    return 255 - ink


def grey_of(image: Image.Image) -> np.ndarray:
    """Return a Pillow image of any mode as uint8 (height, width) grey; transparent becomes white.

    Raises ValueError for floating-point samples, whose black and white nothing states.
    """
    transparency = image.info.get("transparency")
    if image.mode.startswith("I"):
        deep = np.asarray(image)
        grey = (np.clip(deep, 0, 65535) >> 8).astype(np.uint8)
        if isinstance(transparency, int):
            grey[deep == transparency] = 255
        return grey
    if image.mode == "F":
        raise ValueError("floating-point samples")
    if image.mode in ("La", "RGBa"):
        image = image.convert("LA" if image.mode == "La" else "RGBA")
    if image.mode in ("LA", "RGBA", "PA") or transparency is not None:
        clear = image.convert("RGBA")
        return over_white(np.asarray(clear.convert("L")), np.asarray(clear.getchannel("A")))
    if image.mode in ("P", "CMYK"):
        image = image.convert("RGB")
    return np.array(image if image.mode == "L" else image.convert("L"))
