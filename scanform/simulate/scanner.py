"""Scanners, a fax and a phone: one finished page becomes the file an office would receive, with its true geometry."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

import cv2
import numpy as np
from PIL import Image

from scanform.simulate import wear
from scanform.simulate.pens import DPI
from scanform.simulate.phone import photographed
from scanform.simulate.warp import PointMap, feeder_map, turned, turned_map, warped

__all__ = ["Grade", "ScanResult", "scan"]

MAX_SKEW_DEG = 2.0
MAX_FEED_STRETCH = 0.01
FAX_DPI = (204.0, 196.0)  # ITU-T T.4, fine resolution


class Grade(StrEnum):
    """How a page was captured."""

    OFFICE = "office"
    WORN = "worn"
    BITONAL = "bitonal"
    PHONE = "phone"
    FAX = "fax"


@dataclass(frozen=True, eq=False)
class ScanResult:
    """One captured page.

    ``pixels``: uint8 (height, width) grey as a viewer decodes the file; ``encoded`` is that file, ``suffix``
    its name's end (".jpg", ".tif"). ``page_mm_to_px``: true place of page points, (n, 2) mm to (n, 2) px, pixel
    centres at whole numbers. ``dpi`` (x, y) is what the file claims, None for a phone.
    ``lost_mm``: torn-off areas, (n, 2) mm polygons.
    """

    grade: Grade
    pixels: np.ndarray = field(repr=False)
    page_mm_to_px: PointMap = field(repr=False)
    encoded: bytes = field(repr=False)
    suffix: str
    dpi: tuple[float, float] | None
    lost_mm: tuple[np.ndarray, ...] = ()


def scan(
    page: np.ndarray,
    grade: Grade | str,
    rng: np.random.Generator,
    quarter_turns: int = 0,
    dpi: float = DPI,
) -> ScanResult:
    """Capture ``page`` (uint8 (height, width) at ``dpi``, not changed) as ``grade`` does.

    ``quarter_turns``: how many clockwise quarter turns the sheet was fed with (2 is upside down). ValueError
    for an unknown grade.
    """
    return _GRADES[Grade(grade)](page, rng, quarter_turns, dpi)


def _office(page: np.ndarray, rng: np.random.Generator, turns: int, dpi: float) -> ScanResult:
    lid = _lid(rng)
    page = page.copy()
    if rng.random() < 0.5:
        wear.dirt(page, dpi, rng, density=0.15)
    grey, to_px = _fed(page, dpi, (300.0, 300.0), lid, rng)
    grey = _sensed(grey, rng, noise=float(rng.uniform(1.0, 4.0)))
    return _jpeg(Grade.OFFICE, grey, to_px, turns, 300.0, int(rng.integers(60, 91)))


def _worn(page: np.ndarray, rng: np.random.Generator, turns: int, dpi: float) -> ScanResult:
    lid = _lid(rng)
    page = wear.photocopied(page, dpi, rng)
    wear.smudges(page, dpi, rng, int(rng.integers(0, 4)))
    wear.thumb_prints(page, dpi, rng, int(rng.integers(0, 4)))
    wear.dirt(page, dpi, rng, density=float(rng.uniform(0.3, 2.0)))
    if rng.random() < 0.8:
        wear.creases(page, dpi, rng, int(rng.integers(1, 4)))
    if rng.random() < 0.6:
        wear.filing_holes(page, dpi, rng, lid)
    lost = (wear.torn_corner(page, dpi, rng, lid),) if rng.random() < 0.4 else ()
    grey, to_px = _fed(page, dpi, (200.0, 200.0), lid, rng)
    wear.feeder_streaks(grey, 200.0, rng, int(rng.integers(0, 4)))
    grey = _sensed(grey, rng, noise=float(rng.uniform(2.0, 6.0)))
    return _jpeg(Grade.WORN, grey, to_px, turns, 200.0, int(rng.integers(50, 86)), lost)


def _bitonal(page: np.ndarray, rng: np.random.Generator, turns: int, dpi: float) -> ScanResult:
    target = float(rng.choice([200.0, 300.0]))
    page = page.copy()
    if rng.random() < 0.5:
        wear.dirt(page, dpi, rng, density=0.15)
    grey, to_px = _fed(page, dpi, (target, target), _lid(rng), rng)
    grey = _sensed(grey, rng, noise=float(rng.uniform(1.0, 4.0)))
    black = _adaptive(grey, target, rng) if rng.random() < 0.5 else _global(grey, rng)
    return _g4(Grade.BITONAL, black, to_px, turns, (target, target))


def _fax(page: np.ndarray, rng: np.random.Generator, turns: int, dpi: float) -> ScanResult:
    page = page.copy()
    wear.dirt(page, dpi, rng, density=0.3)
    turned_page = turned(page, turns)  # the sender put it in that way; the fax's two resolutions stay its own
    grey, to_px = _fed(turned_page, dpi, FAX_DPI, 255.0, rng)
    grey = cv2.GaussianBlur(grey, (0, 0), rng.uniform(0.4, 0.8))
    wear.feeder_streaks(grey, 200.0, rng, int(rng.random() < 0.2))
    grey = _sensed(grey, rng, noise=float(rng.uniform(3.0, 8.0)))
    black = _global(grey, rng)
    for _ in range(rng.poisson(0.5)):  # a line lost on the wire: the receiver repeats the one before
        row = int(rng.integers(1, black.shape[0]))
        black[row] = black[row - 1]
    size = (page.shape[1], page.shape[0])
    turn = turned_map(_mm_to_page_px(dpi), size, turns)

    def through(points_mm: np.ndarray) -> np.ndarray:
        return to_px((turn(points_mm) + 0.5) * 25.4 / dpi)

    return _g4(Grade.FAX, black, through, 0, FAX_DPI)


def _phone(page: np.ndarray, rng: np.random.Generator, turns: int, dpi: float) -> ScanResult:
    page = page.copy()
    wear.dirt(page, dpi, rng, density=float(rng.uniform(0.1, 1.0)))
    if rng.random() < 0.4:
        wear.creases(page, dpi, rng, int(rng.integers(1, 3)))
    colour, to_px = photographed(page, dpi, rng)
    height, width = colour.shape[:2]
    image = Image.fromarray(np.ascontiguousarray(turned(colour, turns)))
    encoded = _saved(image, "JPEG", quality=int(rng.integers(65, 93)))
    pixels = _decoded(encoded)
    after = turned_map(to_px, (width, height), turns)
    return ScanResult(Grade.PHONE, pixels, after, encoded, ".jpg", None)


_GRADES: dict[Grade, Callable[[np.ndarray, np.random.Generator, int, float], ScanResult]] = {
    Grade.OFFICE: _office,
    Grade.WORN: _worn,
    Grade.BITONAL: _bitonal,
    Grade.PHONE: _phone,
    Grade.FAX: _fax,
}


def _mm_to_page_px(dpi: float) -> PointMap:
    return lambda points_mm: np.asarray(points_mm, float).reshape(-1, 2) * dpi / 25.4 - 0.5


def _lid(rng: np.random.Generator) -> float:
    """Grey of the scanner's backing: mostly white, some feeders have a black roller."""
    return float(rng.uniform(238, 255) if rng.random() < 0.8 else rng.uniform(5, 90))


