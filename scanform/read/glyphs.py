"""From the sampled patch of a comb's cell to a normalised glyph: the printed cell goes, the pen's ink stays.

Everything works on ink maps, 0 paper to 1 ink. :mod:`scanform.read.cell_lines` takes the printed lines out;
connected components then tell the cell's own ink from the neighbours' and from dirt.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from scanform.read.cell_lines import lines_along, take_out_lines
from scanform.read.hidden_bar import bar_traces

__all__ = ["GLYPH_SIDE", "PX_PER_MM", "Glyphs", "cell_ink", "glyphs_of"]

PX_PER_MM = 8.0  # how the reading room samples patches (DESIGN.md, "Locating")
GLYPH_SIDE = 28  # MNIST's picture: ink scaled into 20 x 20, set by its centre of mass into 28 x 28
_INK_SIDE = 20
_SOLID = 0.25  # ink map level that counts for a glyph's box

# Lengths in mm; chosen on simulated cells of the training (scanform.training.cells), never on the test digits.
# Fainter than this share of the paper's white is no ink (noise, show-through, shadow): the first on clean paper,
# the second on paper as restless as a bad photocopy's; between them eight times the paper's own spread, of which
# the ink level is three and a half.
_MIN_CONTRAST = (0.15, 0.4)
_MIN_CONTRAST_SPREADS = 8.0
_MOST_SHADE = 0.15  # of the paper's white: a ninth of a cell that is darker than its cell by more is inked
_INK_LEVEL = 0.42  # ink map level that counts as stroke for connected components
_CRUMB_MM2 = 0.45  # smaller is kept only near other ink: a piece of a broken stroke
_CRUMB_GAP_MM = 0.7
_SPECK_MM2 = 0.06  # smaller still, 0.25 mm across, only nearer
_SPECK_GAP_MM = 0.4
_MOST_PIECES = 60  # of a cell's ink that are looked at, largest first: more is noise
# Less than this in area or in length, all that is kept taken together, is dirt: a 0.3 mm pen's 1 mm is 0.3 mm2, and
# nobody writes a character smaller than a newspaper's.
_LEAST_INK_MM2 = 0.2
_LEAST_SIDE_MM = 0.9
# Ink that comes in so far over a border, as a share of the cell's width and height, is the cell's own: beside a cell
# stand its neighbours, above and below it nothing that is written.
_OWN_DEPTH = (0.4, 0.15)
_INTRUDES_MM = 0.7  # a neighbour's stroke seldom comes in further; a digit that hangs half over its border does
_ENDS_AT_MM = 0.25  # from the border's inner edge
_SLIVER_MM = 0.32  # what is left of a badly printed border is this thin and lies along it
_EMPTY_INK_MM2 = (0.2, 0.6)  # surely empty up to, surely written from; a 0.3 mm pen's 3 mm stroke is 0.9 mm2


class Glyphs(NamedTuple):
    """Normalised cells.

    ``maps``: float32 (n, 28, 28), 0 paper to 1 ink; all zero where no ink is left.
    ``ink``: float32 (n, H, W), the same before it is normalised, in the size of the patches.
    ``ink_mm2``: float32 (n,), the area of the cell's own ink.
    ``empty``: float32 (n,), 1 nothing written to 0 written, from the ink's area alone.
    ``left_out_mm2``: float32 (n,), ink well inside the border that was taken for a neighbour's.
    ``bar_traces``: float32 (n, 2), what a seven's bar upon the upper border would leave to be seen
    (:mod:`scanform.read.hidden_bar`); NaN where the ink does not end there.
    """

    maps: np.ndarray
    ink: np.ndarray
    ink_mm2: np.ndarray
    empty: np.ndarray
    left_out_mm2: np.ndarray
    bar_traces: np.ndarray


def glyphs_of(patches: np.ndarray, cell_w_mm: float, cell_h_mm: float, margin_mm: float) -> Glyphs:
    """Normalised glyphs of a comb's cells.

    ``patches``: uint8 (n, H, W) grey at 8 px/mm, each the cell of ``cell_w_mm`` x ``cell_h_mm`` with
    ``margin_mm`` of its surroundings on every side. Raises ValueError if the patches are not of that size.
    """
    ink, left_out, traces = _cut_out(patches, cell_w_mm, cell_h_mm, margin_mm)
    maps = np.zeros((len(ink), GLYPH_SIDE, GLYPH_SIDE), np.float32)
    area = ink.sum(axis=(1, 2)) / (PX_PER_MM * PX_PER_MM)
    for target, one, mm2 in zip(maps, ink, area, strict=True):
        if mm2 > 0:
            _normalise(one, target)
    sure_empty, sure_written = _EMPTY_INK_MM2
    empty = np.clip((sure_written - area) / (sure_written - sure_empty), 0.0, 1.0)
    return Glyphs(maps, ink, area.astype(np.float32), empty.astype(np.float32), left_out, traces)


def cell_ink(patches: np.ndarray, cell_w_mm: float, cell_h_mm: float, margin_mm: float) -> np.ndarray:
    """The pen's own ink in each cell: float32 (n, H, W), 0 to 1, print, neighbours and specks removed.

    Arguments and errors as for :func:`glyphs_of`.
    """
    return _cut_out(patches, cell_w_mm, cell_h_mm, margin_mm)[0]


def _cut_out(
    patches: np.ndarray, cell_w_mm: float, cell_h_mm: float, margin_mm: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The cells' own ink, and ``left_out_mm2`` and ``bar_traces`` as :class:`Glyphs` has them."""
    size = (round((cell_h_mm + 2 * margin_mm) * PX_PER_MM), round((cell_w_mm + 2 * margin_mm) * PX_PER_MM))
    if patches.ndim != 3 or any(abs(a - b) > 1 for a, b in zip(patches.shape[1:], size, strict=True)):
        raise ValueError(f"patches of shape {patches.shape} are not cells of {size[1]} x {size[0]} px")
    if not len(patches):
        return np.zeros(patches.shape, np.float32), np.zeros(0, np.float32), np.zeros((0, 2), np.float32)
    margin = margin_mm * PX_PER_MM
    printed = _ink_maps(patches, round(margin))
    columns = np.ascontiguousarray(printed.transpose(0, 2, 1))
    # Both directions are looked for before either is taken out, since taking one out nicks the other.
    upright = lines_along(columns, margin, PX_PER_MM)
    level = lines_along(printed, margin, PX_PER_MM)
    take_out_lines(columns, upright)
    rows = np.ascontiguousarray(columns.transpose(0, 2, 1))
    take_out_lines(rows, level)
    inside = np.column_stack([upright.inner[:, 0], level.inner[:, 0], upright.inner[:, 1], level.inner[:, 1]])
    left_out = np.zeros(len(rows), np.float32)
    traces = np.full((len(rows), 2), np.nan, np.float32)
    for k, (ink, box) in enumerate(zip(rows, inside.tolist(), strict=True)):
        left_out[k] = _keep_own(ink, *box)
        if _ends_at_top(ink, box[1]):
            traces[k] = bar_traces(printed[k], ink, (box[0], box[1], box[2], box[3]))
    return rows, left_out, traces


