"""Plain signs: straight strokes of one width and letters of typefaces, sharing no code with the simulator's hand.

They stand beside :mod:`scanform.simulate.signs` so that the network learns what a sign is and not how one simulator
draws it. All shapes are given on the unit box: (0, 0) its top left corner, (1, 1) its bottom right one.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanform.form import Box
from scanform.simulate.pens import DPI, lay_ink

__all__ = ["plain_sign"]

_FINE = 4
_REACH = 0.6  # how far round the box, in boxes, a shape may reach
_WORDS = {"letters": ("N/A", "NA", "n/a", "N.A."), "word": ("OK", "ok", "LH", "R", "S", "LOW"), "digit": "0123456789"}


def plain_sign(page: np.ndarray, box: Box, sign: str, rng: np.random.Generator, dpi: float = DPI) -> str:
    """Draw a tick, cross, dash, letters, slash, plus, equals, word or digit in ``box`` on ``page`` (uint8, in place).

    Gives the name of what was drawn. KeyError for an unknown sign.
    """
    scale = dpi / 25.4 * _FINE
    unit = box.w_mm * scale
    side = int(np.ceil(unit * (1 + 2 * _REACH) / _FINE)) * _FINE
    mask = np.zeros((side, side), np.uint8)
    x0, y0 = (round((v - _REACH * box.w_mm) * dpi / 25.4) for v in (box.x_mm, box.y_mm))
    offset = np.array([box.x_mm, box.y_mm]) * scale - np.array([x0, y0]) * _FINE
    if sign in _WORDS:
        _print(mask, str(rng.choice(list(_WORDS[sign]))), unit, offset, rng)
    else:
        width = max(1, round(float(np.exp(rng.uniform(*np.log((0.2, 1.0))))) * scale))
        for stroke in _varied(_strokes(sign, rng), rng):
            points = np.round((stroke * unit + offset) * 16).astype(np.int32)
            cv2.polylines(mask, [points], False, 255, width, cv2.LINE_AA, 4)
    small = cv2.resize(mask, None, fx=1 / _FINE, fy=1 / _FINE, interpolation=cv2.INTER_AREA)
    lay_ink(page, small.astype(np.float32) / np.float32(255), float(rng.uniform(0, 140)), x0, y0)
    return f"plain {sign}"


def _strokes(sign: str, rng: np.random.Generator) -> list[np.ndarray]:
    if sign == "tick":
        foot = (rng.uniform(0.22, 0.5), 0.92)
        start = (rng.uniform(-0.1, 0.15), rng.uniform(0.35, 0.75))
        tip = (rng.uniform(0.8, 1.3), rng.uniform(-0.25, 0.2))
        return [np.array([start, foot, tip])]
    if sign == "cross":
        return [np.array([(0.1, 0.1), (0.9, 0.9)]), np.array([(0.9, 0.1), (0.1, 0.9)])]
    if sign == "dash":
        half, lean = rng.uniform(0.22, 0.55), rng.normal(0, 0.05)
        return [np.array([(0.5 - half, 0.5 + lean), (0.5 + half, 0.5 - lean)])]
    if sign == "slash":
        angle, half = np.radians(rng.uniform(40, 140)), rng.uniform(0.3, 0.6)
        step = half * np.array([np.cos(angle), -np.sin(angle)])
        return [np.array([0.5 - step, 0.5 + step])]
    if sign == "plus":
        return [np.array([(0.5, 0.05), (0.5, 0.95)]), np.array([(0.05, 0.5), (0.95, 0.5)])]
    if sign == "equals":
        apart = rng.uniform(0.22, 0.5)
        return [np.array([(0.1, y), (0.9, y)]) for y in (0.5 - apart / 2, 0.5 + apart / 2)]
    raise KeyError(sign)


def _varied(strokes: list[np.ndarray], rng: np.random.Generator) -> list[np.ndarray]:
    size = rng.uniform(0.6, 1.2) * np.exp(rng.normal(0, 0.1, 2))
    turn = rng.normal(0, 0.09)
    c, s = np.cos(turn), np.sin(turn)
    matrix = np.array([[c, s], [-s, c]]) * size
    place = 0.5 + rng.normal(0, 0.07, 2)
    return [(stroke + rng.normal(0, 0.03, stroke.shape) - 0.5) @ matrix + place for stroke in strokes]


@lru_cache(maxsize=1)
def _faces() -> tuple[Path, ...]:
    vera = Path(str(find_spec("reportlab").origin)).parent / "fonts"  # type: ignore[union-attr]
    dejavu = Path("/usr/share/fonts/truetype/dejavu")
    found = [vera / name for name in ("Vera.ttf", "VeraBd.ttf", "VeraIt.ttf")]
    return (*found, *sorted(dejavu.glob("DejaVuSans*.ttf")))


@lru_cache(maxsize=512)
def _word(face: Path, text: str) -> np.ndarray:
    font = ImageFont.truetype(str(face), 160)
    left, top, right, bottom = font.getbbox(text)
    image = Image.new("L", (int(right - left), int(bottom - top)))
    ImageDraw.Draw(image).text((-left, -top), text, 255, font)
    return np.asarray(image)


def _print(mask: np.ndarray, text: str, unit: float, offset: np.ndarray, rng: np.random.Generator) -> None:
    """A word of a typeface, leaning and squeezed, over about the whole box."""
    faces = _faces()
    glyphs = _word(faces[int(rng.integers(len(faces)))], text)
    height, width = glyphs.shape
    size = min(rng.uniform(0.7, 1.05) * unit / width, rng.uniform(0.7, 1.05) * unit / height)
    wide, high = size * width, min(size * height * rng.uniform(1.0, 1.6), 1.0 * unit)
    turn, lean = rng.normal(0, 0.08), rng.normal(0.1, 0.15)
    c, s = np.cos(turn), np.sin(turn)
    where = np.array([[-wide, -high], [wide, -high], [-wide, high]]) / 2
    where[:, 0] -= lean * where[:, 1]
    where = where @ np.array([[c, s], [-s, c]]) + (0.5 + rng.normal(0, 0.05, 2)) * unit + offset
    corners = np.array([[0, 0], [width, 0], [0, height]], np.float32)
    warp = cv2.getAffineTransform(corners, where.astype(np.float32))
    drawn = cv2.warpAffine(glyphs, warp, (mask.shape[1], mask.shape[0]), flags=cv2.INTER_AREA)
    np.maximum(mask, drawn, out=mask)
