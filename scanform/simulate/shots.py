"""Captures whose damage is chosen, not drawn: a photo from a given angle, bent paper, hard shadows, several sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from scanform.simulate.phone import developed
from scanform.simulate.warp import PointMap, feeder_map, warped
from scanform.simulate.wear import grain

__all__ = ["Shot", "fed_unevenly", "laid_out", "on_copy", "photo_at", "shadow_edge"]


@dataclass(frozen=True, eq=False)
class Shot:
    """A captured picture, uint8 (height, width) grey, and per sheet in it the true map from page mm to px."""

    pixels: np.ndarray
    maps: tuple[PointMap, ...]


def photo_at(
    page: np.ndarray,
    dpi: float,
    rng: np.random.Generator,
    tilt_deg: float = 0.0,
    curl_mm: float = 0.0,
    tall_px: int = 3400,
    sheets: np.ndarray | None = None,
) -> Shot:
    """``page`` (uint8 grey) photographed from ``tilt_deg`` off its normal, from a random side.

    ``curl_mm``: how far the page's ends stand off the table, bent like a piece of a cylinder. ``sheets``: uint8, 255
    where ``page`` is paper and 0 where it is the table, if that is not everywhere.
    """
    size_mm = (page.shape[1] * 25.4 / dpi, page.shape[0] * 25.4 / dpi)
    portrait = page.shape[0] >= page.shape[1]
    size_px = (round(tall_px * 3 / 4), tall_px) if portrait else (tall_px, round(tall_px * 3 / 4))
    to_px = _pinhole(size_mm, size_px, tilt_deg, curl_mm, rng)
    photo = developed(page, dpi, to_px, size_px, rng, sheets)
    return Shot(cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY), (to_px,))


def _pinhole(
    size_mm: tuple[float, float], size_px: tuple[int, int], tilt_deg: float, curl_mm: float, rng: np.random.Generator
) -> PointMap:
    """A camera whose axis stands ``tilt_deg`` off the page's normal, 1.3 to 1.9 page lengths away, aimed at it."""
    centre = np.array(size_mm) / 2
    towards, roll = rng.uniform(0, 2 * np.pi), np.radians(rng.normal(0, 3))
    tilt = np.radians(tilt_deg)
    axis = np.array([np.cos(towards), np.sin(towards), 0.0]) * tilt
    lean, _ = cv2.Rodrigues(axis)
    turn, _ = cv2.Rodrigues(np.array([0.0, 0.0, roll]))
    rotation = turn @ lean
    distance = max(size_mm) * rng.uniform(1.3, 1.9)
    # Rolled paper keeps its roll along one side; a stapled or dog-eared stack bends along the other.
    along = rng.integers(0, 2)
    half = size_mm[along] / 2
    bow = curl_mm * rng.choice([1.0, 1.0, -1.0])
    radius = (half**2 + bow**2) / (2 * bow) if bow else np.inf

    def seen(points_mm: np.ndarray) -> np.ndarray:
        flat = np.asarray(points_mm, float).reshape(-1, 2) - centre
        lifted = np.zeros(len(flat))
        if np.isfinite(radius):
            # Paper does not stretch: a distance along it becomes an arc.
            arc = np.clip(flat[:, along] / radius, -1.5, 1.5)
            flat[:, along], lifted = radius * np.sin(arc), radius * (1 - np.cos(arc))
        space = np.column_stack([flat, -lifted]) @ rotation.T
        return space[:, :2] / (1 + space[:, 2:] / distance)

    rim = np.array([[u * size_mm[0], v * size_mm[1]] for u in np.linspace(0, 1, 9) for v in np.linspace(0, 1, 9)])
    outline = seen(rim)
    low, high = outline.min(axis=0), outline.max(axis=0)
    frame = np.array(size_px, float)
    zoom = float((frame / (high - low)).min() * rng.uniform(0.86, 0.97))
    offset = (frame - (high - low) * zoom) * rng.uniform(0.3, 0.7, 2) - low * zoom

    def to_px(points_mm: np.ndarray) -> np.ndarray:
        return seen(points_mm) * zoom + offset - 0.5

    return to_px


