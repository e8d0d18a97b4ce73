"""Ink of one character on a fine grid: from strokes, typefaces or real digits; float32, 0 to 1, at 16 px/mm."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanform.simulate.pens import blank_page, draw
from scanform.simulate.strokes import extent
from scanform.simulate.writer import Writer, character
from scanform.training.strokes import Strokes

__all__ = ["FINE_PX_PER_MM", "digit_ink", "face_ink", "hand_ink", "stroke_ink"]

FINE_PX_PER_MM = 16.0
_SHIFT = 4  # fractional bits of OpenCV's drawing
_FACE_PX = 160


def stroke_ink(
    strokes: Strokes, width_mm: float, height_mm: float, pen_mm: float, rng: np.random.Generator
) -> np.ndarray:
    """Strokes drawn with a pen of ``pen_mm``, the box scaled to ``width_mm`` x ``height_mm``, slightly deformed.

    The picture is as large as the ink needs; its middle is the middle of the box.
    """
    slant, turn = rng.normal(0, 0.12), rng.normal(0, 0.06)
    amplitude = rng.uniform(0, 0.05) * height_mm
    phase, wave = rng.uniform(0, 2 * np.pi, 2), rng.uniform(0.6, 1.6, 2)
    size = np.array([width_mm, height_mm])
    half_mm = float(np.hypot(width_mm, height_mm)) * 0.75 + pen_mm + 0.5
    side = 2 * int(half_mm * FINE_PX_PER_MM)
    canvas = np.zeros((side, side), np.uint8)
    gaps = rng.random() < 0.12
    for stroke in strokes:
        dense = _densified((stroke - 0.5) * size)
        x, y = dense[:, 0], dense[:, 1]
        x = x - slant * y + amplitude * np.sin(phase[0] + wave[0] * 2 * np.pi * y / height_mm / 2)
        y = y + amplitude * np.sin(phase[1] + wave[1] * 2 * np.pi * x / height_mm / 2)
        points = np.column_stack([x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)])
        fixed = np.rint((points * FINE_PX_PER_MM + side / 2) * (1 << _SHIFT)).astype(np.int32)
        pen = max(round(pen_mm * FINE_PX_PER_MM), 2)
        if rng.random() < 0.3 and len(fixed) > 6:
            # Pressure: the pen's width drifts along the stroke.
            for piece in np.array_split(np.arange(len(fixed)), 4):
                run = fixed[piece[0] : min(piece[-1] + 2, len(fixed))]
                wide = max(round(pen * rng.uniform(0.75, 1.25)), 2)
                cv2.polylines(canvas, [run.reshape(-1, 1, 2)], False, 255, wide, cv2.LINE_AA, _SHIFT)
        elif gaps and len(fixed) > 8:
            at = int(rng.integers(2, len(fixed) - 4))
            for run in (fixed[:at], fixed[at + int(rng.integers(1, 3)) :]):
                if len(run) > 1:
                    cv2.polylines(canvas, [run.reshape(-1, 1, 2)], False, 255, pen, cv2.LINE_AA, _SHIFT)
        else:
            cv2.polylines(canvas, [fixed.reshape(-1, 1, 2)], False, 255, pen, cv2.LINE_AA, _SHIFT)
    return canvas.astype(np.float32) / 255


def hand_ink(sign: str, writer: Writer, height_mm: float, rng: np.random.Generator) -> np.ndarray | None:
    """A character as one of :mod:`scanform.simulate`'s writers makes it, with that writer's pen; None if it has none.

    Its middle is the picture's. The pen's own grey is left to the scan: solid ink is 1.
    """
    found = character(sign, writer.comb_face, writer, rng)
    if found is None:
        return None
    strokes = [points * height_mm for points in found[0]]
    left, top, right, bottom = extent(strokes)
    pad = 2 * writer.pen.width_mm + 0.5
    wide, high = right - left + 2 * pad, bottom - top + 2 * pad
    dpi = FINE_PX_PER_MM * 25.4
    page = blank_page(wide, high, dpi)
    draw(page, [points + (pad - left, pad - top) for points in strokes], replace(writer.pen, grey=0.0), rng, dpi)
    return 1 - page.astype(np.float32) / 255


def _densified(points: np.ndarray, step_mm: float = 0.3) -> np.ndarray:
    """Points added along straight runs, so that a deformation can bend them."""
    pieces = []
    for a, b in pairwise(points):
        count = max(int(np.hypot(*(b - a)) / step_mm), 1)
        pieces.append(a + (b - a) * np.linspace(0, 1, count, endpoint=False)[:, None])
    return np.concatenate([*pieces, points[-1:]])


@lru_cache(maxsize=4096)
def _face_mask(path: Path, character: str) -> np.ndarray:
    font = ImageFont.truetype(str(path), _FACE_PX)
    left, top, right, bottom = font.getbbox(character)
    image = Image.new("L", (int(right - left) + 8, int(bottom - top) + 8), 0)
    ImageDraw.Draw(image).text((4 - left, 4 - top), character, font=font, fill=255)
    mask = np.asarray(image)
    x, y, w, h = cv2.boundingRect(mask)
    return np.ascontiguousarray(mask[y : y + h, x : x + w])


def face_ink(
    path: Path, character: str, height_mm: float, stretch: float, rng: np.random.Generator, *, by_hand: bool
) -> np.ndarray:
    """A typeface's character ``height_mm`` high, its width times ``stretch``; deformed if it stands for a hand."""
    mask = _face_mask(path, character)
    high = max(round(height_mm * FINE_PX_PER_MM), 8)
    wide = max(round(high * mask.shape[1] / mask.shape[0] * stretch), 2)
    ink: np.ndarray = cv2.resize(mask, (wide, high), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    pad = round(0.25 * high) + 8
    ink = cv2.copyMakeBorder(ink, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0)
    if not by_hand:
        return ink
    ink = _weight_changed(ink, rng)
    return _deformed(ink, rng)


def digit_ink(image: np.ndarray, height_mm: float, stretch: float, rng: np.random.Generator) -> np.ndarray:
    """A real digit, uint8 (28, 28), its ink box made ``height_mm`` high (its longer side, if it is wide)."""
    x, y, w, h = cv2.boundingRect(image)
    crop = cv2.copyMakeBorder(image[y : y + h, x : x + w], 2, 2, 2, 2, cv2.BORDER_CONSTANT, value=0)
    scale = height_mm * FINE_PX_PER_MM / max(w, h)
    size = (max(round((w + 4) * scale * stretch), 4), max(round((h + 4) * scale), 4))
    grey: np.ndarray = cv2.resize(crop, size, interpolation=cv2.INTER_CUBIC).astype(np.float32) / 255
    grey = cv2.GaussianBlur(grey, (0, 0), 0.5 * scale)
    # The digits were scanned at 20 px; an edge as sharp as a pen's comes back with a steep ramp around the level.
    level = rng.uniform(0.3, 0.55)
    ink = np.clip((grey - level) * max(0.35 * scale, 0.55 / level) + 0.5, 0, 1)
    pad = 8
    return cv2.copyMakeBorder(ink.astype(np.float32), pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0)


def _weight_changed(ink: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Thicker or thinner by up to 0.3 mm, never so thin that strokes vanish."""
    change = round(rng.normal(0, 0.13) * FINE_PX_PER_MM)
    if change == 0:
        return ink
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (abs(change) + 1,) * 2)
    if change > 0:
        return cv2.dilate(ink, kernel)
    thinner = cv2.erode(ink, kernel)
    return thinner if thinner.sum() > 0.45 * ink.sum() else ink


def _deformed(ink: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Slant, turn and a smooth random bend."""
    h, w = ink.shape
    slant, turn = rng.normal(0, 0.1), rng.normal(0, 0.06)
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    x, y = xx - w / 2, yy - h / 2
    coarse = rng.normal(0, rng.uniform(0, 0.03) * h, (2, 4, 4)).astype(np.float32)
    bend = [cv2.resize(c, (w, h), interpolation=cv2.INTER_CUBIC) for c in coarse]
    source_x = np.cos(turn) * x + np.sin(turn) * y + slant * y + bend[0] + w / 2
    source_y = -np.sin(turn) * x + np.cos(turn) * y + bend[1] + h / 2
    return cv2.remap(ink, source_x.astype(np.float32), source_y.astype(np.float32), cv2.INTER_LINEAR)
