"""Plain marks, strikes and dirt in and about a tick box: straight lines of one width, areas, glyphs of typefaces.

They stand beside the simulator's own pen (:mod:`scanform.simulate.ticks`) so that the network learns what a mark is
and not how one simulator draws it. All shapes are given on the unit box: (0, 0) its top left corner, (1, 1) its bottom
right one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanform.form import Box
from scanform.simulate.pens import DPI, lay_ink
from scanform.simulate.strokes import curve

__all__ = ["FACES", "PLAIN_DIRT", "PLAIN_MARKS", "PLAIN_STRIKES", "draw_plain"]

_FINE = 4  # fine pixels a page pixel, so that widths go in steps of 0.02 mm
_REACH = 1.3  # how far round the box, in boxes, a shape may reach
_WIDTH_MM = (0.2, 1.2)
_GREY = (0.0, 140.0)
_DEJAVU = Path("/usr/share/fonts/truetype/dejavu")


def _faces() -> dict[str, tuple[tuple[Path, str], ...]]:
    """Typefaces and the signs taken from them, by part; the test's face is in no other part."""
    vera = Path(str(find_spec("reportlab").origin)).parent / "fonts"  # type: ignore[union-attr]
    found = [(vera / name, "XxVv") for name in ("Vera.ttf", "VeraBd.ttf", "VeraIt.ttf")]
    found += [
        (_DEJAVU / f"DejaVuSans{style}.ttf", "✓✔✗✘✕✖√") for style in ("", "-Bold", "-Oblique", "Mono", "Condensed-Bold")
    ]
    drawing = find_spec("matplotlib")
    stix = Path(str(drawing.origin)).parent / "mpl-data/fonts/ttf/STIXGeneral.ttf" if drawing else vera / "Vera.ttf"
    return {"training": tuple(found), "test": ((stix, "✓√Xv"),)}


FACES = _faces()


class _Sheet:
    """A fine mask about the box, drawn on in unit-box coordinates."""

    def __init__(self, box: Box, dpi: float, rng: np.random.Generator) -> None:
        self.rng = rng
        self.width_mm = float(np.exp(rng.uniform(*np.log(_WIDTH_MM))))
        self.grey = float(rng.uniform(*_GREY))
        self.part = "training"
        self._box_mm = box.w_mm
        self.unit = box.w_mm * dpi / 25.4 * _FINE
        side = int(np.ceil(self.unit * (1 + 2 * _REACH) / _FINE)) * _FINE
        self.mask = np.zeros((side, side), np.uint8)
        self.x0, self.y0 = (round((v - _REACH * box.w_mm) * dpi / 25.4) for v in (box.x_mm, box.y_mm))
        self._offset = (
            np.array([box.x_mm, box.y_mm]) * dpi / 25.4 - np.array([self.x0, self.y0])
        ) * _FINE  # where the box begins on the mask

    def place(self, points: np.ndarray) -> np.ndarray:
        return np.round((np.asarray(points, float) * self.unit + self._offset) * 16).astype(np.int32)

    def line(self, points: list[tuple[float, float]] | np.ndarray, loose: float = 0.06, width: float = 1.0) -> None:
        where = np.asarray(points, float)
        where = where + self.rng.normal(0, loose, where.shape) if loose else where
        thick = max(1, round(self.width_mm * width / self._box_mm * self.unit))
        cv2.polylines(self.mask, [self.place(where)], False, 255, thick, cv2.LINE_AA, 4)

    def area(self, points: np.ndarray) -> None:
        cv2.fillPoly(self.mask, [self.place(points)], 255, cv2.LINE_AA, 4)


def _moved(points: list[tuple[float, float]], rng: np.random.Generator) -> np.ndarray:
    """The same shape larger or smaller, leaning, elsewhere, now and then by the left hand."""
    size = rng.uniform(0.5, 1.35) * np.exp(rng.normal(0, 0.12, 2))
    turn = rng.normal(0, 0.18)
    c, s = np.cos(turn), np.sin(turn)
    centred = (np.array(points, float) - 0.5) * size
    if rng.random() < 0.1:
        centred[:, 0] *= -1
    return centred @ np.array([[c, s], [-s, c]]) + 0.5 + rng.normal(0, 0.09, 2)


def _oval(rng: np.random.Generator, axes: np.ndarray, middle: np.ndarray, share: float = 1.0) -> np.ndarray:
    start = rng.uniform(0, 2 * np.pi)
    turns = start + np.linspace(0, 2 * np.pi * share, 40)
    return middle + np.column_stack([axes[0] * np.cos(turns), axes[1] * np.sin(turns)])