def shadow_edge(pixels: np.ndarray, rng: np.random.Generator, strength: float) -> np.ndarray:
    """The hard shadow of a phone, an arm or a cab's pillar across a picture, lamp glare at the other end."""
    h, w = pixels.shape
    rows, columns = np.mgrid[0 : h // 4, 0 : w // 4].astype(np.float32)
    x, y = columns / (w // 4) - 0.5, rows / (h // 4) - 0.5
    angle = rng.uniform(0, 2 * np.pi)
    across = np.cos(angle) * x + np.sin(angle) * y - rng.uniform(-0.25, 0.25)
    wave = 0.03 * np.sin(rng.uniform(3, 9) * (np.sin(angle) * x - np.cos(angle) * y))
    shadow = 1 / (1 + np.exp(-np.clip((across + wave) / rng.uniform(0.002, 0.02), -30, 30)))
    glare = 1 + 0.35 * strength * np.exp(-(((x - rng.uniform(-0.4, 0.4)) ** 2 + (y + 0.3) ** 2) / 0.05))
    light = glare * (1 - (0.25 + 0.5 * strength) * shadow)
    return np.clip(pixels * cv2.resize(light.astype(np.float32), (w, h)), 0, 255).astype(np.uint8)


def fed_unevenly(
    page: np.ndarray, dpi: float, rng: np.random.Generator, stretch: float, skew_deg: float, out_dpi: float = 200.0
) -> Shot:
    """``page`` through a feeder that slips: its speed off by up to ``stretch`` in slow waves, put in crooked."""
    size_mm = (page.shape[1] * 25.4 / dpi, page.shape[0] * 25.4 / dpi)
    reach = np.abs(np.sin(np.radians(skew_deg)))
    room = (size_mm[0] + reach * size_mm[1], size_mm[1] + reach * size_mm[0])
    size_px = (round(room[0] * out_dpi / 25.4), round(room[1] * out_dpi / 25.4))
    to_px = feeder_map(size_mm, (out_dpi, out_dpi), size_px, skew_deg, stretch, (0.0, 0.0), rng)
    soft = cv2.GaussianBlur(page, (0, 0), max(0.3, 0.45 * dpi / out_dpi))
    grey = warped(soft, dpi, to_px, size_px, float(rng.choice([250.0, 30.0])))
    return Shot(cv2.add(grey, grain(grey.shape, 2.5, rng), dtype=cv2.CV_8U), (to_px,))


def on_copy(page: np.ndarray, dpi: float, scale: float, ground: int = 252) -> tuple[np.ndarray, PointMap]:
    """A copy of ``page`` reduced or enlarged onto paper of the same size: the paper, and page mm to mm on the copy."""
    h, w = page.shape
    middle = np.array([w, h]) / 2
    matrix = np.array([[scale, 0, middle[0] * (1 - scale)], [0, scale, middle[1] * (1 - scale)]])
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    copy = cv2.warpAffine(page, matrix, (w, h), flags=how, borderValue=(ground,))
    middle_mm = middle * 25.4 / dpi
    return copy, lambda points_mm: (np.asarray(points_mm, float).reshape(-1, 2) - middle_mm) * scale + middle_mm


def laid_out(
    pages: Sequence[np.ndarray],
    places_mm: Sequence[tuple[float, float, float]],
    size_mm: tuple[float, float],
    dpi: float,
    ground: int,
) -> tuple[np.ndarray, np.ndarray, list[PointMap]]:
    """Sheets laid on a table or a glass, the later ones on top.

    ``places_mm``: per sheet where its middle lies, and how far it is turned, in degrees. Gives the picture as seen
    from straight above, uint8 at ``dpi``; where paper lies, 255 and 0; and per sheet its own mm to mm on the table.
    """
    size = (round(size_mm[0] * dpi / 25.4), round(size_mm[1] * dpi / 25.4))
    table, paper = np.full(size[::-1], ground, np.uint8), np.zeros(size[::-1], np.uint8)
    maps: list[PointMap] = []
    for page, (x, y, turn) in zip(pages, places_mm, strict=True):
        h, w = page.shape
        matrix = cv2.getRotationMatrix2D(((w - 1) / 2, (h - 1) / 2), -turn, 1.0)
        matrix = matrix + np.array([[0, 0, x * dpi / 25.4 - w / 2], [0, 0, y * dpi / 25.4 - h / 2]])
        here = cv2.warpAffine(np.full_like(page, 255), matrix, size)
        laid = cv2.warpAffine(page, matrix, size, borderValue=(255,))
        share = here.astype(np.float32) / 255
        table = (table * (1 - share) + laid * share).astype(np.uint8)
        paper = np.maximum(paper, here)
        maps.append(_laid(np.array([w, h]) * 25.4 / dpi / 2, np.array([x, y]), np.radians(turn)))
    return table, paper, maps


def _laid(middle_mm: np.ndarray, at_mm: np.ndarray, angle: float) -> PointMap:
    rotation = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return lambda points_mm: (np.asarray(points_mm, float).reshape(-1, 2) - middle_mm) @ rotation.T + at_mm