def _fed(
    page: np.ndarray, dpi: float, target: tuple[float, float], lid: float, rng: np.random.Generator
) -> tuple[np.ndarray, PointMap]:
    """The page through a sheet feeder at ``target`` dpi: grey pixels and the true map."""
    size_mm = (page.shape[1] * 25.4 / dpi, page.shape[0] * 25.4 / dpi)
    over = rng.uniform(0, 5, 2) if rng.random() < 0.4 else np.zeros(2)  # some drivers scan past the sheet
    size_px = (
        round((size_mm[0] + over[0]) * target[0] / 25.4),
        round((size_mm[1] + over[1]) * target[1] / 25.4),
    )
    skew = float(np.clip(rng.normal(0, 0.8), -MAX_SKEW_DEG, MAX_SKEW_DEG))
    shift = tuple(rng.normal(0, 0.7, 2))
    to_px = feeder_map(size_mm, target, size_px, skew, MAX_FEED_STRETCH, shift, rng)
    # The optics blur about as much as a pixel is wide; without it a coarser scan would alias.
    ratio = np.array([dpi / target[0], dpi / target[1]])
    sigma = np.maximum(0.3, np.sqrt(np.maximum(0, ratio**2 - 1)) * 0.45 + rng.uniform(0.0, 0.45))
    soft = cv2.GaussianBlur(page, (0, 0), sigmaX=float(sigma[0]), sigmaY=float(sigma[1]))
    return warped(soft, dpi, to_px, size_px, lid), to_px