def _ink_maps(patches: np.ndarray, margin: int) -> np.ndarray:
    """Paper to 0 and pen to 1, cell by cell: float32 (n, H, W)."""
    n, height, width = patches.shape
    edge = margin + 4
    grid_y, grid_x = (height - 2 * edge) // 6 * 2, (width - 2 * edge) // 6 * 2
    inner = patches[:, edge : edge + 3 * grid_y : 2, edge : edge + 3 * grid_x : 2]
    blocks = inner.reshape(n, 3, grid_y // 2, 3, grid_x // 2).transpose(0, 1, 3, 2, 4).reshape(n, 9, -1)
    blocks = np.sort(blocks, axis=2)
    each = blocks.shape[2]
    ordered = np.sort(blocks.reshape(n, -1), axis=1).astype(np.float32)
    count = ordered.shape[1]
    paper = ordered[:, int(count * 0.8)]
    # Light falls off across a photographed cell: a plane through the paper of its nine parts. A part that is
    # mostly ink says nothing about the paper.
    part = blocks[:, :, int(each * 0.75)].astype(np.float32) - paper[:, None]
    part[part < -_MOST_SHADE * paper[:, None]] = 0.0
    part = part.reshape(n, 3, 3)
    tilt_x = (part[:, :, 2] - part[:, :, 0]).mean(axis=1) / (2 * grid_x)
    tilt_y = (part[:, 2] - part[:, 0]).mean(axis=1) / (2 * grid_y)
    x, y = np.arange(width, dtype=np.float32) - width / 2, np.arange(height, dtype=np.float32) - height / 2
    level = paper + part.mean(axis=(1, 2)) * 0.5
    plane = tilt_x[:, None, None] * x + (level[:, None] + tilt_y[:, None] * y)[:, :, None]
    below = plane - patches

    black = np.sort(below[:, edge:-edge:2, edge:-edge:2].reshape(n, -1), axis=1)
    count = black.shape[1]
    # Of the paper alone: its lighter half, 10th to 30th percentile, which is 0.76 sigma of a normal distribution.
    spread = (black[:, int(count * 0.3)] - black[:, int(count * 0.1)]) / 0.76
    least = np.clip(_MIN_CONTRAST_SPREADS * spread, _MIN_CONTRAST[0] * paper, _MIN_CONTRAST[1] * paper)
    contrast = np.maximum(black[:, int(count * 0.98)], np.maximum(least, 24.0))
    # A tenth of the contrast is paper grain; nine tenths is as black as the pen gets.
    below *= (1.0 / (0.8 * contrast))[:, None, None]
    below -= 0.1 / 0.8
    return np.clip(below, 0.0, 1.0, out=below)


def _ends_at_top(ink: np.ndarray, y0: int) -> bool:
    """Whether ink (H, W) ends at the upper border: reaches it and does not come out beyond."""
    rows = np.flatnonzero(ink.max(axis=1) > _INK_LEVEL)
    near = round(_ENDS_AT_MM * PX_PER_MM)
    return bool(len(rows)) and y0 - near < int(rows[0]) < y0 + near


def _keep_own(ink: np.ndarray, x0: int, y0: int, x1: int, y1: int) -> float:
    """Drops, in place, the neighbours' ink, dirt and leftover border from one cell's map (H, W).

    ``x0``, ``y0``, ``x1``, ``y1``: first column, first row, last column, last row within the border. Gives the mm2 of
    ink that comes well in over the border and was dropped all the same.
    """
    left_out = 0.0
    solid = (ink > _INK_LEVEL).view(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(solid, connectivity=8, ltype=cv2.CV_16U)
    own: list[_Piece] = []
    thin = _SLIVER_MM * PX_PER_MM
    pieces = [(area, label, x, y, w, h) for label, (x, y, w, h, area) in enumerate(stats.tolist())][1:]
    for area, label, left, top, w, h in sorted(pieces, reverse=True)[:_MOST_PIECES]:
        right, bottom = left + w - 1, top + h - 1
        if right - x0 < thin or x1 - left < thin or bottom - y0 < thin or y1 - top < thin:
            continue  # what is left of a border lies along it
        if left < x0 or top < y0 or right > x1 or bottom > y1:
            within = np.count_nonzero(labels[y0 : y1 + 1, x0 : x1 + 1] == label)
            # How far in it comes from the border that it crosses; a neighbour's stroke does not come far.
            deep_x = right - x0 if left < x0 else x1 - left if right > x1 else x1 - x0
            deep_y = bottom - y0 if top < y0 else y1 - top if bottom > y1 else y1 - y0
            deep = deep_x >= _OWN_DEPTH[0] * (x1 - x0) and deep_y >= _OWN_DEPTH[1] * (y1 - y0)
            if within < 0.5 * area and not deep:
                if min(deep_x, deep_y) >= _INTRUDES_MM * PX_PER_MM:
                    left_out += within / PX_PER_MM**2
                continue
        own.append((area, label, left, top, right, bottom))
    kept_pieces = _connected(own)
    if not _is_writing(kept_pieces):
        ink[:] = 0.0
        return left_out
    keep = np.zeros(count, np.uint8)
    keep[[piece[1] for piece in kept_pieces]] = 1
    # The blurred rim of a stroke lies below the level: one pixel around is the stroke's.
    if len(kept_pieces) == count - 1:
        ink *= cv2.dilate(solid, _RIM)
        return left_out
    kept = keep[labels]
    ink *= np.minimum(cv2.dilate(kept, _RIM), 1 - solid + kept)
    return left_out


_RIM = np.ones((3, 3), np.uint8)

_Piece = tuple[int, int, int, int, int, int]  # area in px, label, left, top, right, bottom


def _connected(own: list[_Piece]) -> list[_Piece]:
    """The pieces that make up the character: every large one, and small ones as long as they lie near the others.

    ``own``: largest first. A faint pen's stroke comes as many small pieces in a row; a speck stands alone.
    """
    if not own:
        return []
    px2 = PX_PER_MM * PX_PER_MM
    large = [piece for piece in own if piece[0] >= _CRUMB_MM2 * px2] or own[:1]
    small = own[len(large) :]
    kept = list(large)
    x0, y0 = min(p[2] for p in kept), min(p[3] for p in kept)
    x1, y1 = max(p[4] for p in kept), max(p[5] for p in kept)
    grown = True
    while grown and small:
        grown, rest = False, []
        for piece in small:
            gap = (_CRUMB_GAP_MM if piece[0] >= _SPECK_MM2 * px2 else _SPECK_GAP_MM) * PX_PER_MM
            if piece[2] > x1 + gap or piece[4] < x0 - gap or piece[3] > y1 + gap or piece[5] < y0 - gap:
                rest.append(piece)
                continue
            kept.append(piece)
            x0, y0, x1, y1 = min(x0, piece[2]), min(y0, piece[3]), max(x1, piece[4]), max(y1, piece[5])
            grown = True
        small = rest
    return kept


def _is_writing(pieces: list[_Piece]) -> bool:
    """Whether the pieces together are large enough to have been written."""
    if sum(piece[0] for piece in pieces) < _LEAST_INK_MM2 * PX_PER_MM * PX_PER_MM:
        return False
    wide = max(p[4] for p in pieces) - min(p[2] for p in pieces) + 1
    high = max(p[5] for p in pieces) - min(p[3] for p in pieces) + 1
    return max(wide, high) >= _LEAST_SIDE_MM * PX_PER_MM


_RAMP = np.arange(_INK_SIDE, dtype=np.float32)


def _normalise(ink: np.ndarray, target: np.ndarray) -> None:
    """Writes one cell's ink (H, W) into ``target`` (28, 28) as MNIST does: longer side 20, centred by mass."""
    solid = (ink > _SOLID).view(np.uint8)
    x, y, w, h = cv2.boundingRect(solid)
    if w == 0:
        return
    scale = _INK_SIDE / max(w, h)
    wide, high = max(round(w * scale), 1), max(round(h * scale), 1)
    crop = ink[y : y + h, x : x + w]
    small = cv2.resize(crop, (wide, high), interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR)
    # By hand: cv2.moments takes a picture two columns wide for a list of points.
    mass = float(small.sum()) + 1e-6
    cx = float(small.sum(axis=0) @ _RAMP[:wide]) / mass
    cy = float(small.sum(axis=1) @ _RAMP[:high]) / mass
    middle = (GLYPH_SIDE - 1) / 2
    left = min(max(round(middle - cx), 0), GLYPH_SIDE - wide)
    top = min(max(round(middle - cy), 0), GLYPH_SIDE - high)
    target[top : top + high, left : left + wide] = small
