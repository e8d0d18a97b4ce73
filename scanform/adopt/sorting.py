"""A mixed binder sorted into its different forms, by what is printed on the pages; older and newer print runs apart."""

from __future__ import annotations

from collections.abc import Sequence
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


def sorted_by_form(sheets: Sequence[Sheet]) -> list[FormPages]:
    """The pages by form and print run, the one with the most pages first.

    ``sheets`` need no finer ink than :data:`GLANCE_PX_PER_MM`. A page on which no print is known stands by itself.
    """
    forms: list[FormPages] = []
    for sheet in sheets:
        likest: tuple[float, FormPages] | None = None
        for form in sorted(forms, key=lambda f: -len(f.sheets)):
            one = form.laid(sheet)
            if one is None:
                continue
            shared = form.share_on(one)
            if shared >= _SAME_RUN or (len(form.sheets) == 1 and shared >= _SAME_RUN - 0.1):
                form.add(sheet, one)
                break
            likest = max(likest or (0.0, form), (shared, form), key=lambda found: found[0])
        else:
            begun = FormPages.begun_by(sheet)
            if likest is not None and likest[0] >= _LIKE_RUN:
                begun.shared, begun.like = likest[0], forms.index(likest[1])
            forms.append(begun)
    order = sorted(range(len(forms)), key=lambda k: (-len(forms[k].sheets), k))
    for form in forms:
        if form.like is not None:
            form.like = order.index(form.like) + 1
    return [forms[k] for k in order]
