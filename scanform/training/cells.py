"""A printed cell with ink in it, scanned: the patch that the reading room would sample, uint8 at 8 px/mm.

The scan grades are those of DESIGN.md ("Simulated paper"), cut down to one cell.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from scanform.read.glyphs import PX_PER_MM
from scanform.training.ink import FINE_PX_PER_MM

__all__ = ["GRADES", "MARGIN_MM", "CellPrint", "random_print", "scanned_cell"]

MARGIN_MM = 1.0
_PAD_MM = 1.0  # paper drawn beyond the patch, so that a turned scan has something to show

GRADES = ("office", "bitonal", "worn", "phone", "fax")
_DPI = {"office": (300, 300), "bitonal": (200, 300), "worn": (200, 200), "phone": (150, 220), "fax": (204, 204)}


@dataclass(frozen=True)
class CellPrint:
    """How a comb's cells are printed: size, rule width and gap in mm, ``darkness`` 0 to 1 of the rules."""

    w_mm: float = 6.0
    h_mm: float = 8.0
    rule_mm: float = 0.3
    gap_mm: float = 0.0
    darkness: float = 0.6


def random_print(rng: np.random.Generator) -> CellPrint:
    """A comb as some template may print it."""
    return CellPrint(
        w_mm=float(rng.choice([6.0, rng.uniform(4.5, 7.5)])),
        h_mm=float(rng.choice([8.0, rng.uniform(6.0, 9.0)])),
        rule_mm=float(rng.uniform(0.2, 0.42)),
        gap_mm=0.0 if rng.random() < 0.6 else float(rng.uniform(0.4, 1.5)),
        darkness=float(rng.uniform(0.35, 1.0)),
    )


def _paste(canvas: np.ndarray, ink: np.ndarray, x_mm: float, y_mm: float) -> None:
    """Lays ``ink`` over ``canvas`` with its middle at (x, y) mm, cut off at the canvas' edge."""
    h, w = ink.shape
    left, top = round(x_mm * FINE_PX_PER_MM - w / 2), round(y_mm * FINE_PX_PER_MM - h / 2)
    x0, y0 = max(left, 0), max(top, 0)
    x1, y1 = min(left + w, canvas.shape[1]), min(top + h, canvas.shape[0])
    if x1 > x0 and y1 > y0:
        view = canvas[y0:y1, x0:x1]
        np.maximum(view, ink[y0 - top : y1 - top, x0 - left : x1 - left], out=view)


def _rules(cell: CellPrint, shape: tuple[int, int]) -> np.ndarray:
    """The printed rules of the cell and its neighbours: float32 map of ``shape``."""
    print_map = np.zeros(shape, np.float32)
    f, off = FINE_PX_PER_MM, MARGIN_MM + _PAD_MM
    half = cell.rule_mm / 2
    pitch = cell.w_mm + cell.gap_mm
    for k in (-1, 0, 1):
        x0, y0 = off + k * pitch, off
        for left, top, right, bottom in (
            (x0 - half, y0 - half, x0 + half, y0 + cell.h_mm + half),
            (x0 + cell.w_mm - half, y0 - half, x0 + cell.w_mm + half, y0 + cell.h_mm + half),
            (x0 - half, y0 - half, x0 + cell.w_mm + half, y0 + half),
            (x0 - half, y0 + cell.h_mm - half, x0 + cell.w_mm + half, y0 + cell.h_mm + half),
        ):
            a, b, c, d = (round(v * f) for v in (left, right, top, bottom))
            if b > 0 and d > 0:
                print_map[max(c, 0) : d, max(a, 0) : b] = cell.darkness
    return print_map


