"""What happens to one sheet of paper, one damage a function: copied, stapled, taped, torn, folded, spilt on.

Each takes a finished page (uint8 (height, width) grey at ``dpi``, not changed), a generator, and a strength from 0
(hardly to be seen) to 1 (as bad as an office would still put on the glass), and gives the damaged page. They compose.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np

__all__ = [
    "PAPER_DAMAGES",
    "Damage",
    "black_copier_edges",
    "coffee_ring",
    "coloured_paper",
    "crumpled",
    "folded_corner",
    "grease",
    "light_toner",
    "recycled_paper",
    "show_through",
    "staple",
    "tape",
    "torn_off_corner",
]

_COARSER = 4

Damage = Callable[[np.ndarray, float, np.random.Generator, float], np.ndarray]


def _field(shape: tuple[int, ...], cell_mm: float, dpi: float, rng: np.random.Generator) -> np.ndarray:
    """Soft random blotches about ``cell_mm`` wide, float32 (height, width), mean 0, deviation about 1."""
    cells = [max(2, round(size * 25.4 / dpi / cell_mm)) for size in shape[:2]]
    return cv2.resize(rng.standard_normal(cells, dtype=np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _times(page: np.ndarray, factor: np.ndarray | float) -> np.ndarray:
    return np.clip(page * factor, 0, 255).astype(np.uint8)


def _place(page: np.ndarray, dpi: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Distances in mm, float32, of every row (height, 1) and column (1, width) from a random place on the page."""
    h, w = page.shape
    y, x = rng.uniform(0.05, 0.95) * h, rng.uniform(0.05, 0.95) * w
    rows = (np.arange(h, dtype=np.float32)[:, None] - np.float32(y)) * np.float32(25.4 / dpi)
    columns = (np.arange(w, dtype=np.float32)[None] - np.float32(x)) * np.float32(25.4 / dpi)
    return rows, columns