def _tick(s: _Sheet) -> None:
    s.line(_moved([(0.1, s.rng.uniform(0.4, 0.7)), (s.rng.uniform(0.25, 0.45), 0.9), (0.95, 0.08)], s.rng))


def _wide_tick(s: _Sheet) -> None:
    start, tip = s.rng.uniform(-0.6, -0.05), s.rng.uniform(1.05, 2.0)
    s.line([(start, 0.3), (0.35, s.rng.uniform(0.75, 1.1)), (tip, s.rng.uniform(-0.7, 0.3))])


def _double_tick(s: _Sheet) -> None:
    for shift in (0.0, s.rng.uniform(0.15, 0.35)):
        s.line([(0.02 + shift, 0.55), (0.2 + shift, 0.85), (0.62 + shift, 0.12)], 0.03)


def _cross(s: _Sheet) -> None:
    size = s.rng.uniform(0.55, 1.35)
    low, high = 0.5 - size / 2, 0.5 + size / 2
    s.line([(low, low), (high, high)])
    s.line([(high, low), (low, high)])


def _plus(s: _Sheet) -> None:
    s.line(_moved([(0.5, 0.05), (0.5, 0.95)], s.rng))
    s.line(_moved([(0.05, 0.5), (0.95, 0.5)], s.rng))


def _star(s: _Sheet) -> None:
    _cross(s)
    s.line([(0.5, 0.0), (0.5, 1.0)] if s.rng.random() < 0.5 else [(0.0, 0.5), (1.0, 0.5)])


def _slash(s: _Sheet) -> None:
    turn, half = s.rng.uniform(0, np.pi), s.rng.uniform(0.3, 0.75)
    step = half * np.array([np.cos(turn), np.sin(turn)])
    middle = 0.5 + s.rng.normal(0, 0.08, 2)
    s.line(np.array([middle - step, middle + step]))


def _down_line(s: _Sheet) -> None:
    """A line drawn on through several boxes of a column."""
    x = s.rng.uniform(0.2, 0.8)
    far = 0.75  # to the next box on the tightest sheet, and no further
    ends = [(-far, 1 + far), (s.rng.uniform(0, 0.4), 1 + far), (-far, s.rng.uniform(0.6, 1))]
    top, bottom = ends[s.rng.integers(3)]
    s.line([(x, top), (x + s.rng.normal(0, 0.08), 0.5), (x + s.rng.normal(0, 0.12), bottom)])


def _hatch(s: _Sheet) -> None:
    turn, count = s.rng.uniform(0, np.pi), int(s.rng.integers(3, 8))
    along = 0.45 * np.array([np.cos(turn), np.sin(turn)])
    across = np.array([-along[1], along[0]])
    for at in np.linspace(-0.8, 0.8, count):
        reach = np.sqrt(1 - at * at)
        s.line(np.array([0.5 + across * at - along * reach, 0.5 + across * at + along * reach]), 0.03, 0.8)


def _block(s: _Sheet) -> None:
    w, h = np.sqrt(s.rng.uniform(0.4, 1.1)) * np.exp(s.rng.normal(0, 0.1, 2))
    middle = 0.5 + s.rng.normal(0, 0.04, 2)
    corners = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2 + middle
    s.area(corners + s.rng.normal(0, 0.04, (4, 2)))


def _half(s: _Sheet) -> None:
    corners = np.array([[0.05, 0.05], [0.95, 0.05], [0.95, 0.95], [0.05, 0.95]])
    s.area(np.delete(corners, s.rng.integers(4), axis=0) + s.rng.normal(0, 0.05, (3, 2)))


def _disc(s: _Sheet) -> None:
    # From 1 mm across, twice the largest speck, to the whole box.
    s.area(_oval(s.rng, s.rng.uniform(0.1, 0.52) * np.exp(s.rng.normal(0, 0.1, 2)), 0.5 + s.rng.normal(0, 0.07, 2)))


def _squiggle(s: _Sheet) -> None:
    s.line(curve(s.rng.uniform(0.05, 0.95, (int(s.rng.integers(4, 8)), 2))), 0.0, 0.7)


def _ring(s: _Sheet) -> None:
    axes = s.rng.uniform(0.62, 0.95) * np.exp(s.rng.normal(0, 0.06, 2))
    s.line(_oval(s.rng, axes, 0.5 + s.rng.normal(0, 0.06, 2), s.rng.uniform(0.85, 1.1)), 0.008, 0.8)


