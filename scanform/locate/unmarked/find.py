"""Which adopted form a page is, and the map from the form's millimetres to the page's pixels.

Keypoints give a first map for each form that they agree on; pieces of the form's print, looked for around where that
map puts them, correct it and have to be there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np

from scanform.form import Box
from scanform.locate.artwork import Anchors
from scanform.locate.print_match import Keypoints, PrintMatch, match_print, paired
from scanform.locate.sample import sample_boxes
from scanform.locate.unmarked.form import TILE_PX_PER_MM, KnownForm, Tiles
from scanform.locate.unmarked.shown import share_shown
from scanform.locate.warp import DEGREE_TERMS, PageMap, fit_polynomial, polynomial_terms

__all__ = ["FormFit", "best_form"]

# Reach in mm and degree of the correction: what keypoints may be off by (they are good to a mm or two), then the rest.
_LOOKS = ((2.4, 2), (1.4, 3), (0.8, 4))
_LAST_REACH_MM = 0.8
_ALIKE = 0.45  # correlation of a piece of print with the page; writing across it leaves 0.5 and more
_HELD_BY_MATCHES = 0.05
_FEWEST_TILES = 20
_WORTH_FITTING = 0.4  # of the most agreeing keypoints
# Filled copies of four forms for fitting (24 pages, none of their places to write known) show 0.988 and more of their
# own form's print, six of one's other print run 0.928 at most, and 0.32 of another form's that keypoints could be laid
# on.
_SHOWN, _NEARLY, _CLEARLY_MORE = 0.96, 0.5, 0.05
_FEW_FORMS, _QUICK_POINTS = 3, 600
# For the first choice alone: a page bent or taken from the side is off an affine map by a few hundredths of its length.
_FEWEST_AGREEING, _QUICK_STRAY_SHARE, _QUICK_TRIES = 4, 0.02, 500
_STRAY_SHARE, _NEXT_TO_ALL = 0.005, 0.95  # what keypoints of a fed page may be off an affine map; how many must not be
_NEIGHBOURS = 8  # pieces of print about a box that tell whether it is in sight, and as many seen that place it
_LEAST_SEEN = 0.25
_EVEN, _MOST_LOST = 0.25, 0.3  # of a piece's own spread of grey; share of a box's own pieces
_LEAST_CONTRAST = 20.0


@dataclass(frozen=True, eq=False)
class FormFit:
    """A form laid over a page. ``shown``: share of its print that the page shows where it should be, 0 to 1; print in
    places to write is not counted, since writing covers it.

    ``shifts_mm``, ``doubts_mm``: by box, as :class:`scanform.locate.LocatedSheet` has them.
    """

    form: KnownForm
    map: PageMap
    shown: float
    residual_mm: float
    shifts_mm: dict[Box, tuple[float, float]] = field(repr=False)
    doubts_mm: dict[Box, float] = field(repr=False)
    paper_grey: float
    print_grey: float


def best_form(raster: np.ndarray, page: Keypoints, forms: Sequence[KnownForm]) -> FormFit | str | None:
    """The one form that the page shows; a sentence if it shows two alike; None if it shows none.

    ``raster``: uint8 (height, width), into whose px ``page`` has its places.
    """
    matches = [(form, match_print(page, form.keypoints, form.size_mm)) for form in _likeliest(page, forms)]
    found = [(form, match) for form, match in matches if match is not None]
    most = max((match.agreeing for _, match in found), default=0)
    fits = [
        _fitted(raster, form, _first_map(match), match.anchors)
        for form, match in found
        if match.agreeing >= _WORTH_FITTING * most
    ]
    ranked = sorted((fit for fit in fits if fit is not None), key=lambda fit: -fit.shown)
    if not ranked or ranked[0].shown < _NEARLY:
        return None
    if ranked[0].shown < _SHOWN:
        template = ranked[0].form.template
        return (
            f"This page is much like the form '{template.name}' version {template.version}, but "
            f"{1 - ranked[0].shown:.0%} of that form's print is not where it should be; it may be an older or newer "
            "print run: adopt a blank of it as another version."
        )
    if len(ranked) > 1 and ranked[0].shown - ranked[1].shown < _CLEARLY_MORE:
        one, other = (f"'{f.form.template.name}' version {f.form.template.version}" for f in ranked[:2])
        return (
            f"The print of this page is that of {one} and as much that of {other}; take the template that is not in "
            "use out of the binder, or enter the page by hand."
        )
    return ranked[0]


def _likeliest(page: Keypoints, forms: Sequence[KnownForm]) -> Sequence[KnownForm]:
    """The few forms on one place of which most of some of the page's keypoints agree: matching all takes 0.1 s a form.

    How many have a partner tells less: on a filled page of a month they are those of other tables as often.
    """
    if len(forms) <= _FEW_FORMS:
        return forms
    every = max(1, len(page.places) // _QUICK_POINTS)
    few = Keypoints(page.places[::every], page.descriptors[::every])
    votes = [_agreeing(*paired(few, form.keypoints)) for form in forms]
    return [forms[n] for n in np.argsort(votes)[::-1][:_FEW_FORMS]]


def _agreeing(on_form: np.ndarray, on_page: np.ndarray) -> int:
    """How many pairs of places, float64 (n, 2) each, agree on one affine map."""
    if len(on_form) < _FEWEST_AGREEING:
        return 0
    _, agree = _affine(on_form, on_page, _QUICK_STRAY_SHARE)
    return int(agree.sum())


def _first_map(match: PrintMatch) -> PageMap:
    """The match's map, made affine where next to all that agree on it agree on that too, as on pages from a scanner.

    Where they are few and lie on one side of the form, the other side is anywhere by a map that may be in perspective.
    """
    mm, px = match.anchors.mm, match.anchors.px
    if len(mm) < _FEWEST_AGREEING:
        return match.map
    affine, agree = _affine(mm, px, _STRAY_SHARE)
    if affine is None or agree.mean() < _NEXT_TO_ALL:
        return match.map
    return PageMap(np.vstack([affine, [0.0, 0.0, 1.0]]), match.map.size_mm)


def _affine(on_form: np.ndarray, on_page: np.ndarray, stray_share: float) -> tuple[np.ndarray | None, np.ndarray]:
    """The affine map on which most pairs of places agree, float64 (2, 3), if there is one, and which do, (n, 1).

    ``stray_share``: how far a pair may be off it, of how far the places on the page lie apart.
    """
    stray_px = stray_share * float(np.ptp(on_page, axis=0).max())
    affine, agree = cv2.estimateAffine2D(on_form, on_page, None, cv2.RANSAC, stray_px, _QUICK_TRIES)
    return affine, np.zeros(len(on_form)) if agree is None else agree


def _fitted(raster: np.ndarray, form: KnownForm, start: PageMap, anchors: Anchors) -> FormFit | None:
    tiles = form.tiles
    if len(tiles.centres_mm) < _FEWEST_TILES:
        return None
    page_map = start
    for reach_mm, degree in _LOOKS:
        offsets, alike = _measured(raster, page_map, tiles, reach_mm)
        corrected = _corrected(page_map, tiles, offsets, alike, anchors, degree)
        if corrected is None:
            return None
        page_map = corrected
    offsets, alike = _measured(raster, page_map, tiles, _LAST_REACH_MM)
    there = alike > _ALIKE
    if there.sum() < _FEWEST_TILES:
        return None
    pieces = _pieces(raster, page_map, tiles)
    even = _even(pieces, tiles)
    shifts, doubts = _field_shifts(raster.shape, page_map, form, offsets, there, even)
    paper_grey, print_grey = _grey_levels(pieces, tiles)
    off = np.abs(offsets[there])[tiles.axes[there]]
    return FormFit(
        form=form,
        map=page_map,
        shown=share_shown(raster, page_map, form, pieces, there, even, (paper_grey + print_grey) / 2),
        residual_mm=float(np.percentile(off, 95)) if len(off) else float("inf"),
        shifts_mm=shifts,
        doubts_mm=doubts,
        paper_grey=paper_grey,
        print_grey=print_grey,
    )


def _measured(raster: np.ndarray, page_map: PageMap, tiles: Tiles, reach_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """How far each piece of print lies from where the map puts it, float64 (n, 2) mm, and how alike it is, (n,)."""
    boxes = _squares(tiles)
    patches = sample_boxes(raster, page_map, boxes, np.zeros((len(boxes), 2)), reach_mm, TILE_PX_PER_MM)
    scores = np.stack(
        [
            cv2.matchTemplate(patch, picture, cv2.TM_CCOEFF_NORMED)
            for patch, picture in zip(patches, tiles.pictures, strict=True)
        ]
    )
    each, (height, width) = np.arange(len(boxes)), scores.shape[1:]
    peaks = scores.reshape(len(boxes), -1).argmax(axis=1)
    y, x = np.divmod(peaks, width)
    across, down = x + _fractions(scores[each, y], x), y + _fractions(scores[each, :, x], y)
    offsets = (np.stack([across, down], axis=1) - [(width - 1) / 2, (height - 1) / 2]) / TILE_PX_PER_MM
    return offsets * tiles.axes, scores[each, y, x].astype(np.float64)


def _fractions(scores: np.ndarray, best: np.ndarray) -> np.ndarray:
    """The peaks' places between the pixels, float64 (n,), by parabolas through their neighbours in (n, length) rows."""
    each, last = np.arange(len(scores)), scores.shape[1] - 1
    left, middle, right = (scores[each, np.clip(best + step, 0, last)].astype(np.float64) for step in (-1, 0, 1))
    curve = left - 2 * middle + right
    within = (best > 0) & (best < last) & (curve < 0)
    return np.clip(0.5 * (left - right) / np.where(within, curve, 1.0), -0.5, 0.5) * within


