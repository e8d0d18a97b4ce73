"""Measure where a sheet's printed borders really are, and correct the map by them.

Every small printed frame (tick box, comb cell, a stretch of a writing box) is one probe: its two opposite sides are
looked for together, so that a single pen stroke or a neighbouring rule is not taken for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scanform.form import Box, FieldKind, Layout
from scanform.locate.sample import frame_points_mm, frames_of, sample_points
from scanform.locate.warp import DEGREE_TERMS, PageMap, fit_polynomial, polynomial_terms

__all__ = ["Anchors", "Probes", "measure", "probes_of", "refine", "told_apart"]

_ALONG = 7  # sample points along a side
_WIDE_MM = 12.0  # a writing box's upper and lower side are measured about this far apart ...
_STRETCH_MM = 9.0  # ... over stretches of this length
_FEWEST_GOOD = 24
_GOOD_QUALITY = 0.25  # of the contrast between paper and mark; printed borders come out at 0.4 to 0.9 of it


@dataclass(frozen=True, eq=False)
class Probes:
    """Centres float64 (n, 2) mm; half sizes float64 (n, 2) mm; ``sides``: bool (n, 2), which axes can be measured.

    ``boxes``: per probe the tick box or cell it is the frame of, None for a stretch of a writing box; ``fields``: the
    field's whole box. ``size_mm``: the sheet's. What follows from these alone is computed once, for all pages.
    """

    boxes: tuple[Box | None, ...]
    fields: tuple[Box, ...]
    centres_mm: np.ndarray
    halves_mm: np.ndarray
    sides: np.ndarray
    size_mm: tuple[float, float]

    @cached_property
    def pairs(self) -> tuple[np.ndarray, np.ndarray]:
        """Every measurable pair of opposite sides: its probe and its axis, int (m,) each."""
        which, axis = np.nonzero(self.sides)
        return which, axis

    @cached_property
    def terms(self) -> np.ndarray:
        """Polynomial terms of the highest degree at the centres: float64 (n, 15)."""
        return polynomial_terms(self.centres_mm, self.size_mm, _HIGHEST_DEGREE)

    @cached_property
    def frame_points(self) -> tuple[np.ndarray, np.ndarray]:
        """The points that :func:`frame_points_mm` gives for the centres, and their terms: (3n, 2) and (3n, 15)."""
        points = frame_points_mm(self.centres_mm)
        return points, polynomial_terms(points, self.size_mm, _HIGHEST_DEGREE)

    @cached_property
    def nearest(self) -> np.ndarray:
        """All probes by their distance from each, itself first: int (n, n)."""
        apart = np.linalg.norm(self.centres_mm[:, None] - self.centres_mm[None], axis=2)
        return np.argsort(apart, axis=1, kind="stable")


@dataclass(frozen=True, eq=False)
class Anchors:
    """Points of the sheet whose places on the page are known otherwise: by registration marks, by matched print.

    ``mm``, ``px``: float64 (k, 2) each; ``weight``: of each, where a well printed border has about 0.5. Borders say
    nothing about the page's far corners, and a polynomial may do anything there; these hold it.
    """

    mm: np.ndarray
    px: np.ndarray
    weight: float

    def offsets_mm(self, page_map: PageMap) -> np.ndarray:
        """How far each lies from where the map puts it: float64 (k, 2) mm on the sheet."""
        there, jacobians = frames_of(page_map.to_px(frame_points_mm(self.mm)))
        return np.linalg.solve(jacobians, (self.px - there)[:, :, None])[:, :, 0]


def probes_of(layout: Layout) -> Probes:
    """Every printed frame of the layout as probes."""
    frames: list[tuple[Box, bool, Box]] = []
    for field in layout.fields:
        if field.answers:
            frames += [(answer.box_mm, True, field.box_mm) for answer in field.answers]
        elif field.cells_mm:
            frames += [(cell, True, field.box_mm) for cell in field.cells_mm]
        elif field.kind is FieldKind.MARK or field.box_mm.w_mm < _STRETCH_MM:
            frames.append((field.box_mm, True, field.box_mm))
        else:
            box = field.box_mm
            pieces = max(1, round(box.w_mm / _WIDE_MM))
            step = box.w_mm / pieces
            # All stretches are equally long, whatever the box's width: probes of one size are measured together.
            frames += [
                (Box(box.x_mm + (i + 0.5) * step - _STRETCH_MM / 2, box.y_mm, _STRETCH_MM, box.h_mm), False, box)
                for i in range(pieces)
            ]
    return Probes(
        tuple(box if closed else None for box, closed, _ in frames),
        tuple(field for _, _, field in frames),
        np.array([box.centre_mm for box, _, _ in frames]),
        np.array([(box.w_mm / 2, box.h_mm / 2) for box, _, _ in frames]),
        np.array([(closed, True) for _, closed, _ in frames]),
        (layout.width_mm, layout.height_mm),
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
    offsets, quality = np.zeros(probes.halves_mm.shape), np.zeros(probes.halves_mm.shape)
    which, axis = probes.pairs
    points_mm, terms = probes.frame_points
    centres_px, jacobians = frames_of(page_map.to_px_by_terms(points_mm, terms))
    shifts = np.arange(-round(reach_mm / step_mm), round(reach_mm / step_mm) + 1) * step_mm
    # Places along a side and across it are the two parts of an outer sum; all sides are sampled in one call.
    half, other = probes.halves_mm[which, axis], probes.halves_mm[which, 1 - axis]
    across = np.concatenate([shifts - half[:, None], shifts + half[:, None]], axis=1).astype(np.float32)
    along = (other[:, None] * np.linspace(-0.8, 0.8, _ALONG)).astype(np.float32)
    start = centres_px[which].astype(np.float32)
    to_across = jacobians[which, :, axis].astype(np.float32)
    to_along = jacobians[which, :, 1 - axis].astype(np.float32)
    map_x, map_y = (
        (to_across[:, k, None] * across)[:, None, :] + (to_along[:, k, None] * along + start[:, k, None])[:, :, None]
        for k in (0, 1)
    )
    grey = sample_points(pixels, map_x.reshape(-1, 2 * len(shifts)), map_y.reshape(-1, 2 * len(shifts)))
    sums = grey.reshape(len(which), _ALONG, 2, len(shifts)).sum(axis=1, dtype=np.uint16)
    profile = sums.astype(np.float32) / _ALONG
    offsets[which, axis], quality[which, axis] = _best_shift(profile, shifts, contrast)
    return offsets, quality


def _best_shift(profile: np.ndarray, shifts: np.ndarray, contrast: float) -> tuple[np.ndarray, np.ndarray]:
    """Best shift per pair of sides from float32 (m, 2, s) mean grey along each side, to a fraction of a step."""
    middle_rank = profile.shape[2] // 2
    paper = np.partition(profile, middle_rank, axis=2)[:, :, middle_rank, None]
    dark = np.maximum(paper - profile, 0) / contrast
    score = np.sqrt(dark[:, 0] * dark[:, 1])  # both sides must be there
    padded = np.concatenate([score[:, :1], score, score[:, -1:]], axis=1)
    score = 0.25 * padded[:, :-2] + 0.5 * padded[:, 1:-1] + 0.25 * padded[:, 2:]
    best = score[:, 1:-1].argmax(axis=1) + 1
    rows = np.arange(len(score))
    left, middle, right = score[rows, best - 1], score[rows, best], score[rows, best + 1]
    curve = left - 2 * middle + right
    fraction = np.where(curve < 0, 0.5 * (left - right) / np.where(curve < 0, curve, 1), 0)
    return shifts[best] + np.clip(fraction, -0.5, 0.5) * (shifts[1] - shifts[0]), middle


# Reach, step (mm) and degree of the polynomial: first what marks alone may be off by (curl, stretch), then the rest.
_COARSE, _FINE = (2.4, 0.2, 2), (0.9, 0.1, 4)
_ALL_IN_REACH = 0.9  # share of all borders that, seen by the fine look already, leaves nothing to the coarse one
_LAST_LOOK = (0.7, 0.1)
_HIGHEST_DEGREE = _FINE[2]


def refine(
    pixels: np.ndarray, page_map: PageMap, probes: Probes, contrast: float, anchors: Anchors
) -> tuple[PageMap, np.ndarray, np.ndarray, float, float]:
    """Correct the map by the artwork, coarse (where that is needed) then fine.

    Returns the corrected map; per probe the shift that is left to apply, float64 (n, 2) mm, and how far its artwork
    disagrees with that, float64 (n,) mm, infinite where the sheet cannot be seen; the page's residual in mm (95th
    percentile of the artwork's distance from the smooth map); and the share of probes whose artwork was found.
    """
    corrected, seen = _corrected(pixels, page_map, probes, contrast, anchors, _FINE)
    if seen < _ALL_IN_REACH:
        corrected, _ = _corrected(pixels, page_map, probes, contrast, anchors, _COARSE)
        corrected, _ = _corrected(pixels, corrected, probes, contrast, anchors, _FINE)
    page_map = corrected
    offsets, quality = measure(pixels, page_map, probes, *_LAST_LOOK, contrast)
    found = (quality > _GOOD_QUALITY) & probes.sides
    shifts, doubts = _settle_shifts(probes, offsets, found)
    doubts[_out_of_sight(probes, found) | _off_the_picture(probes, page_map, pixels)] = np.inf
    share = float(found.sum() / probes.sides.sum())
    residual = float(np.percentile(np.abs(offsets[found]), 95)) if found.any() else float("inf")
    return page_map, shifts, doubts, residual, share


def _corrected(
    pixels: np.ndarray,
    page_map: PageMap,
    probes: Probes,
    contrast: float,
    anchors: Anchors,
    look: tuple[float, float, int],
) -> tuple[PageMap, float]:
    """The map after one look (reach, step, degree) at all borders, and the share of these that it saw."""
    reach_mm, step_mm, degree = look
    offsets, quality = measure(pixels, page_map, probes, reach_mm, step_mm, contrast)
    found = quality > _GOOD_QUALITY
    seen = float(found.sum() / probes.sides.sum())
    if found.sum(axis=0).min() < _FEWEST_GOOD:
        return page_map, seen
    terms = probes.terms[:, : DEGREE_TERMS[degree]]
    held, held_at = polynomial_terms(anchors.mm, probes.size_mm, degree), anchors.offsets_mm(page_map)
    weights = np.full(len(held), anchors.weight)
    by_axis = [
        fit_polynomial(np.concatenate([terms[f], held]), np.concatenate([o[f], h]), np.concatenate([q[f], weights]))
        for f, o, q, h in zip(found.T, offsets.T, quality.T, held_at.T, strict=True)
    ]
    return page_map.corrected_by(np.stack(by_axis, axis=1)), seen


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
        near = _nearest_of(probes, found[:, axis])
        measured = offsets[near, axis]
        said = _row_medians(measured)
        own = offsets[:, axis]
        agrees = found[:, axis] & (np.abs(own - said) <= _AGREES_MM)
        shifts[:, axis] = np.where(agrees, own, said)
        doubts = np.maximum(doubts, np.where(agrees, 0, _row_medians(np.abs(measured - said[:, None]))))
        doubts = np.maximum(doubts, np.where(found[:, axis] & ~agrees, np.abs(own - said), 0))
    return shifts, doubts


_AROUND = 8  # a frame and its nearest
_LEAST_SEEN = 0.25


def _out_of_sight(probes: Probes, found: np.ndarray) -> np.ndarray:
    """Which probes, bool (n,), lie where next to no artwork is seen: the page is torn off, covered or blackened there.

    A single frame that is not seen is bad print or ink over it; its neighbours tell where it is.
    """
    seen = np.take(found.any(axis=1), probes.nearest[:, :_AROUND])
    return np.asarray(seen.mean(axis=1) < _LEAST_SEEN)


def _off_the_picture(probes: Probes, page_map: PageMap, pixels: np.ndarray) -> np.ndarray:
    """Which frames, bool (n,), are not wholly on the picture."""
    centres, jacobians = frames_of(page_map.to_px_by_terms(*probes.frame_points))
    reach = np.abs(jacobians[:, :, 0]) * probes.halves_mm[:, :1] + np.abs(jacobians[:, :, 1]) * probes.halves_mm[:, 1:]
    off = (centres < reach) | (centres > [pixels.shape[1] - 1, pixels.shape[0] - 1] - reach)
    return np.asarray(off.any(axis=1))


def _row_medians(values: np.ndarray) -> np.ndarray:
    """Of float (n, _NEIGHBOURS), an even number a row; np.median takes ten times as long for such short ones."""
    ordered = np.sort(values, axis=1)
    return (ordered[:, _NEIGHBOURS // 2 - 1] + ordered[:, _NEIGHBOURS // 2]) / 2


_CLOSEST = 24  # among so many nearest probes six good ones are found nearly everywhere


def _nearest_of(probes: Probes, good: np.ndarray) -> np.ndarray:
    """The nearest ``_NEIGHBOURS`` good ones, bool (n,), of each probe: int (n, _NEIGHBOURS), in no order."""
    near = probes.nearest[:, :_CLOSEST]
    if (good[near].sum(axis=1) < _NEIGHBOURS).any():
        near = probes.nearest
    first = np.argsort(~good[near], axis=1, kind="stable")[:, :_NEIGHBOURS]
    return np.take_along_axis(near, first, axis=1)
