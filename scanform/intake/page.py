"""One image, and where it came from."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

__all__ = ["Page"]


@dataclass(frozen=True, eq=False)
class Page:
    """One page's pixels.

    ``pixels``: uint8 (height, width) grey, 0 black, 255 white, as a viewer would show it (EXIF and PDF page
    rotation applied). ``source`` is the file as the user named it, ``number`` counts pages in it from 1,
    ``sha256`` is the hex digest of the file's bytes. ``dpi`` is what the file claims, None if it does not. ``part``: 1
    but for further sheets of the same picture.
    """

    source: str
    number: int
    sha256: str
    pixels: np.ndarray = field(repr=False)
    dpi: float | None = None
    part: int = 1
