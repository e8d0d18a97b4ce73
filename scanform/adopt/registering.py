"""Laid-over copies brought to coincide to about a tenth of a millimetre, by the print that they share.

Each page's map gets a polynomial correction that makes its ink agree with the stack's median: least squares over the
brightness along all edges of the print (Lucas and Kanade, IJCAI 1981), where what does not agree weighs nothing
(Tukey's biweight): handwriting differs from copy to copy.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from scanform.adopt.stacking import Laid, Stack
from scanform.locate import PageMap
from scanform.locate.warp import DEGREE_TERMS, polynomial_terms

__all__ = ["registered", "registered_to", "stacked_ink"]

# Blur (mm), degree of the correction, and px/mm of the picture compared, coarse to fine. The first takes in what a
# feeder's stretch leaves of a homography over a page, the last is no blurrier than a rule is wide.
_LEVELS = ((0.7, 2, 3.0), (0.35, 4, 4.0), (0.15, 4, 8.0))
_ROUNDS = 6
_MOST_POINTS = 24_000
_TILE_MM = 12.0  # edges are taken evenly from all over the page
_TUKEY = 4.685
_STILL_MM = 0.004
_FEWEST_POINTS = 400
# Where no print is, nothing but this holds a polynomial: homographies are right to a few tenths of a millimetre.
_HELD_MM = 0.3
_AS_ONE = 24.0  # neighbouring points on an edge say the same thing: so many count as one


def registered(stack: Stack) -> Stack:
    """The same stack with corrected maps."""
    laid = list(stack.laid)
    for blur_mm, degree, px_per_mm in _LEVELS:
        target = np.median(stacked_ink(laid, stack.size_mm, px_per_mm), axis=0)
        nearer = _nearer(laid, target, blur_mm, degree, px_per_mm)
        if not nearer:
            break
        laid = nearer
    return replace(stack, laid=tuple(laid))


def registered_to(target: np.ndarray, one: Laid, px_per_mm: float, steps: int = 1) -> Laid:
    """One page brought to coincide with ``target``, uint8 ink at ``px_per_mm``.

    One step, of at most three, leaves some tenths of a millimetre; all of them, with 8 px/mm, one tenth.
    """
    for blur_mm, degree, _ in _LEVELS[:steps]:
        nearer = _nearer([one], target, blur_mm, degree, px_per_mm)
        if not nearer:
            break
        (one,) = nearer
    return one


def _nearer(laid: Sequence[Laid], target: np.ndarray, blur_mm: float, degree: int, px_per_mm: float) -> list[Laid]:
    """The pages, all in one frame, with maps that fit the target's ink better; none if it has too few edges."""
    edges = _edges(cv2.GaussianBlur(target.astype(np.float32), (0, 0), blur_mm * px_per_mm), px_per_mm)
    if len(edges[0]) < _FEWEST_POINTS:
        return []
    terms = polynomial_terms(edges[0], laid[0].map.size_mm, degree)
    return [replace(one, map=_corrected(one, edges, terms, blur_mm)) for one in laid]


def stacked_ink(laid: Sequence[Laid], size_mm: tuple[float, float], px_per_mm: float) -> np.ndarray:
    """All pages' ink in the stack's frame: uint8 (n, height, width); off a page there is none."""
    shape = round(size_mm[1] * px_per_mm), round(size_mm[0] * px_per_mm)
    return np.stack([_seen(one, shape, px_per_mm) for one in laid])


def _seen(one: Laid, shape: tuple[int, int], px_per_mm: float) -> np.ndarray:
    """One page's ink through its map, uint8 of ``shape``."""
    step = 8  # maps bend over centimetres; between grid points a straight line is exact to 0.01 px
    rows, columns = np.arange(0, shape[0] + step, step), np.arange(0, shape[1] + step, step)
    mesh = (np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2) + 0.5) / px_per_mm
    px = one.map.to_px(mesh).reshape(len(rows), len(columns), 2).astype(np.float32)
    grid = np.arange(shape[1]) / step, np.arange(shape[0]) / step
    across, down = np.meshgrid(grid[0].astype(np.float32), grid[1].astype(np.float32))
    maps = [cv2.remap(px[..., k], across, down, cv2.INTER_LINEAR) for k in (0, 1)]
    fineness = one.sheet.px_per_mm / px_per_mm
    ink = cv2.GaussianBlur(one.ink, (0, 0), 0.45 * fineness) if fineness > 1.2 else one.ink
    return cv2.remap(ink, maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=(0.0,))