def _corrected(
    page_map: PageMap, tiles: Tiles, offsets: np.ndarray, alike: np.ndarray, anchors: Anchors, degree: int
) -> PageMap | None:
    held, held_at = polynomial_terms(anchors.mm, page_map.size_mm, degree), anchors.offsets_mm(page_map)
    terms = polynomial_terms(tiles.centres_mm, page_map.size_mm, degree)
    by_axis = []
    for axis in (0, 1):
        good = (alike > _ALIKE) & tiles.axes[:, axis]
        if good.sum() < DEGREE_TERMS[degree] + 5:
            return None
        weights = np.concatenate([alike[good], np.full(len(held), _HELD_BY_MATCHES)])
        values = np.concatenate([offsets[good, axis], held_at[:, axis]])
        by_axis.append(fit_polynomial(np.concatenate([terms[good], held]), values, weights))
    return page_map.corrected_by(np.stack(by_axis, axis=1))


def _field_shifts(
    shape: tuple[int, ...],
    page_map: PageMap,
    form: KnownForm,
    offsets: np.ndarray,
    there: np.ndarray,
    even: np.ndarray,
) -> tuple[dict[Box, tuple[float, float]], dict[Box, float]]:
    """What a crease or a local stretch adds to the map at each box, and how unsure that is.

    A box is out of sight, which is an infinite doubt, where next to none of the form's print about it is seen, where
    its own printed border or line is not and the paper is even there, or where it is off the picture.
    """
    tiles, boxes = form.tiles, form.field_boxes
    middles = np.array([box.centre_mm for box in boxes])
    apart = np.linalg.norm(middles[:, None] - tiles.centres_mm[None], axis=2)
    unwritten, seen = np.flatnonzero(form.unwritten), np.flatnonzero(there)
    about = unwritten[np.argsort(apart[:, unwritten], axis=1)[:, :_NEIGHBOURS]]
    near = seen[np.argsort(apart[:, seen], axis=1)[:, : 2 * _NEIGHBOURS]]
    shifts, doubts = np.zeros((len(boxes), 2)), np.zeros(len(boxes))
    for n, around in enumerate(near):
        for axis in (0, 1):
            told = offsets[around[tiles.axes[around, axis]][:_NEIGHBOURS], axis]
            if len(told):
                shifts[n, axis] = np.median(told)
                doubts[n] = max(doubts[n], float(np.median(np.abs(told - shifts[n, axis]))))
    doubts[there[about].mean(axis=1) < _LEAST_SEEN] = np.inf
    own = _overlapping(boxes, tiles)
    lost = own & (~there & even)
    doubts[lost.sum(axis=1) > _MOST_LOST * np.maximum(own.sum(axis=1), 1)] = np.inf
    doubts[_off_picture(page_map, boxes, shape)] = np.inf
    return (
        {box: (float(x), float(y)) for box, (x, y) in zip(boxes, shifts, strict=True)},
        {box: float(doubt) for box, doubt in zip(boxes, doubts, strict=True)},
    )


