"""What happens to a sheet between the pen and the scanner: folds, thumbs, dirt, holes, tears, a photocopier."""

from __future__ import annotations

import cv2
import numpy as np

__all__ = [
    "creases",
    "dirt",
    "feeder_streaks",
    "filing_holes",
    "grain",
    "photocopied",
    "smudges",
    "thumb_prints",
    "torn_corner",
]

# ISO 838: two holes 6 mm wide, 80 mm apart, 12 mm from the edge, symmetric about the sheet's axis.
ISO_HOLE_MM = (6.0, 80.0, 12.0)
# Three-hole punching, common North American practice: 108 mm apart; width and distance as on common punches.
THREE_HOLE_MM = (7.0, 108.0, 12.7)
NOISE_TILE = 512


def grain(shape: tuple[int, int], strength: float, rng: np.random.Generator) -> np.ndarray:
    """Sensor noise, int16 (height, width), standard deviation ``strength``: shuffled tiles, as drawing each is slow."""
    tile = np.round(rng.standard_normal((NOISE_TILE, NOISE_TILE), dtype=np.float32) * strength).astype(np.int16)
    rows, columns = -(-shape[0] // NOISE_TILE), -(-shape[1] // NOISE_TILE)
    out = np.empty((rows * NOISE_TILE, columns * NOISE_TILE), np.int16)
    for r in range(rows):
        for c in range(columns):
            dy, dx = rng.integers(0, NOISE_TILE, 2)
            block = np.roll(tile, (int(dy), int(dx)), (0, 1))
            out[r * NOISE_TILE : (r + 1) * NOISE_TILE, c * NOISE_TILE : (c + 1) * NOISE_TILE] = block
    return out[: shape[0], : shape[1]]


def _clouds(shape: tuple[int, int], cells: int, rng: np.random.Generator) -> np.ndarray:
    """Soft blotches, float32 (height, width), about 0 to 1; ``cells`` across the shorter side."""
    small = rng.random((cells + 2, cells + 2), dtype=np.float32)
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _multiply(page: np.ndarray, factor: np.ndarray, x0: int = 0, y0: int = 0) -> None:
    """Darken or lighten part of the page in place; parts off the page are dropped."""
    h, w = page.shape
    left, top = max(0, x0), max(0, y0)
    right, bottom = min(w, x0 + factor.shape[1]), min(h, y0 + factor.shape[0])
    if right <= left or bottom <= top:
        return
    part = factor[top - y0 : bottom - y0, left - x0 : right - x0]
    page[top:bottom, left:right] = np.clip(page[top:bottom, left:right] * part, 0, 255).astype(np.uint8)


def photocopied(page: np.ndarray, dpi: float, rng: np.random.Generator) -> np.ndarray:
    """One copy generation: softened edges, hard contrast, toner that misses and toner that strays."""
    scale = dpi / 25.4
    soft = cv2.GaussianBlur(page, (0, 0), rng.uniform(0.04, 0.08) * scale)
    middle, slope = rng.uniform(150, 190), rng.uniform(18, 32)
    levels = np.arange(256, dtype=float)
    curve = 255 / (1 + np.exp(-(levels - middle) / slope))
    curve = (curve - curve[0]) / (curve[-1] - curve[0])
    black = rng.uniform(15, 50)
    copy = cv2.LUT(soft, (black + (255 - black) * curve).astype(np.uint8))
    starved = _clouds((page.shape[0], page.shape[1]), 5, rng) * rng.uniform(0, 0.30)
    copy = np.clip(copy + (255 - copy) * np.clip(starved, 0, 1), 0, 255).astype(np.uint8)
    _dots(copy, int(rng.uniform(200, 2500)), (0.04, 0.12), (40, 190), scale, rng)
    return copy


def _dots(
    page: np.ndarray,
    count: int,
    radius_mm: tuple[float, float],
    grey: tuple[float, float],
    scale: float,
    rng: np.random.Generator,
) -> None:
    h, w = page.shape
    xs, ys = rng.uniform(0, w, count), rng.uniform(0, h, count)
    radii = rng.uniform(*radius_mm, count) * scale
    greys = rng.uniform(*grey, count)
    for x, y, r, g in zip(xs, ys, radii, greys, strict=True):
        level = int(min(g, page[min(int(y), h - 1), min(int(x), w - 1)]))
        cv2.circle(page, (round(x * 16), round(y * 16)), round(r * 16), level, -1, cv2.LINE_AA, 4)


def dirt(page: np.ndarray, dpi: float, rng: np.random.Generator, density: float = 1.0) -> None:
    """Specks, grit and fibres, in place; ``density`` 1 is a sheet from a dusty cab."""
    scale = dpi / 25.4
    _dots(page, rng.poisson(60 * density), (0.05, 0.22), (60, 200), scale, rng)
    _dots(page, rng.poisson(4 * density), (0.25, 0.7), (90, 200), scale, rng)
    for _ in range(rng.poisson(5 * density)):
        start = rng.uniform(0, [page.shape[1], page.shape[0]])
        steps = np.cumsum(rng.normal(0, 0.5, (6, 2)) + rng.normal(0, 0.5, 2), axis=0) * scale
        points = np.round((start + steps) * 16).astype(np.int32)
        cv2.polylines(page, [points], False, int(rng.uniform(70, 190)), 1, cv2.LINE_AA, 4)


def smudges(page: np.ndarray, dpi: float, rng: np.random.Generator, count: int) -> None:
    """Soft grey stains of oil and wet gloves, in place."""
    scale = dpi / 25.4
    for _ in range(count):
        size = rng.uniform(8, 45, 2) * scale
        w, h = int(size[0]), int(size[1])
        yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
        r = np.hypot((xx - w / 2) / (w / 2), (yy - h / 2) / (h / 2)) + 0.5 * (_clouds((h, w), 4, rng) - 0.5)
        edge = np.clip((1 - r) / rng.uniform(0.1, 0.7), 0, 1)
        tone = edge * rng.uniform(0.04, 0.22) * (0.6 + 0.5 * _clouds((h, w), 6, rng))
        _multiply(page, 1 - tone, int(rng.uniform(-w / 2, page.shape[1])), int(rng.uniform(-h / 2, page.shape[0])))


def thumb_prints(page: np.ndarray, dpi: float, rng: np.random.Generator, count: int) -> None:
    """Oily prints with ridges, most of them where a hand holds the sheet, in place."""
    scale = dpi / 25.4
    for _ in range(count):
        h, w = int(rng.uniform(20, 28) * scale), int(rng.uniform(14, 20) * scale)
        yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
        u, v = (xx - w / 2) / (w / 2), (yy - h / 2) / (h / 2)
        inside = np.clip((1 - np.hypot(u, v)) * 4, 0, 1)
        swirl = np.hypot(u * 1.4, v + 0.35 + 0.2 * u * u) + 0.06 * _clouds((h, w), 5, rng)
        ridges = 0.5 + 0.5 * np.sin(swirl * (h / 2) / (0.5 * scale) * 2 * np.pi)
        print_ = inside * np.clip(_clouds((h, w), 4, rng) * 1.6 - 0.3, 0, 1) * (0.3 + 0.7 * ridges)
        tone = (print_ * rng.uniform(0.15, 0.5)).astype(np.float32)
        angle = rng.uniform(-60, 60)
        turn = cv2.getRotationMatrix2D((w / 2, h / 2), angle, 1)
        tone = cv2.warpAffine(tone, turn, (w, h))
        near_edge = rng.random() < 0.7
        x = rng.choice([rng.uniform(-0.3, 0.1), rng.uniform(0.82, 0.95)]) if near_edge else rng.uniform(0, 0.9)
        _multiply(page, 1 - tone, int(x * page.shape[1]), int(rng.uniform(0, 0.92) * page.shape[0]))


def creases(page: np.ndarray, dpi: float, rng: np.random.Generator, count: int) -> None:
    """Fold lines, in place: shade on one side, shine on the other, print cracked along the fold."""
    scale = dpi / 25.4
    h, w = page.shape
    for _ in range(count):
        if rng.random() < 0.6:  # folded in half or in thirds, across or along
            across = rng.random() < 0.7
            at = rng.choice([1 / 3, 1 / 2, 2 / 3]) + rng.normal(0, 0.02)
            angle = rng.normal(0, 0.02) + (0 if across else np.pi / 2)
            centre = (w / 2, at * h) if across else (at * w, h / 2)
        else:
            angle = rng.uniform(0, np.pi)
            centre = (rng.uniform(0, w), rng.uniform(0, h))
        normal = np.array([-np.sin(angle), np.cos(angle)], np.float32)
        xs = (np.arange(w, dtype=np.float32) - np.float32(centre[0])) * normal[0]
        ys = (np.arange(h, dtype=np.float32) - np.float32(centre[1])) * normal[1]
        band = int(4 * scale)
        far = (xs[None, ::8] + ys[::8, None]) / scale  # coarse look for the rows and columns concerned
        near = np.abs(far) < 5
        rows, columns = np.where(near.any(axis=1))[0] * 8, np.where(near.any(axis=0))[0] * 8
        if len(rows) == 0:
            continue
        y0, y1 = max(0, rows[0] - band), min(h, rows[-1] + band)
        x0, x1 = max(0, columns[0] - band), min(w, columns[-1] + band)
        d = (xs[None, x0:x1] + ys[y0:y1, None]) / np.float32(scale)
        shade = 1 - rng.uniform(0.02, 0.12) * np.exp(-np.maximum(d, 0) / 1.5) * (d > 0)
        shade = shade - rng.uniform(0.05, 0.35) * np.exp(-((d / rng.uniform(0.06, 0.14)) ** 2))
        part = page[y0:y1, x0:x1]
        crack = np.exp(-((d / rng.uniform(0.08, 0.25)) ** 2)) * rng.uniform(0.2, 0.9)
        crack *= rng.random(d.shape, dtype=np.float32)
        lifted = part + (255 - part) * crack
        page[y0:y1, x0:x1] = np.clip(lifted * shade, 0, 255).astype(np.uint8)


def filing_holes(page: np.ndarray, dpi: float, rng: np.random.Generator, behind: float) -> None:
    """Punched holes along the left edge, in place, showing what is ``behind`` the sheet (grey level)."""
    scale = dpi / 25.4
    middle = page.shape[0] / 2
    if rng.random() < 0.6:
        width, apart, edge = ISO_HOLE_MM
        places = [-apart / 2, apart / 2]
    else:
        width, apart, edge = THREE_HOLE_MM
        places = [-apart, 0.0, apart]
    slip, inset = rng.normal(0, 0.7), edge + rng.normal(0, 0.5)
    for place in places:
        centre = (round(inset * scale * 16), round((middle + (place + slip) * scale) * 16))
        cv2.circle(page, centre, round(width / 2 * scale * 16), int(behind * 0.75), -1, cv2.LINE_AA, 4)
        cv2.circle(page, centre, round((width / 2 - 0.3) * scale * 16), int(behind), -1, cv2.LINE_AA, 4)


def torn_corner(
    page: np.ndarray, dpi: float, rng: np.random.Generator, behind: float, largest_mm: float = 32.0
) -> np.ndarray:
    """Tear one corner off, in place; gives the missing area as float (n, 2) mm polygon."""
    scale = dpi / 25.4
    h, w = page.shape
    legs = rng.uniform(0.3, 1.0, 2) * largest_mm * scale
    t = np.linspace(0, 1, 40)
    jag = np.cumsum(rng.normal(0, 0.35 * scale, 40))
    jag -= np.linspace(jag[0], jag[-1], 40)
    edge = np.column_stack([legs[0] * (1 - t), legs[1] * t]) + (jag * np.sin(np.pi * t))[:, None]
    corner = int(rng.integers(0, 4))
    if corner in (1, 2):
        edge[:, 0] = w - edge[:, 0]
    if corner in (2, 3):
        edge[:, 1] = h - edge[:, 1]
    outer = np.array([[-50, -50], [w + 50, -50], [w + 50, h + 50], [-50, h + 50]], float)[corner]
    rim = np.array([[edge[0, 0], outer[1]], outer, [outer[0], edge[-1, 1]]])
    shape = np.vstack([edge, rim[2], rim[1], rim[0]])
    fixed = np.round(shape * 16).astype(np.int32)
    cv2.polylines(page, [fixed[:40]], False, 255, max(1, round(rng.uniform(0.3, 0.9) * scale)), cv2.LINE_AA, 4)
    cv2.fillPoly(page, [fixed], int(behind), cv2.LINE_AA, 4)
    return shape / scale


def feeder_streaks(pixels: np.ndarray, dpi: float, rng: np.random.Generator, count: int) -> None:
    """Lines down the whole scan from grit on the glass, in place; they ignore the sheet's skew."""
    scale = dpi / 25.4
    h, w = pixels.shape
    for _ in range(count):
        x, width = int(rng.uniform(0, w - 4)), int(max(1, rng.uniform(0.06, 0.3) * scale))
        start, stop = (0, h) if rng.random() < 0.7 else sorted(int(v) for v in rng.uniform(0, h, 2))
        strip = pixels[start:stop, x : x + width].astype(float)
        tone = rng.uniform(0.45, 0.9)
        fade = 1 - (1 - tone) * (0.7 + 0.3 * rng.random((stop - start, 1)))
        if rng.random() < 0.8:
            pixels[start:stop, x : x + width] = np.clip(strip * fade, 0, 255).astype(np.uint8)
        else:  # a blind spot of the sensor
            pixels[start:stop, x : x + width] = np.clip(strip + (255 - strip) * (1 - tone), 0, 255).astype(np.uint8)