def _edges(target: np.ndarray, px_per_mm: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The steepest points of each tile of float32 ``target``: mm (n, 2), values (n,), gradients a mm (n, 2)."""
    gx = cv2.Sobel(target, cv2.CV_32F, 1, 0, scale=px_per_mm / 8)
    gy = cv2.Sobel(target, cv2.CV_32F, 0, 1, scale=px_per_mm / 8)
    steep = np.hypot(gx, gy)
    tile = round(_TILE_MM * px_per_mm)
    height, width = target.shape
    tiles = [(y, x) for y in range(0, height, tile) for x in range(0, width, tile)]
    each = max(20, _MOST_POINTS // len(tiles))
    least = 0.15 * float(np.percentile(steep, 99))
    picked = []
    for y, x in tiles:
        part = steep[y : y + tile, x : x + tile]
        count = min(each, int((part > least).sum()))
        if count:
            best = np.argpartition(part.ravel(), -count)[-count:]
            rows, columns = np.unravel_index(best, part.shape)
            picked.append(np.column_stack([columns + x, rows + y]))
    if not picked:
        return np.empty((0, 2)), np.empty(0), np.empty((0, 2))
    at = np.concatenate(picked)
    gradients = np.column_stack([gx[at[:, 1], at[:, 0]], gy[at[:, 1], at[:, 0]]]).astype(np.float64)
    return (at + 0.5) / px_per_mm, target[at[:, 1], at[:, 0]].astype(np.float64), gradients


def _corrected(
    one: Laid, edges: tuple[np.ndarray, np.ndarray, np.ndarray], terms: np.ndarray, blur_mm: float
) -> PageMap:
    """The page's map with a correction of the terms' degree that makes its ink agree with :func:`_edges`' values."""
    points, values, gradients = edges
    ink = cv2.GaussianBlur(one.ink.astype(np.float32), (0, 0), blur_mm * one.sheet.px_per_mm)
    count = terms.shape[1]
    slopes = np.concatenate([terms * gradients[:, :1], terms * gradients[:, 1:]], axis=1)
    page_map = one.map
    moved = np.zeros((count, 2))
    if page_map.correction is not None:
        moved[: len(page_map.correction)] = page_map.correction
    held = _held(page_map.size_mm, terms.shape[1])
    for _ in range(_ROUNDS):
        seen = _sampled(ink, page_map.to_px_by_terms(points, terms))
        error = values - seen
        scale = _TUKEY * 1.4826 * max(float(np.median(np.abs(error))), 1.0)
        weights = np.maximum(1 - (error / scale) ** 2, 0) ** 2
        weighted = slopes * weights[:, None]
        # Moving the place looked at by u changes what is seen by about gradient * u.
        noise = float((weights * error**2).sum() / max(weights.sum(), 1.0))
        normal = slopes.T @ weighted + _AS_ONE * noise / _HELD_MM**2 * held
        pull = weighted.T @ error - _AS_ONE * noise / _HELD_MM**2 * (held @ moved.T.ravel())
        step = np.linalg.solve(normal, pull).reshape(2, count).T
        moved += step
        page_map = page_map.corrected_by(step)
        if float(np.abs(terms[::50] @ step).max()) < _STILL_MM:
            break
    return page_map


def _held(size_mm: tuple[float, float], count: int) -> np.ndarray:
    """What a displacement of 1 mm all over the page costs, (2 * count, 2 * count): a point every 15 mm or so."""
    places = [[u * size_mm[0], v * size_mm[1]] for u in np.linspace(0, 1, 15) for v in np.linspace(0, 1, 20)]
    degree = next(d for d, terms in DEGREE_TERMS.items() if terms == count)
    terms = polynomial_terms(np.array(places), size_mm, degree)
    return np.kron(np.eye(2), terms.T @ terms)


def _sampled(picture: np.ndarray, px: np.ndarray) -> np.ndarray:
    """Float32 ``picture`` at float (n, 2) px: float64 (n,); cv2.remap takes no more than 32,767 in a row."""
    across = 1024
    padded = np.full((-(-len(px) // across) * across, 2), -9.0, np.float32)
    padded[: len(px)] = px
    map_x, map_y = padded[:, 0].reshape(-1, across), padded[:, 1].reshape(-1, across)
    seen = cv2.remap(picture, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=(0.0,))
    return seen.ravel()[: len(px)].astype(np.float64)
