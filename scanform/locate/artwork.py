"""Measure where a sheet's printed borders really are, and correct the map by them.

Every small printed frame (tick box, comb cell, a stretch of a writing box) is one probe: its two opposite sides are
looked for together, so that a single pen stroke or a neighbouring rule is not taken for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scanform.form import Box, FieldKind, Layout
from scanform.locate.sample import local_frames, sample_grid
from scanform.locate.warp import PageMap, fit_polynomial, polynomial_terms

__all__ = ["Probes", "measure", "probes_of", "refine", "told_apart"]

_ALONG = 7  # sample points along a side
_WIDE_MM = 12.0  # a writing box's upper and lower side are measured about this far apart ...
_STRETCH_MM = 9.0  # ... over stretches of this length
_FEWEST_GOOD = 24
_GOOD_QUALITY = 0.25  # of the contrast between paper and mark; printed borders come out at 0.4 to 0.9 of it


@dataclass(frozen=True, eq=False)
class Probes:
    """Centres float64 (n, 2) mm; half sizes float64 (n, 2) mm; ``sides``: bool (n, 2), which axes can be measured.

    ``boxes``: per probe the tick box or cell it is the frame of, None for a stretch of a writing box.
    """

    boxes: tuple[Box | None, ...]
    centres_mm: np.ndarray
    halves_mm: np.ndarray
    sides: np.ndarray

    @cached_property
    def by_size(self) -> list[tuple[np.ndarray, np.ndarray]]:
        """Half sizes float64 (2,) that occur, each with the probes of that size, int (k,)."""
        sizes, which = np.unique(self.halves_mm.round(3), axis=0, return_inverse=True)
        return [(half, np.flatnonzero(which.ravel() == k)) for k, half in enumerate(sizes)]

    @cached_property
    def distances_mm(self) -> np.ndarray:
        """Between all centres: float64 (n, n)."""
        return np.linalg.norm(self.centres_mm[:, None] - self.centres_mm[None], axis=2)


def probes_of(layout: Layout) -> Probes:
    """Every printed frame of the layout as probes."""
    frames: list[tuple[Box, bool]] = []
    for field in layout.fields:
        if field.answers:
            frames += [(answer.box_mm, True) for answer in field.answers]
        elif field.cells_mm:
            frames += [(cell, True) for cell in field.cells_mm]
        elif field.kind is FieldKind.MARK or field.box_mm.w_mm < _STRETCH_MM:
            frames.append((field.box_mm, True))
        else:
            box = field.box_mm
            pieces = max(1, round(box.w_mm / _WIDE_MM))
            step = box.w_mm / pieces
            # All stretches are equally long, whatever the box's width: probes of one size are measured together.
            frames += [
                (Box(box.x_mm + (i + 0.5) * step - _STRETCH_MM / 2, box.y_mm, _STRETCH_MM, box.h_mm), False)
                for i in range(pieces)
            ]
    return Probes(
        tuple(box if closed else None for box, closed in frames),
        np.array([box.centre_mm for box, _ in frames]),
        np.array([(box.w_mm / 2, box.h_mm / 2) for box, _ in frames]),
        np.array([(closed, True) for _, closed in frames]),
    )


def measure(
    pixels: np.ndarray, page_map: PageMap, probes: Probes, reach_mm: float, step_mm: float, contrast: float
) -> tuple[np.ndarray, np.ndarray]:
    """How far each probe's frame lies from where the map puts it.

    Looks up to ``reach_mm`` to either side, every ``step_mm``. ``contrast`` is the grey difference between paper and
    solid print.
    Returns offsets float64 (n, 2) in mm (x, y) and qualities float64 (n, 2): the darkness of the weaker of the two
    sides at the best offset, less the usual darkness around, as a share of the contrast; 0 where not measurable.
    """
    n = len(probes.centres_mm)
    offsets, quality = np.zeros((n, 2)), np.zeros((n, 2))
    centres_px, jacobians = local_frames(page_map, probes.centres_mm)
    shifts = np.arange(-round(reach_mm / step_mm), round(reach_mm / step_mm) + 1) * step_mm
    along = np.linspace(-0.8, 0.8, _ALONG)
    for axis in (0, 1):
        # Probes of one size share one grid of offsets.
        for half, same_size in probes.by_size:
            rows = same_size[probes.sides[same_size, axis]]
            if not len(rows):
                continue
            grid = _side_grid(half, axis, shifts, along)
            grey = sample_grid(pixels, centres_px[rows], jacobians[rows], grid)
            profile = grey.reshape(len(rows), _ALONG, 2 * len(shifts)).sum(axis=1, dtype=np.float32) / _ALONG
            profile = profile.reshape(len(rows), 2, len(shifts))
            offsets[rows, axis], quality[rows, axis] = _best_shift(profile, shifts, contrast)
    return offsets, quality


def _side_grid(half: np.ndarray, axis: int, shifts: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Offsets (along x 2 sides x shifts, 2) in mm from the probe's centre."""
    across = np.stack([-half[axis] + shifts, half[axis] + shifts])[None]
    lengthwise = (along * half[1 - axis])[:, None, None]
    across, lengthwise = np.broadcast_arrays(across, lengthwise)
    pair = (across, lengthwise) if axis == 0 else (lengthwise, across)
    return np.stack([part.ravel() for part in pair], axis=1)


