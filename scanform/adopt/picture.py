"""The proposed fields drawn on the blank form, for a person to look over."""

from __future__ import annotations

from itertools import pairwise, product

import cv2
import numpy as np

from scanform.adopt.propose import Proposal
from scanform.form import BLANK_PX_PER_MM, AdoptedField, FieldKind

__all__ = ["proposal_picture"]

# Blue, green, red; light enough for the print to be read through, apart for eyes that tell red and green badly.
_COLOURS = {
    FieldKind.COMB: (200, 120, 0),
    FieldKind.CHOICE: (170, 60, 190),
    FieldKind.DECISION: (170, 60, 190),
    FieldKind.MARK: (170, 60, 190),
    FieldKind.CIRCLE: (170, 60, 190),
    FieldKind.TEXT: (0, 120, 0),
    FieldKind.SIGNATURE: (0, 90, 200),
    FieldKind.DATE: (200, 120, 0),
    FieldKind.NUMBER: (200, 120, 0),
}
_UNSURE = 0.7
_SHADE = 0.16
_LETTERS_MM = 2.4
_RIM_PX = 4  # between a name and its box's frame
_PRINT_GREY = 160
# Times a name's height: as much of its own frame a box may show in one corner and not in another.
_AS_EMPTY_PX = 4
_ROOM_FOR_NAME_MM = 16.0  # from box to box, so that answers can be written out beside them


def proposal_picture(proposal: Proposal) -> np.ndarray:
    """The blank with every field framed, named and shaded: uint8 (height, width, 3), blue, green, red, at 8 px/mm.

    A field that is not sure has a question mark after its name.
    """
    template = proposal.template
    blank = cv2.imdecode(np.frombuffer(template.picture_png, np.uint8), cv2.IMREAD_COLOR)
    assert blank is not None, f"{template.name}: the picture of its blank cannot be opened"
    shade = blank.copy()
    for made in template.fields:
        for box in _boxes(made):
            cv2.rectangle(shade, *_corners(box), _COLOURS[made.kind], -1)
    picture = cv2.addWeighted(shade, _SHADE, blank, 1 - _SHADE, 0)
    for made in template.fields:
        boxes = _boxes(made)
        for box in boxes:
            cv2.rectangle(picture, *_corners(box), _COLOURS[made.kind], 2)
        for box, name in _names(made, proposal.sure.get(made.id, 1.0)):
            _write(picture, blank, name, box, _COLOURS[made.kind])
    return picture


def _boxes(made: AdoptedField) -> list[tuple[float, float, float, float]]:
    own = [made.box_mm] if made.box_mm is not None else []
    return [*own, *made.cells_mm, *(answer.box_mm for answer in made.answers)]


def _names(made: AdoptedField, sure: float) -> list[tuple[tuple[float, float, float, float], str]]:
    doubt = "?" if sure < _UNSURE else ""
    if made.answers:
        starts = [answer.box_mm[0] for answer in made.answers]
        apart = min((b - a for a, b in pairwise(starts)), default=_ROOM_FOR_NAME_MM)
        short = apart < _ROOM_FOR_NAME_MM
        return [(a.box_mm, a.answer[0] if short else a.answer + doubt) for a in made.answers]
    if made.kind is FieldKind.MARK and made.id.count(".") == 2:
        return []  # a grid's cells: their names would cover them
    return [(_boxes(made)[0], made.id.removeprefix("item.") + doubt)]


def _corners(box: tuple[float, float, float, float]) -> tuple[tuple[int, int], tuple[int, int]]:
    x, y, w, h = (value * BLANK_PX_PER_MM for value in box)
    return (round(x), round(y)), (round(x + w), round(y + h))


def _write(
    picture: np.ndarray,
    blank: np.ndarray,
    name: str,
    box: tuple[float, float, float, float],
    colour: tuple[int, int, int],
) -> None:
    """In the corner of the box that the form leaves emptiest, or right beside a box that is too small for it."""
    scale = _LETTERS_MM * BLANK_PX_PER_MM / 22
    (wide, high), _ = cv2.getTextSize(name, cv2.FONT_HERSHEY_SIMPLEX, scale, 1)
    (left, top), (right, bottom) = _corners(box)
    if wide + _RIM_PX < right - left:
        starts, feet = (left + _RIM_PX, right - wide - _RIM_PX), (top + high + _RIM_PX, bottom - _RIM_PX)
        corners = [(x, y) for y in feet for x in starts]
        printed = [_print_under(blank, corner, wide, high) for corner in corners]
        # A name stays upper left, where the eye looks for it, unless another corner is clearly emptier.
        spare = _AS_EMPTY_PX * high
        place = next(corner for corner, px in zip(corners, printed, strict=True) if px <= min(printed) + spare)
    else:
        place = (right + 3, (top + bottom) // 2 + high // 2)
    for aside in product((-2, 0, 2), repeat=2):  # thicker letters would be wider ones, and not lie behind these
        _letters(picture, name, (place[0] + aside[0], place[1] + aside[1]), scale, (255, 255, 255))
    _letters(picture, name, place, scale, colour)


def _letters(picture: np.ndarray, name: str, foot: tuple[int, int], scale: float, colour: tuple[int, int, int]) -> None:
    cv2.putText(picture, name, foot, cv2.FONT_HERSHEY_SIMPLEX, scale, colour, 1, cv2.LINE_AA)


def _print_under(blank: np.ndarray, foot: tuple[int, int], wide: int, high: int) -> int:
    """Printed pixels of the blank, uint8 (height, width, 3), under and beside a name whose lower left is ``foot``."""
    x, y = foot
    near = blank[max(y - high - _RIM_PX, 0) : y + 3 * _RIM_PX, max(x - _RIM_PX, 0) : x + wide + _RIM_PX]
    return int((near.min(axis=2, initial=255) < _PRINT_GREY).sum())