def _small_ring(s: _Sheet) -> None:
    axes = s.rng.uniform(0.2, 0.42) * np.exp(s.rng.normal(0, 0.1, 2))
    s.line(_oval(s.rng, axes, 0.5 + s.rng.normal(0, 0.06, 2), s.rng.uniform(0.8, 1.1)), 0.008, 0.8)


@lru_cache(maxsize=256)
def _glyph_mask(face: Path, sign: str) -> np.ndarray:
    font = ImageFont.truetype(str(face), 220)
    left, top, right, bottom = font.getbbox(sign)
    image = Image.new("L", (int(right - left), int(bottom - top)))
    ImageDraw.Draw(image).text((-left, -top), sign, 255, font)
    return np.asarray(image)


def _glyph(s: _Sheet) -> None:
    faces = FACES[s.part]
    face, signs = faces[s.rng.integers(len(faces))]
    mask = _glyph_mask(face, str(s.rng.choice(list(signs))))
    high = s.rng.uniform(0.55, 1.3) * s.unit
    wide = high * mask.shape[1] / mask.shape[0] * s.rng.uniform(0.8, 1.3)
    at = s.place(0.5 + s.rng.normal(0, 0.08, 2)) / 16
    corners = np.array([[0, 0], [mask.shape[1], 0], [0, mask.shape[0]]], np.float32)
    turn = s.rng.normal(0, 0.15)
    c, t = np.cos(turn), np.sin(turn)
    where = np.array([[-wide, -high], [wide, -high], [-wide, high]]) / 2 @ np.array([[c, t], [-t, c]]) + at
    warp = cv2.getAffineTransform(corners, where.astype(np.float32))
    drawn = cv2.warpAffine(mask, warp, (s.mask.shape[1], s.mask.shape[0]), flags=cv2.INTER_LINEAR)
    np.maximum(s.mask, drawn, out=s.mask)


def _strike_lines(s: _Sheet) -> None:
    turn = s.rng.normal(0, 0.25) if s.rng.random() < 0.7 else s.rng.uniform(0, np.pi)
    along = np.array([np.cos(turn), np.sin(turn)])
    across = np.array([-along[1], along[0]])
    for at in np.linspace(-0.3, 0.3, int(s.rng.integers(2, 6))):
        half = s.rng.uniform(0.75, 1.1)
        s.line(np.array([0.5 + across * at - along * half, 0.5 + across * at + along * half]))


def _strike_line(s: _Sheet) -> None:
    y, lean = s.rng.uniform(0.3, 0.7), s.rng.normal(0, 0.12)
    s.line([(s.rng.uniform(-0.8, -0.25), y - lean), (s.rng.uniform(1.25, 1.8), y + lean)], 0.03)


def _strike_cross(s: _Sheet) -> None:
    over = s.rng.uniform(0.25, 0.6)
    s.line([(-over, -over), (1 + over, 1 + over)])
    s.line([(1 + over, -over), (-over, 1 + over)])


def _strike_zigzag(s: _Sheet) -> None:
    count = int(s.rng.integers(7, 18))
    along = np.linspace(-0.2, 1.2, count)
    across = np.where(np.arange(count) % 2 == 0, s.rng.uniform(-0.3, 0.0), s.rng.uniform(1.0, 1.3))
    path = np.column_stack([along, across]) + s.rng.normal(0, 0.07, (count, 2))
    path = path[:, ::-1] if s.rng.random() < 0.5 else path
    s.line(curve(path) if s.rng.random() < 0.5 else path, 0.0)


def _strike_coil(s: _Sheet) -> None:
    turns = np.linspace(0, 2 * np.pi * s.rng.uniform(4, 8), 160)
    middle = np.column_stack([np.linspace(0.0, 1.0, 160), 0.5 + s.rng.normal(0, 0.05) * turns / 20])
    size = s.rng.uniform(0.3, 0.6, 2) * [0.6, 1.0]
    s.line(middle + np.column_stack([size[0] * np.cos(turns), size[1] * np.sin(turns)]), 0.015, 0.7)


def _strike_block(s: _Sheet) -> None:
    over = s.rng.uniform(0.08, 0.35)
    corners = np.array([[-over, -over], [1 + over, -over], [1 + over, 1 + over], [-over, 1 + over]])
    s.area(corners + s.rng.normal(0, 0.07, (4, 2)))