def _sensed(grey: np.ndarray, rng: np.random.Generator, noise: float) -> np.ndarray:
    """Levels as the sensor gives them: paper not quite white, ink not quite black, lamp uneven, noise."""
    paper, ink = rng.uniform(232, 254), rng.uniform(4, 38)
    curve = ink + (paper - ink) * (np.arange(256) / 255) ** rng.uniform(0.85, 1.2)
    out = cv2.LUT(grey, np.clip(curve, 0, 255).astype(np.uint8))
    lamp = rng.normal(0, 2.0) * np.linspace(-1, 1, out.shape[1]) + rng.normal(0, 1.5) * np.sin(
        np.linspace(0, rng.uniform(2, 5), out.shape[1])
    )
    extra = wear.grain((out.shape[0], out.shape[1]), noise, rng) + np.round(lamp).astype(np.int16)
    return cv2.add(out, extra, dtype=cv2.CV_8U)


def _global(grey: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """One threshold for the page, set by eye somewhere between mid grey and the paper."""
    paper = float(np.median(grey[::16, ::16]))
    return (grey < paper * rng.uniform(0.66, 0.86)).astype(np.uint8)


def _adaptive(grey: np.ndarray, dpi: float, rng: np.random.Generator) -> np.ndarray:
    """A threshold that follows the surroundings, as in most document scanners' drivers."""
    block = int(rng.uniform(4, 9) * dpi / 25.4) | 1
    # Grey levels under the local mean; below 14 the sensor noise shows as pepper, above 40 pencil is lost.
    offset = rng.uniform(16, 40)
    mean = cv2.boxFilter(grey, cv2.CV_8U, (block, block))
    level = cv2.LUT(mean, np.clip(np.arange(256) - offset, 0, 255).astype(np.uint8))
    # The inside of a wide black area would turn white against its own mean.
    return ((grey < level) | (grey < 60)).astype(np.uint8)


def _saved(image: Image.Image, kind: str, **options: object) -> bytes:
    stream = io.BytesIO()
    image.save(stream, kind, **options)
    return stream.getvalue()


def _decoded(encoded: bytes) -> np.ndarray:
    """Grey pixels as whoever opens the file gets them, the losses of its coding included."""
    return np.asarray(cv2.imdecode(np.frombuffer(encoded, np.uint8), cv2.IMREAD_GRAYSCALE), np.uint8)


def _jpeg(
    grade: Grade,
    grey: np.ndarray,
    to_px: PointMap,
    turns: int,
    dpi: float,
    quality: int,
    lost: tuple[np.ndarray, ...] = (),
) -> ScanResult:
    height, width = grey.shape
    image = Image.fromarray(turned(grey, turns))
    encoded = _saved(image, "JPEG", quality=quality, dpi=(dpi, dpi))
    pixels = _decoded(encoded)
    after = turned_map(to_px, (width, height), turns)
    return ScanResult(grade, pixels, after, encoded, ".jpg", (dpi, dpi), lost)


def _g4(grade: Grade, black: np.ndarray, to_px: PointMap, turns: int, dpi: tuple[float, float]) -> ScanResult:
    height, width = black.shape
    pixels = turned(np.where(black > 0, 0, 255).astype(np.uint8), turns)
    image = Image.fromarray(pixels).convert("1", dither=Image.Dither.NONE)
    encoded = _saved(image, "TIFF", compression="group4", dpi=dpi)
    after = turned_map(to_px, (width, height), turns)
    return ScanResult(grade, pixels, after, encoded, ".tif", dpi)