def _best_shift(profile: np.ndarray, shifts: np.ndarray, contrast: float) -> tuple[np.ndarray, np.ndarray]:
    """Best shift per probe from float32 (n, 2 sides, s) mean grey along the side, to a fraction of a step."""
    middle_rank = profile.shape[2] // 2
    paper = np.partition(profile, middle_rank, axis=2)[:, :, middle_rank, None]
    dark = np.clip(paper - profile, 0, None) / contrast
    score = np.sqrt(dark[:, 0] * dark[:, 1])  # both sides must be there
    padded = np.pad(score, ((0, 0), (1, 1)), mode="edge")
    score = 0.25 * padded[:, :-2] + 0.5 * padded[:, 1:-1] + 0.25 * padded[:, 2:]
    best = score[:, 1:-1].argmax(axis=1) + 1
    rows = np.arange(len(score))
    left, middle, right = score[rows, best - 1], score[rows, best], score[rows, best + 1]
    curve = left - 2 * middle + right
    fraction = np.where(curve < 0, 0.5 * (left - right) / np.where(curve < 0, curve, 1), 0)
    return shifts[best] + np.clip(fraction, -0.5, 0.5) * (shifts[1] - shifts[0]), middle


# Reach, step (mm) and degree of the polynomial: first what marks alone may be off by (curl, stretch), then the rest.
_PASSES = ((2.4, 0.2, 2), (0.9, 0.1, 4))
_LAST_LOOK = (0.7, 0.1)


def refine(
    pixels: np.ndarray, page_map: PageMap, probes: Probes, contrast: float
) -> tuple[PageMap, np.ndarray, np.ndarray, float, float]:
    """Correct the map by the artwork, coarse then fine.

    Returns the corrected map; per probe the shift that is left to apply, float64 (n, 2) mm, and how far its artwork
    disagrees with that, float64 (n,) mm; the page's residual in mm (95th percentile of the artwork's distance from
    the smooth map); and the share of probes whose artwork was found.
    """
    for reach_mm, step_mm, degree in _PASSES:
        offsets, quality = measure(pixels, page_map, probes, reach_mm, step_mm, contrast)
        found = quality > _GOOD_QUALITY
        if found.sum(axis=0).min() < _FEWEST_GOOD:
            break
        correction = np.stack(
            [
                fit_polynomial(
                    polynomial_terms(probes.centres_mm[found[:, axis]], page_map.size_mm, degree),
                    offsets[found[:, axis], axis],
                    quality[found[:, axis], axis],
                )
                for axis in (0, 1)
            ],
            axis=1,
        )
        page_map = page_map.corrected_by(correction)
    offsets, quality = measure(pixels, page_map, probes, *_LAST_LOOK, contrast)
    found = (quality > _GOOD_QUALITY) & probes.sides
    shifts, doubts = _settle_shifts(probes, offsets, found)
    share = float(found.sum() / probes.sides.sum())
    residual = float(np.percentile(np.abs(offsets[found]), 95)) if found.any() else float("inf")
    return page_map, shifts, doubts, residual, share


_SAME_PLACE_MM = 2.0  # nearer frames could be taken for each other: 0.8 mm of search to either side, and a rim
_SAME_SIZE_MM = 0.3
_FEWEST_TELLING = 6


def told_apart(
    pixels: np.ndarray, contrast: float, sheet: tuple[PageMap, Probes], other: tuple[PageMap, Probes]
) -> float:
    """How clearly the page shows ``sheet`` and not ``other``, from 0 to 1; both maps refined to the page.

    Most frames of two sheets on one paper lie in the same places. What tells is the frames that only one of the two
    has: the share of these that are there if they are the sheet's own, and are not if they are the other's. 0 where
    the two have too few such frames.
    """
    tells = told = 0
    for (page_map, probes), (_, rest), wanted in ((sheet, other, True), (other, sheet, False)):
        alone = np.flatnonzero(_alone(probes, rest))
        _, quality = measure(pixels, page_map, probes, *_LAST_LOOK, contrast)
        seen = ((quality > _GOOD_QUALITY) | ~probes.sides).all(axis=1)[alone]
        tells += len(alone)
        told += int((seen == wanted).sum())
    return told / tells if tells >= _FEWEST_TELLING else 0.0


def _alone(probes: Probes, rest: Probes) -> np.ndarray:
    """Which frames, bool (n,), have none of their size near them among the rest."""
    apart = np.linalg.norm(probes.centres_mm[:, None] - rest.centres_mm[None], axis=2) > _SAME_PLACE_MM
    differ = np.abs(probes.halves_mm[:, None] - rest.halves_mm[None]).max(axis=2) > _SAME_SIZE_MM / 2
    return (apart | differ).all(axis=1)


_NEIGHBOURS = 6
_AGREES_MM = 0.3  # a frame that lies further than this from what its neighbours say is not believed


def _settle_shifts(probes: Probes, offsets: np.ndarray, found: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What is left after the smooth map (a crease, a local stretch): a probe's own measurement where its neighbours
    agree with it, their median otherwise."""
    shifts = np.zeros_like(offsets)
    doubts = np.zeros(len(offsets))
    for axis in (0, 1):
        good = np.flatnonzero(found[:, axis])
        if len(good) < _NEIGHBOURS:
            doubts += 1.0
            continue
        near = good[np.argpartition(probes.distances_mm[:, good], _NEIGHBOURS - 1, axis=1)[:, :_NEIGHBOURS]]
        said = np.median(offsets[near, axis], axis=1)
        own = offsets[:, axis]
        agrees = found[:, axis] & (np.abs(own - said) <= _AGREES_MM)
        shifts[:, axis] = np.where(agrees, own, said)
        doubts = np.maximum(doubts, np.where(agrees, 0, np.median(np.abs(offsets[near, axis] - said[:, None]), axis=1)))
        doubts = np.maximum(doubts, np.where(found[:, axis] & ~agrees, np.abs(own - said), 0))
    return shifts, doubts
