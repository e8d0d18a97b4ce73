"""Lines of print in a cell's patch: where they run, and taking them out without the strokes that cross them.

A line runs straight through a patch, a stroke does not: it is what is dark at nearly every place along the patch.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

__all__ = ["Lines", "lines_along", "take_out_lines"]

# Chosen on simulated cells of the training (scanform.training.cells), never on the test digits. Lengths in mm
# or px, darkness as a share of the pen's.
_LINE_SEARCH_MM = 0.65  # a border's middle is at most 0.3 mm off, plus half a line of 0.4 mm, plus blur
_LINE_DARK = 0.22  # a line's own darkness (of the pen's)
_LINE_SHARE = 0.8  # of the cell's length that a line is dark in; the longest stroke stays below
_SHARE_SLACK = 0.1  # by which a border may be dark less far than the longest line beside it
_STREAK_SHARE = 0.88  # of the patch's length, margins included: a streak or a rule, never a stroke
_LINE_STEPS = 5  # px that a line is wide at most, blur included
_BRIDGE_SLACK = 3  # px along the line by which a slanted stroke may come out further on, half way on either side
_STROKE_EXCESS = 1.2  # px by which a border with a stroke upon it is thicker than alone: a 0.4 mm pen on a 0.3 mm rule
_STROKE_RUN = 10  # px (1.2 mm) along a border: what only crosses it is shorter
_STROKE_END = 0.5  # px by which the border is still thicker where such a stroke runs out, into the next one
_BORDER_REACH = 9  # px around a cell's inner edge that are still its border
_CORNER = 13  # px at either end of a border, margin included, where other borders meet it
_LINE_EDGE_SHARE = 0.25  # a border ends where its profile falls to this share of its peak
_BLACK_LINE = 0.7  # a line as dark as ink hides what crosses it; lighter ones can be subtracted


class Lines(NamedTuple):
    """Lines of print along the last axis of ink maps (n, K, L).

    ``profile``: float32 (n, K), how dark the line at each place is, 0 where there is none.
    ``inner``: int (n, 2), the first and last place inside the cell.
    """

    profile: np.ndarray
    inner: np.ndarray


def lines_along(maps: np.ndarray, margin: float, px_per_mm: float) -> Lines:
    """Both borders of each cell, and whatever else runs all the way (streaks, neighbours' borders)."""
    n, places, length = maps.shape
    low = round(margin) - 1
    # Every second place along a line tells as much as all of them.
    whole = np.ascontiguousarray(maps[:, :, ::2])
    along = np.ascontiguousarray(maps[:, :, low : length - low : 2])
    mean = along.mean(axis=2)
    share = _share_above(along, 0.5 * _LINE_DARK)
    within = np.where(share >= _LINE_SHARE, mean, 0.0)
    through = _share_above(whole, _LINE_DARK) >= _STREAK_SHARE
    profile = np.where(through, mean, 0.0).astype(np.float32)

    inner = np.empty((n, 2), np.int64)
    reach = _LINE_SEARCH_MM * px_per_mm
    every = np.arange(n)
    for side, nominal in enumerate((margin - 0.5, places - margin - 0.5)):
        # Seen from inside the cell outwards, so that a close neighbour's border comes second.
        outwards = -1 if side == 0 else 1
        start = int(np.ceil(nominal + reach)) if side == 0 else int(nominal - reach)
        steps = min(int(2 * reach) + 2, start + 1 if side == 0 else places - start)
        band = start + outwards * np.arange(steps)
        seen = within[:, band]
        clear = np.maximum(0.5 * seen.max(axis=1, keepdims=True), _LINE_DARK)
        # A long stroke beside the border is dark nearly as far as the border, but not from corner to corner.
        whole_way = share[:, band] >= share[:, band].max(axis=1, keepdims=True) - _SHARE_SLACK
        line = (seen >= clear) & whole_way
        first = np.argmax(line, axis=1)
        found = line[every, first]
        # Where a cell's own border is too faint, the comb's others say where it is.
        usual = int(np.median(first[found])) if found.any() else round(abs(nominal - start))
        first = np.where(found, first, usual)
        # Inwards the blurred flank; outwards on until the line has passed its peak and faded.
        near = _padded(seen, 1, _LINE_STEPS)
        peak = np.max([near[every, first + 1 + k] for k in range(3)], axis=0)
        edge = np.maximum(_LINE_EDGE_SHARE * peak, 0.06)
        flank = found & (near[every, first] > edge)
        run = np.stack([near[every, first + 1 + k] > edge for k in range(_LINE_STEPS)], axis=1)
        width = np.logical_and.accumulate(run, axis=1).sum(axis=1)
        at = start + outwards * first
        for k in range(-1, _LINE_STEPS):
            belongs = found & ((k < width) if k >= 0 else flank)
            place = np.clip(at + outwards * k, 0, places - 1)[belongs]
            rows = every[belongs]
            profile[rows, place] = np.maximum(profile[rows, place], within[rows, place])
        inner[:, side] = at - outwards * np.where(flank, 2, 1)
    # Beyond the border lies the neighbour: any line there is print.
    place = np.arange(places)
    outside = (place < inner[:, :1]) | (place > inner[:, 1:])
    return Lines(np.where(outside & (within > _LINE_DARK), within, profile).astype(np.float32), inner)


def _padded(rows: np.ndarray, before: int, after: int) -> np.ndarray:
    """Zeros before and after each row of (n, K)."""
    wider = np.zeros((rows.shape[0], rows.shape[1] + before + after), rows.dtype)
    wider[:, before : before + rows.shape[1]] = rows
    return wider


def _share_above(maps: np.ndarray, level: float) -> np.ndarray:
    """Share of each last-axis run of ``maps`` (n, K, L) that is above ``level``: float32 (n, K)."""
    n, places, length = maps.shape
    above = (maps > level).view(np.uint8).reshape(n * places, length)
    return cv2.reduce(above, 1, cv2.REDUCE_SUM, dtype=cv2.CV_32F).reshape(n, places) / length


def take_out_lines(maps: np.ndarray, lines: Lines) -> None:
    """Takes lines out of maps (n, K, L), in place; strokes across a line or along a border stay whole."""
    places = maps.shape[1]
    profile = lines.profile
    wide = _widened(profile > 0)
    which, place = np.nonzero(wide)
    if not len(which):
        return
    index = np.arange(places)
    before = np.maximum.accumulate(np.where(wide, -1, index), axis=1)[which, place]
    after = np.minimum.accumulate(np.where(wide, places, index)[:, ::-1], axis=1)[:, ::-1][which, place]
    # What lies beside the line on either side, two places deep; nothing beyond the patch.
    sides = []
    for beside, step in ((before, -1), (after, 1)):
        deeper = np.clip(beside + step, 0, places - 1)
        beyond = (beside < 0) | (beside >= places)
        value = np.maximum(maps[which, np.clip(beside, 0, places - 1)], maps[which, deeper])
        value[beyond] = 0.0
        sides.append(_padded(value, _BRIDGE_SLACK, _BRIDGE_SLACK))
    bridge = _bridged(*sides)
    padded = _padded(profile, 1, 1)
    peak = np.maximum(np.maximum(padded[:, :-2], padded[:, 2:]), profile)[which, place]
    own = (0.5 * peak + 0.5 * profile[which, place])[:, None]
    source = maps[which, place]
    lighter = np.clip((source - own - 0.12) / np.maximum(0.88 - own, 0.12), 0.0, 1.0)
    left = np.where(peak[:, None] < _BLACK_LINE, np.maximum(lighter, 0.9 * bridge), bridge)
    maps[which, place] = np.where(_strokes_along(maps, wide, lines.inner, (which, place)), source, left)


def _bridged(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Strokes across a line, from what lies on either side of it: float32 (m, L + 2 slack) twice to (m, L).

    A slanted stroke comes in on one side as far before its middle as it goes out behind it; no stroke grows wider.
    """
    length = before.shape[1] - 2 * _BRIDGE_SLACK
    best = np.zeros((len(before), length), np.float32)
    for shift in range(-_BRIDGE_SLACK, _BRIDGE_SLACK + 1):
        came = before[:, _BRIDGE_SLACK + shift : _BRIDGE_SLACK + shift + length]
        went = after[:, _BRIDGE_SLACK - shift : _BRIDGE_SLACK - shift + length]
        np.maximum(best, np.minimum(came, went), out=best)
    return best


def _widened(line: np.ndarray) -> np.ndarray:
    """One place more on each side: blur spreads a line beyond where its profile says that it ends."""
    wide = line.copy()
    wide[:, 1:] |= line[:, :-1]
    wide[:, :-1] |= line[:, 1:]
    return wide


def _strokes_along(
    maps: np.ndarray, wide: np.ndarray, inner: np.ndarray, at: tuple[np.ndarray, np.ndarray]
) -> np.ndarray:
    """Where a stroke lies upon a border and along it (a seven's bar, say): bool (m, L), at cells and places (m,) each.

    There the border looks thicker than elsewhere, and for longer than where a stroke only crosses it.
    """
    which, _ = at
    place = np.arange(maps.shape[1])
    around = _widened(wide)
    upon = np.zeros((len(which), maps.shape[2]), bool)
    for side, far in ((0, place < inner[:, :1] + 3), (1, place > inner[:, 1:] - 3)):
        near = np.abs(place - inner[:, side : side + 1]) < _BORDER_REACH
        border = around & far & near
        thickness = (border[:, None].astype(np.float32) @ maps)[:, 0]
        usual = _usual_thickness(thickness)[:, None]
        run = _long_runs(thickness > usual + _STROKE_EXCESS)
        if not run.any():
            continue
        # A stroke's end, where it leaves the border into another one, belongs to it.
        ends = cv2.dilate(run, np.ones((1, 2 * _STROKE_RUN + 1), np.uint8)) & (thickness > usual + _STROKE_END)
        run = _reaching(run, ends) > 0
        upon |= border[at][:, None] & run[which]
    return upon


def _usual_thickness(thickness: np.ndarray) -> np.ndarray:
    """A border's own thickness in px, float32 (n, L) to (n,): where no stroke lies upon it.

    Where cells stand apart, their border ends at the corner: what lies beyond says nothing of it. A seven's bar may
    cover most of a border, but not of most cells' borders.
    """
    n, length = thickness.shape
    ordered = np.sort(thickness, axis=1)
    absent = (ordered < 1.0).sum(axis=1)
    every = np.arange(n)

    def quantile(share: float) -> np.ndarray:
        return ordered[every, np.minimum(absent + ((length - absent) * share).astype(int), length - 1)]

    own, least = quantile(0.3), quantile(0.12)
    return np.minimum(own, np.maximum(least, np.median(own) if n > 2 else 0.0))


def _long_runs(thicker: np.ndarray) -> np.ndarray:
    """Of bool (n, L) the runs that are long enough for a stroke, clear of the corners: uint8 (n, L)."""
    kept = thicker.astype(np.uint8)
    kept[:, :_CORNER] = 0
    kept[:, kept.shape[1] - _CORNER :] = 0
    return cv2.morphologyEx(kept, cv2.MORPH_OPEN, np.ones((1, _STROKE_RUN), np.uint8))


def _reaching(run: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """``run`` grown step by step into ``ends``, both (n, L): what of the ends hangs together with a run."""
    grown = run
    for _ in range(_STROKE_RUN):
        grown = run | (cv2.dilate(grown, np.ones((1, 3), np.uint8)) & ends)
    return grown
