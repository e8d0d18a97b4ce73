"""A mixed binder sorted into its different forms, by what is printed on the pages; older and newer print runs apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from scanform.adopt.registering import registered_to, stacked_ink
from scanform.adopt.stacking import Laid, Sheet, turned_upon
from scanform.locate import PageMap
from scanform.locate.print_match import Keypoints, match_print

__all__ = ["GLANCE_PX_PER_MM", "FormPages", "sorted_by_form"]

GLANCE_PX_PER_MM = 4.0  # how fine pages need to be for this
_KEPT = 5  # pages of a form whose common print the next are compared with
_TILE_MM = 20.0
_PRINT_INK, _SEEN_INK = 140, 70
_REACH_MM = 0.5
_FEWEST_IN_TILE = 60  # pixels of print
# A tile is there if so much of its print is seen on the page. Under another run's lines some always is: words cover
# half of the paper round them.
_TILE_THERE = 0.8
# Pages of the same print run show 0.9 and more of the tiles (torn corners, smudges), those of another one 0.6 or less.
_SAME_RUN = 0.78
_SAME_RUN_OF_ONE = 0.68  # the print of one page cannot be told from what is written on it
_FEW = 2
_LIKE_RUN = 0.15  # other forms of the same stationer, whose name they share, show 0.05 or less


@dataclass(eq=False)
class FormPages:
    """Pages of one print run of one form, in the order in which they came.

    ``like``: the number, from 1, of the one in the list of which it seems to be another print run, and ``shared`` how
    much of that one's print it shows, 0 to 1.
    """

    sheets: list[Sheet]
    like: int | None = None
    shared: float = 0.0
    _laid: list[Laid] = field(default_factory=list, repr=False)
    _print: np.ndarray = field(default_factory=lambda: np.zeros((1, 1), np.uint8), repr=False)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Of the first page, in whose frame the others are compared."""
        return self._laid[0].map.size_mm

    @classmethod
    def begun_by(cls, sheet: Sheet) -> FormPages:
        """A form of which this is the first page."""
        scale = sheet.px_per_mm
        size = sheet.ink.shape[1] / scale, sheet.ink.shape[0] / scale
        first = Laid(sheet, sheet.ink, PageMap(np.array([[scale, 0, -0.5], [0, scale, -0.5], [0, 0, 1.0]]), size), 0)
        form = cls([sheet])
        form._keep(first)
        return form

    def laid(self, sheet: Sheet) -> Laid | None:
        """The page over this form's first one; None if it does not show its print."""
        first = self._laid[0].sheet
        own = Keypoints((first.keypoints.places + 0.5) / first.px_per_mm, first.keypoints.descriptors)
        match = match_print(sheet.keypoints, own, self.size_mm)
        if match is None:
            return None
        one = turned_upon(sheet, match.map.homography, 0)
        one = replace(one, map=PageMap(one.map.homography, self.size_mm))
        return registered_to(self._print, one, GLANCE_PX_PER_MM)

    def share_on(self, one: Laid) -> float:
        """Share of this form's print, by tiles of the page, that a page laid over it shows."""
        (ink,) = stacked_ink([one], self.size_mm, GLANCE_PX_PER_MM)
        reach = 2 * round(_REACH_MM * GLANCE_PX_PER_MM) + 1
        seen = cv2.dilate(ink, np.ones((reach, reach), np.uint8)) > _SEEN_INK
        wanted = self._print > _PRINT_INK
        tile = round(_TILE_MM * GLANCE_PX_PER_MM)
        shares = []
        for y in range(0, wanted.shape[0], tile):
            for x in range(0, wanted.shape[1], tile):
                want = wanted[y : y + tile, x : x + tile]
                if want.sum() >= _FEWEST_IN_TILE:
                    shares.append(float(seen[y : y + tile, x : x + tile][want].mean()))
        return float(np.mean(np.array(shares) >= _TILE_THERE)) if shares else 0.0

    def add(self, sheet: Sheet, one: Laid) -> None:
        """One more page of it."""
        self.sheets.append(sheet)
        if len(self._laid) < _KEPT:
            self._keep(one)

    def _keep(self, one: Laid) -> None:
        self._laid.append(one)
        inks = stacked_ink(self._laid, self.size_mm, GLANCE_PX_PER_MM)
        # Of two pages what is on both; of more what is on most.
        self._print = inks.min(axis=0) if len(inks) == 2 else np.median(inks, axis=0).astype(np.uint8)


def sorted_by_form(sheets: Iterable[Sheet]) -> list[FormPages]:
    """The pages by form and print run, the one with the most pages first.

    ``sheets`` need no finer ink than :data:`GLANCE_PX_PER_MM`. A page on which no print is known stands by itself.
    """
    forms: list[FormPages] = []
    alike: list[tuple[FormPages, FormPages, float]] = []
    for sheet in sheets:
        found = _likest(sheet, forms)
        if found is not None and found.shared >= (_SAME_RUN if len(found.form.sheets) > 1 else _SAME_RUN_OF_ONE):
            found.form.add(sheet, found.laid)
            continue
        forms.append(FormPages.begun_by(sheet))
        if found is not None and found.shared >= _LIKE_RUN:
            alike.append((found.form, forms[-1], found.shared))
    gathered, joined = _gathered(forms)
    for one, other, shared in alike:
        places = sorted(gathered.index(joined.get(id(form), form)) for form in (one, other))
        if places[0] != places[1] and gathered[places[1]].shared < shared:
            gathered[places[1]].like, gathered[places[1]].shared = places[0] + 1, shared
    return gathered


@dataclass(frozen=True, eq=False)
class _Likest:
    form: FormPages
    laid: Laid
    shared: float


def _likest(sheet: Sheet, forms: Sequence[FormPages]) -> _Likest | None:
    """The form of which the page shows the largest share; the first on which it plainly is one of its pages."""
    best: _Likest | None = None
    for form in sorted(forms, key=lambda f: -len(f.sheets)):
        one = form.laid(sheet)
        if one is None:
            continue
        found = _Likest(form, one, form.share_on(one))
        if best is None or found.shared > best.shared:
            best = found
        if found.shared >= _SAME_RUN:
            break
    return best


def _gathered(forms: Sequence[FormPages]) -> tuple[list[FormPages], dict[int, FormPages]]:
    """Forms of which there is a page or two looked at once more; all that are left, and by id() which joined which.

    The first pages of a form are compared with each other's handwriting; now it is known which of it is print.
    """
    by_size = sorted(forms, key=lambda f: -len(f.sheets))
    kept = [form for form in by_size if len(form.sheets) > _FEW]
    joined: dict[int, FormPages] = {}
    for form in by_size[len(kept) :]:
        clean = [larger for larger in kept if len(larger.sheets) > 1]
        found = _likest(form.sheets[0], clean)
        if found is None or found.shared < _SAME_RUN:
            kept.append(form)
            continue
        found.form.add(form.sheets[0], found.laid)
        found.form.sheets.extend(form.sheets[1:])
        joined[id(form)] = found.form
    return sorted(kept, key=lambda f: -len(f.sheets)), joined