def _coarse(page: np.ndarray, dpi: float) -> tuple[np.ndarray, float]:
    """A paper a quarter as fine to work stains out on: they are soft, and sixteen times fewer pixels."""
    return np.empty((-(-page.shape[0] // _COARSER), -(-page.shape[1] // _COARSER)), np.uint8), dpi / _COARSER


def _stained(page: np.ndarray, factor: np.ndarray) -> np.ndarray:
    """``page`` times a coarse factor."""
    whole = cv2.resize(factor.astype(np.float32), (page.shape[1], page.shape[0]), interpolation=cv2.INTER_LINEAR)
    return _times(page, whole)


def recycled_paper(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """Greyish paper with clouds in it and fibres that show."""
    tone = 0.94 - 0.22 * strength + 0.012 * (1 + strength) * _field(page.shape, 2.5, dpi, rng)
    out = _times(page, tone)
    scale = dpi / 25.4
    for _ in range(int(250 + 900 * strength)):
        at = rng.uniform(0, [page.shape[1], page.shape[0]])
        bend = np.cumsum(rng.normal(0, 0.25, (5, 2)) + rng.normal(0, 0.3, 2), axis=0) * scale
        level = int(
            out[min(int(at[1]), page.shape[0] - 1), min(int(at[0]), page.shape[1] - 1)] * rng.uniform(0.78, 0.95)
        )
        cv2.polylines(out, [np.round((at + bend) * 16).astype(np.int32)], False, level, 1, cv2.LINE_AA, 4)
    return out


def coloured_paper(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """Yellow, pink, green or blue paper as a grey scan shows it: an even tone, a little lighter at one side."""
    del dpi
    slope = np.linspace(-0.01, 0.01, page.shape[1], dtype=np.float32) * np.float32(rng.choice([-1, 1]))
    return _times(page, 0.93 - 0.33 * strength + slope)


def light_toner(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """A cartridge near its end: all print paler, streaks down the page where it is paler still."""
    streak = _field((1, page.shape[1]), 6.0, dpi, rng)
    keep = np.clip(0.75 - 0.45 * strength + 0.08 * streak, 0.12, 1.0)
    return (255 - (255 - page) * keep).astype(np.uint8)


def black_copier_edges(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """A copy made with the lid open: black along some edges, crooked, its rim ragged."""
    out = page.copy()
    scale = dpi / 25.4
    for side in rng.permutation(4)[: 1 + int(3 * strength)]:
        view = np.rot90(out, side)  # that side is on top
        wide = (1.0 + 7.0 * strength * rng.uniform(0.5, 1.0)) * scale
        tilt = rng.uniform(-3, 3) * scale * strength
        length = view.shape[1]
        edge = wide + np.linspace(-tilt, tilt, length) + 0.12 * scale * rng.standard_normal(length)
        deep = min(int(wide + abs(tilt) + scale), view.shape[0])
        cover = np.clip(edge[None] - np.arange(deep)[:, None], 0, 1)
        black = np.clip(18 + 10 * rng.standard_normal((deep, length), dtype=np.float32), 0, 60)
        view[:deep] = (view[:deep] * (1 - cover) + np.minimum(black, view[:deep]) * cover).astype(np.uint8)
    return out


def staple(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """Staples across an upper corner: bright wire, its shadow beside it, holes of one that was pulled out."""
    out = page.copy()
    scale = dpi / 25.4
    for _ in range(1 + int(2 * strength)):
        left = rng.random() < 0.8
        x = rng.uniform(5, 13) * scale
        centre = np.array([x if left else page.shape[1] - x, rng.uniform(5, 13) * scale])
        angle = np.radians(rng.normal(-45 if left else 45, 15))
        half = np.array([np.cos(angle), np.sin(angle)]) * 6.0 * scale
        ends = [centre - half, centre + half]
        wide = max(1, round(0.5 * scale))
        if rng.random() < 0.3:
            for end in ends:
                cv2.circle(out, _fixed(end), round(0.4 * scale * 16), 60, -1, cv2.LINE_AA, 4)
            continue
        for shift, grey, width in ((0.45, 95, wide + 2), (0.0, 150, wide), (-0.12, 225, max(1, wide // 3))):
            a, b = (_fixed(end + shift * scale) for end in ends)
            cv2.line(out, a, b, grey, width, cv2.LINE_AA, 4)
    return out


def _fixed(point: np.ndarray) -> tuple[int, int]:
    return round(float(point[0]) * 16), round(float(point[1]) * 16)


def tape(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """Strips of clear tape over a tear: the tear a thin line, the tape a shade darker with a rim and bubbles."""
    paper, coarse_dpi = _coarse(page, dpi)
    factor = np.ones(paper.shape, np.float32)
    for _ in range(1 + int(2 * strength)):
        rows, columns = _place(paper, coarse_dpi, rng)
        angle = rng.uniform(0, np.pi)
        along = columns * np.float32(np.cos(angle)) + rows * np.float32(np.sin(angle))
        across = rows * np.float32(np.cos(angle)) - columns * np.float32(np.sin(angle))
        long, wide = rng.uniform(25, 50 + 60 * strength), rng.uniform(8, 19)
        inside = (np.abs(along) < long / 2) & (np.abs(across) < wide / 2)
        rim = inside & ((np.abs(along) > long / 2 - 0.25) | (np.abs(across) > wide / 2 - 0.25))
        tone = np.where(inside, 0.96 - 0.10 * strength, 1.0) - 0.10 * rim
        bubbles = inside & (_field(paper.shape, 3.0, coarse_dpi, rng) > 2.0)
        tear = inside & (np.abs(across - 0.7 * _field((1, paper.shape[1]), 4.0, coarse_dpi, rng)) < 0.2)
        factor *= tone + 0.05 * bubbles - 0.35 * tear
    return _stained(page, factor)


def torn_off_corner(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """One corner gone, the lid in its place, a fibrous white rim along the tear."""
    h, w = page.shape
    scale = dpi / 25.4
    rows, columns = np.arange(h, dtype=np.float32)[:, None] / scale, np.arange(w, dtype=np.float32)[None] / scale
    if rng.random() < 0.5:
        columns = columns[:, ::-1]
    if rng.random() < 0.5:
        rows = rows[::-1]
    legs = (12 + 50 * strength) * rng.uniform(0.7, 1.2, 2)
    ragged = 0.8 * _field((h, 1), 3.0, dpi, rng) + 0.3 * _field((h, 1), 0.7, dpi, rng)
    depth = (columns / np.float32(legs[0]) + rows / np.float32(legs[1]) - 1) * np.float32(legs.min()) + ragged
    lid = float(rng.choice([245.0, 40.0]))
    return np.where(depth < 0, lid, np.where(depth < 0.7, np.maximum(page, 250), page)).astype(np.uint8)


def folded_corner(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """One corner turned over onto the sheet: its blank back covers print, and behind it the lid shows."""
    h, w = page.shape
    scale = dpi / 25.4
    flip = rng.random() < 0.5, rng.random() < 0.5
    turned = page[:: -1 if flip[0] else 1, :: -1 if flip[1] else 1]
    rows, columns = np.arange(h, dtype=np.float32)[:, None] / scale, np.arange(w, dtype=np.float32)[None] / scale
    a, b = (10 + 40 * strength) * rng.uniform(0.8, 1.2, 2)
    normal = np.array([1 / a, 1 / b]) / np.hypot(1 / a, 1 / b)
    distance = columns * np.float32(normal[0]) + rows * np.float32(normal[1]) - np.float32(1 / np.hypot(1 / a, 1 / b))
    # A point on the sheet is covered if its mirror image in the fold lies on the corner.
    mirror_x = columns - 2 * distance * np.float32(normal[0])
    mirror_y = rows - 2 * distance * np.float32(normal[1])
    flap = (distance > 0) & (mirror_x >= 0) & (mirror_y >= 0)
    shade = cv2.GaussianBlur(flap.astype(np.float32), (0, 0), 1.2 * scale)
    back = 238 + 3 * _field((h, w), 4.0, dpi, rng) - 25 * np.exp(-np.abs(distance) / 0.8)
    lid = float(rng.choice([245.0, 60.0]))
    out = np.where(flap, back, turned * (1 - 0.25 * shade))
    out = np.where(distance < 0, lid, out)
    out = np.clip(out, 0, 255).astype(np.uint8)
    return np.ascontiguousarray(out[:: -1 if flip[0] else 1, :: -1 if flip[1] else 1])


def coffee_ring(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """Rings of a cup: darker at the rim than inside, open at one side, a drop or two beside."""
    paper, coarse_dpi = _coarse(page, dpi)
    factor = np.ones(paper.shape, np.float32)
    for _ in range(1 + int(2 * strength)):
        rows, columns = _place(paper, coarse_dpi, rng)
        wobble = 1 + 0.012 * _field(paper.shape, 20.0, coarse_dpi, rng)
        r = np.hypot(rows, columns) * wobble
        radius = rng.uniform(32, 42)
        angle = np.arctan2(rows, columns) + np.float32(rng.uniform(0, 6.28))
        open_side = 0.35 + 0.65 * np.clip(0.6 + np.cos(angle), 0, 1)
        rim = np.exp(-(((r - radius) / rng.uniform(0.5, 1.1)) ** 2)) + 0.5 * np.exp(-(((r - radius + 2.2) / 0.5) ** 2))
        stain = open_side * (0.16 + 0.4 * strength) * rim + (0.02 + 0.09 * strength) * (r < radius)
        factor *= 1 - np.clip(stain, 0, 0.85)
    for _ in range(int(6 * strength)):
        rows, columns = _place(paper, coarse_dpi, rng)
        r = np.hypot(rows, columns) / rng.uniform(0.7, 2.5)
        factor *= 1 - 0.25 * (r < 1) - 0.15 * np.exp(-(((r - 1) / 0.12) ** 2))
    return _stained(page, factor)


def grease(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """Oil that has soaked in: translucent blotches, and smears of black grease from a glove."""
    paper, coarse_dpi = _coarse(page, dpi)
    factor = np.ones(paper.shape, np.float32)
    for _ in range(1 + int(3 * strength)):
        rows, columns = _place(paper, coarse_dpi, rng)
        r = np.hypot(rows, columns) / rng.uniform(10, 18 + 30 * strength)
        r = r + 0.18 * _field(paper.shape, 9.0, coarse_dpi, rng)
        soaked = 1 / (1 + np.exp(np.minimum((r - 1) * 14, 30)))
        factor *= 1 - (0.10 + 0.20 * strength) * soaked
    for _ in range(int(1 + 4 * strength)):
        rows, columns = _place(paper, coarse_dpi, rng)
        angle = rng.uniform(0, np.pi)
        along = columns * np.float32(np.cos(angle)) + rows * np.float32(np.sin(angle))
        across = rows * np.float32(np.cos(angle)) - columns * np.float32(np.sin(angle))
        smear = np.exp(-((along / rng.uniform(6, 14)) ** 2) - (across / rng.uniform(1.5, 4)) ** 2)
        rough = np.clip(0.6 + 0.5 * _field(paper.shape, 0.8, coarse_dpi, rng), 0, 1)
        factor *= 1 - (0.25 + 0.35 * strength) * smear * rough
    return _stained(page, factor)


def crumpled(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """Balled up and smoothed out again: facets that catch the light differently, print cracked along their ridges."""
    paper, coarse_dpi = _coarse(page, dpi)
    tone = np.ones(paper.shape, np.float32)
    bare = np.zeros(paper.shape, np.float32)
    for facet_mm in (60.0, 25.0):
        count = max(4, round(paper.size * (25.4 / coarse_dpi / facet_mm) ** 2))
        seeds = np.ones(paper.shape, np.uint8)
        seeds[rng.integers(0, paper.shape[0], count), rng.integers(0, paper.shape[1], count)] = 0
        _, facet = cv2.distanceTransformWithLabels(seeds, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
        names = facet.max() + 1
        slope = rng.normal(0, 1, (names, 2)).astype(np.float32)
        rows, columns = np.indices(paper.shape, np.float32) * np.float32(25.4 / coarse_dpi / facet_mm)
        lean = np.sin(slope[facet, 0] * rows + slope[facet, 1] * columns) + 0.7 * slope[facet, 0]
        tone *= 1 + (0.02 + 0.09 * strength) * cv2.GaussianBlur(np.tanh(lean), (0, 0), 1.5)
        ridge = cv2.morphologyEx(facet.astype(np.float32), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
        line = cv2.GaussianBlur(ridge.astype(np.float32), (0, 0), 0.7)
        tone *= 1 - (0.06 + 0.30 * strength) * line
        bare = np.maximum(bare, line * (rng.random(paper.shape, dtype=np.float32) < 0.2 + 0.5 * strength))
    cracked = cv2.resize(bare, (page.shape[1], page.shape[0])) * strength
    return _stained((page + (250 - np.minimum(page, 250)) * cracked).astype(np.uint8), tone)


def show_through(page: np.ndarray, dpi: float, rng: np.random.Generator, strength: float) -> np.ndarray:
    """The print of another sheet's like on the back, mirrored, blurred by the paper, pale."""
    back = np.roll(page[:, ::-1], rng.integers(-20, 20, 2), (0, 1))
    soft = cv2.GaussianBlur(back, (0, 0), 0.25 * dpi / 25.4)
    return _times(page, 1 - (0.04 + 0.22 * strength) * (255 - soft.astype(np.float32)) / 255)


# Those that a sheet can meet in any grade of scan, by the name that tables give them.
PAPER_DAMAGES: dict[str, Damage] = {
    "recycled paper": recycled_paper,
    "coloured paper": coloured_paper,
    "light-grey toner": light_toner,
    "black copier edges": black_copier_edges,
    "staples": staple,
    "tape over a tear": tape,
    "torn corner": torn_off_corner,
    "folded corner": folded_corner,
    "coffee ring": coffee_ring,
    "grease": grease,
    "crumpled": crumpled,
    "show-through": show_through,
}