def scanned_cell(
    ink: np.ndarray | None,
    cell: CellPrint,
    grade: str,
    rng: np.random.Generator,
    neighbours: tuple[np.ndarray | None, np.ndarray | None] = (None, None),
    off_centre_mm: float = 0.45,
    *,
    upon_rules: bool = True,
) -> np.ndarray:
    """The patch of one cell with ``ink`` in it (None: empty), scanned as ``grade``.

    ``ink`` and ``neighbours`` (left, right) are maps as :mod:`scanform.training.ink` makes them; ``off_centre_mm``
    is the standard deviation of where the writer puts the character. Without ``upon_rules`` no edge of the ink lies
    upon the cell's upper or lower rule: a seven whose bar is hidden there is a one to anybody who learns from it.
    """
    f = FINE_PX_PER_MM
    off = MARGIN_MM + _PAD_MM
    shape = (round((cell.h_mm + 2 * off) * f), round((cell.w_mm + 2 * off) * f))
    pen = np.zeros(shape, np.float32)
    middle = np.array([off + cell.w_mm / 2, off + cell.h_mm / 2])
    pitch = cell.w_mm + cell.gap_mm
    for one, k in ((ink, 0), (neighbours[0], -1), (neighbours[1], 1)):
        if one is not None:
            x, y = middle + (k * pitch, 0) + rng.normal(0, off_centre_mm, 2)
            if k == 0 and not upon_rules:
                y = _clear_of_rules(one, float(y), off, cell)
            _paste(pen, one, float(x), float(y))
    pen_dark = rng.uniform(0.45, 1.0) if rng.random() < 0.8 else rng.uniform(0.3, 0.5)
    texture: float | np.ndarray = 1.0
    if rng.random() < 0.3:
        coarse = rng.uniform(0.55, 1.0, (shape[0] // 6, shape[1] // 6)).astype(np.float32)
        texture = cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    rules = _rules(cell, shape)
    dark = 1.0 - (1.0 - pen * pen_dark * texture) * (1.0 - rules)
    return _scanned(dark.astype(np.float32), cell, grade, rng)


_HIDDEN_MM = 0.45  # a stroke whose outer edge is no further outside a rule's middle, and as far inside, lies upon it


def _clear_of_rules(ink: np.ndarray, y_mm: float, top_mm: float, cell: CellPrint) -> float:
    """``y_mm`` of the ink's middle, moved inwards so far that its upper and lower edge lie upon no rule."""
    rows = np.flatnonzero(ink.max(axis=1) > 0.3)
    if not len(rows):
        return y_mm
    first, last = (rows[[0, -1]] - ink.shape[0] / 2) / FINE_PX_PER_MM
    above, below = y_mm + first - top_mm, top_mm + cell.h_mm - (y_mm + last)
    if abs(above) < _HIDDEN_MM and below > 2 * _HIDDEN_MM:
        return y_mm + _HIDDEN_MM - above
    if abs(below) < _HIDDEN_MM and above > 2 * _HIDDEN_MM:
        return y_mm - (_HIDDEN_MM - below)
    return y_mm


def _scanned(dark: np.ndarray, cell: CellPrint, grade: str, rng: np.random.Generator) -> np.ndarray:
    """Darkness map (fine grid) to the sampled patch, by way of the scanner's own grid."""
    low, high = _DPI[grade]
    scan_px_mm = float(
        low if low == high else rng.choice([low, high]) if grade == "bitonal" else rng.uniform(low, high)
    )
    scan_px_mm /= 25.4
    turn = rng.normal(0, {"phone": 0.02, "fax": 0.012}.get(grade, 0.015))
    ratio = scan_px_mm / FINE_PX_PER_MM
    h, w = dark.shape
    side_w, side_h = round(w * ratio) + 2, round(h * ratio) + 2
    cos, sin = np.cos(turn), np.sin(turn)
    to_scan = np.array([[cos * ratio, -sin * ratio, 0], [sin * ratio, cos * ratio, 0]])
    shift = np.array([side_w / 2, side_h / 2]) + rng.uniform(-0.5, 0.5, 2) - to_scan[:, :2] @ [w / 2, h / 2]
    to_scan[:, 2] = shift
    # The scanner's own spot: about as wide as its pixel, wider when out of focus.
    spot = 0.5 / ratio * rng.uniform(0.5, 1.3) * (1.7 if grade == "phone" else 1.0)
    image = cv2.warpAffine(
        cv2.GaussianBlur(dark, (0, 0), max(spot, 0.4)), to_scan, (side_w, side_h), flags=cv2.INTER_LINEAR
    )
    image = _GRADE_STEPS[grade](image, rng)

    # The map that the reading room samples through: right to about 0.1 mm, at times 0.3 mm off.
    error_mm = np.clip(rng.normal(0, 0.12, 2), -0.3, 0.3)
    skew = rng.normal(0, 0.004)
    out_w, out_h = round((cell.w_mm + 2 * MARGIN_MM) * PX_PER_MM), round((cell.h_mm + 2 * MARGIN_MM) * PX_PER_MM)
    step = FINE_PX_PER_MM / PX_PER_MM
    start = (_PAD_MM + error_mm) * FINE_PX_PER_MM
    patch_to_fine = np.array(
        [[step, -skew * step, start[0] + step / 2 - 0.5], [skew * step, step, start[1] + step / 2 - 0.5]]
    )
    full = np.vstack([to_scan, [0, 0, 1]]) @ np.vstack([patch_to_fine, [0, 0, 1]])
    return cv2.warpAffine(
        image, full[:2], (out_w, out_h), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )


def _grey(dark: np.ndarray, paper: float, black: float) -> np.ndarray:
    return paper - dark * (paper - black)


def _jpeg(image: np.ndarray, quality: int) -> np.ndarray:
    _, data = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
    decoded = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)
    if decoded is None:
        raise ValueError("OpenCV cannot read the JPEG that it has just written")
    return decoded


def _noisy(grey: np.ndarray, sigma: float, rng: np.random.Generator) -> np.ndarray:
    return np.clip(grey + rng.normal(0, sigma, grey.shape), 0, 255).astype(np.uint8)


def _dirty(dark: np.ndarray, rng: np.random.Generator, amount: float) -> np.ndarray:
    """Specks, a feeder streak, a smudge."""
    h, w = dark.shape
    for _ in range(rng.poisson(2.0 * amount)):
        at = (int(rng.integers(0, w)), int(rng.integers(0, h)))
        spot = np.zeros_like(dark)
        cv2.circle(spot, at, int(rng.integers(0, 3)), float(rng.uniform(0.3, 1.0)), -1, cv2.LINE_AA)
        dark = np.maximum(dark, spot)
    if rng.random() < 0.12 * amount:
        x = int(rng.integers(0, w))
        dark = dark.copy()
        column = slice(x, x + int(rng.integers(1, 3)))
        dark[:, column] = np.maximum(dark[:, column], rng.uniform(0.3, 1.0))
    if rng.random() < 0.3 * amount:
        coarse = rng.uniform(0, 0.22, (3, 3)).astype(np.float32)
        dark = np.minimum(dark + cv2.resize(coarse, (w, h), interpolation=cv2.INTER_CUBIC).clip(0), 1.0)
    return dark


def _threshold(dark: np.ndarray, rng: np.random.Generator) -> float:
    """Where a bitonal scanner cuts: nearly always below the pen's own darkness."""
    h, w = dark.shape
    pen = float(np.quantile(dark[h // 3 : 2 * h // 3, w // 3 : 2 * w // 3], 0.98))
    share = rng.uniform(0.3, 0.7) if rng.random() < 0.93 else rng.uniform(0.7, 1.0)
    return max(share * pen, 0.2) if pen > 0.2 else float(rng.uniform(0.22, 0.5))


def _office(dark: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    grey = _grey(_dirty(dark, rng, 0.15), rng.uniform(225, 255), rng.uniform(0, 60))
    return _jpeg(_noisy(grey, rng.uniform(1, 7), rng), int(rng.integers(55, 93)))


def _bitonal(dark: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    level = _threshold(dark, rng)
    dark = _dirty(dark, rng, 0.3) + rng.normal(0, rng.uniform(0.01, 0.07), dark.shape)
    return np.where(dark > level, 0, 255).astype(np.uint8)


def _worn(dark: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    dark = _dirty(dark, rng, 1.0)
    # One photocopy earlier: soft, then hard again, light strokes thinner.
    dark = cv2.GaussianBlur(dark, (0, 0), rng.uniform(0.4, 0.8))
    dark = np.clip((dark - rng.uniform(0.08, 0.22)) * rng.uniform(1.1, 1.8), 0, 1)
    grey = _grey(dark, rng.uniform(205, 250), rng.uniform(10, 70))
    return _jpeg(_noisy(grey, rng.uniform(3, 12), rng), int(rng.integers(45, 88)))


def _phone(dark: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    h, w = dark.shape
    dark = _dirty(dark, rng, 0.1)
    angle = rng.uniform(0, 2 * np.pi)
    yy, xx = np.mgrid[0:h, 0:w]
    light = 1.0 + rng.uniform(0, 0.18) * ((xx / w - 0.5) * np.cos(angle) + (yy / h - 0.5) * np.sin(angle))
    grey = _grey(dark, rng.uniform(130, 235), rng.uniform(15, 70)) * light
    return _jpeg(_noisy(grey, rng.uniform(2, 9), rng), int(rng.integers(55, 92)))


def _fax(dark: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    level = _threshold(dark, rng)
    dark = _dirty(cv2.GaussianBlur(dark, (0, 0), 0.5), rng, 0.5)
    if rng.random() < 0.3:
        # ITU-T T.4's standard resolution has half the lines.
        dark = np.repeat(dark[::2], 2, axis=0)[: dark.shape[0]]
    dark = dark + rng.normal(0, 0.06, dark.shape)
    return np.where(dark > level, 0, 255).astype(np.uint8)


_GRADE_STEPS = {"office": _office, "bitonal": _bitonal, "worn": _worn, "phone": _phone, "fax": _fax}