def _overlapping(boxes: Sequence[Box], tiles: Tiles) -> np.ndarray:
    """Which pieces of print, bool (boxes, n), lie at least in part in each box or on its border."""
    x, y, w, h = np.array(boxes).T[:, :, None]
    half = tiles.side_mm / 2
    across, down = tiles.centres_mm.T
    return np.asarray((across + half > x) & (across - half < x + w) & (down + half > y) & (down - half < y + h))


def _pieces(raster: np.ndarray, page_map: PageMap, tiles: Tiles) -> np.ndarray:
    """What the page has where each piece of print should be, uint8 (n, side, side)."""
    boxes = _squares(tiles)
    return sample_boxes(raster, page_map, boxes, np.zeros((len(boxes), 2)), 0.0, TILE_PX_PER_MM)


def _even(pieces: np.ndarray, tiles: Tiles) -> np.ndarray:
    """Which pieces of print, bool (n,), lie where the page is as good as even: torn off, or covered with white."""
    return np.asarray(pieces.std(axis=(1, 2)) < _EVEN * tiles.pictures.std(axis=(1, 2)))


def _squares(tiles: Tiles) -> list[Box]:
    half = tiles.side_mm / 2
    return [Box(x - half, y - half, tiles.side_mm, tiles.side_mm) for x, y in tiles.centres_mm.tolist()]


def _off_picture(page_map: PageMap, boxes: Sequence[Box], shape: tuple[int, ...]) -> np.ndarray:
    x, y, w, h = np.array(boxes).T
    corners = np.stack([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]).transpose(2, 0, 1)
    px = page_map.to_px(corners.reshape(-1, 2)).reshape(-1, 4, 2)
    return np.asarray(((px < 0) | (px > [shape[1] - 1, shape[0] - 1])).any(axis=(1, 2)))


def _grey_levels(pieces: np.ndarray, tiles: Tiles) -> tuple[float, float]:
    """Median grey of the page where the blank is paper, and of its darkest where the blank is print."""
    light, dark = np.percentile(tiles.pictures, 90), np.percentile(tiles.pictures, 1)
    paper = float(np.median(pieces[tiles.pictures >= light - 5]))
    print_grey = float(np.percentile(pieces[tiles.pictures <= dark + 60], 25))
    return paper, min(print_grey, paper - _LEAST_CONTRAST)