def _specks(s: _Sheet) -> None:
    for _ in range(int(s.rng.integers(1, 4))):
        across = s.rng.uniform(0.1, 0.5) / 5.0
        s.area(_oval(s.rng, across / 2 * np.exp(s.rng.normal(0, 0.2, 2)), s.rng.uniform(-0.1, 1.1, 2)))


def _hair(s: _Sheet) -> None:
    s.width_mm, s.grey = float(s.rng.uniform(0.06, 0.15)), float(s.rng.uniform(60, 180))
    path = s.rng.uniform(-0.2, 1.2, 2) + np.cumsum(s.rng.normal(0, 0.1, (6, 2)) + s.rng.normal(0, 0.08, 2), axis=0)
    s.line(curve(path), 0.0)


def _tail(s: _Sheet) -> None:
    """The end of a mark that belongs to another box: from well outside to at most a quarter inside."""
    edge = s.rng.integers(4)
    deep = s.rng.uniform(-0.2, 0.26)
    along, lean = s.rng.uniform(-0.1, 1.1), s.rng.normal(0, 0.35)
    path = np.array([[-_REACH, along + lean * (1 + _REACH)], [deep, along]])
    turns = np.array([[[1, 0], [0, 1]], [[0, 1], [1, 0]], [[-1, 0], [0, 1]], [[0, 1], [-1, 0]]][edge])
    s.line((path - 0.5) @ turns.T + 0.5, 0.0)


def _beside(s: _Sheet) -> None:
    """Ink in the margin that leaves the box alone: a rule drawn under the line, the end of a word."""
    low, high = -0.3, -0.12
    path = np.column_stack([np.linspace(-0.3, 1.3, 4), s.rng.uniform(low, high, 4)])
    path = path[: int(s.rng.integers(2, 5))] + [s.rng.uniform(0, 0.4), 0]
    flip = s.rng.integers(4)
    path = path if flip % 2 == 0 else path[:, ::-1]
    s.line(path if flip < 2 else 1 - path, 0.0, 0.6)


_Shapes = dict[str, tuple[float, Callable[[_Sheet], None]]]
# Kind: (share among its like, how it is drawn). No outside source: all are there to be told apart.
PLAIN_MARKS: _Shapes = {
    "plain tick": (0.2, _tick),
    "plain wide tick": (0.08, _wide_tick),
    "plain double tick": (0.04, _double_tick),
    "plain cross": (0.12, _cross),
    "plain plus": (0.04, _plus),
    "plain star": (0.03, _star),
    "plain slash": (0.08, _slash),
    "plain line down": (0.04, _down_line),
    "plain hatch": (0.05, _hatch),
    "plain block": (0.07, _block),
    "plain half": (0.03, _half),
    "plain disc": (0.07, _disc),
    "plain squiggle": (0.04, _squiggle),
    "plain ring": (0.04, _ring),
    "plain small ring": (0.03, _small_ring),
    "glyph": (0.1, _glyph),
}
PLAIN_STRIKES: _Shapes = {
    "plain lines through": (0.3, _strike_lines),
    "plain line through": (0.1, _strike_line),
    "plain crossed out": (0.15, _strike_cross),
    "plain zigzag over": (0.2, _strike_zigzag),
    "plain coil over": (0.15, _strike_coil),
    "plain blacked out": (0.1, _strike_block),
}
PLAIN_DIRT: _Shapes = {
    "plain speck": (0.25, _specks),
    "hair": (0.2, _hair),
    "tail": (0.35, _tail),
    "beside": (0.2, _beside),
}
_ALL = PLAIN_MARKS | PLAIN_STRIKES | PLAIN_DIRT


def draw_plain(
    page: np.ndarray, box: Box, kind: str, rng: np.random.Generator, part: str = "training", dpi: float = DPI
) -> None:
    """Draw one shape of ``kind`` at ``box`` on ``page`` (uint8, in place); glyphs from the faces of ``part``.

    KeyError for an unknown kind.
    """
    sheet = _Sheet(box, dpi, rng)
    sheet.part = part if part in FACES else "training"
    _ALL[kind][1](sheet)
    small = cv2.resize(sheet.mask, None, fx=1 / _FINE, fy=1 / _FINE, interpolation=cv2.INTER_AREA)
    lay_ink(page, small.astype(np.float32) / np.float32(255), sheet.grey, sheet.x0, sheet.y0)
