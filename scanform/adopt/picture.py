"""The proposed fields drawn on the blank form, for a person to look over."""

from __future__ import annotations

from itertools import pairwise

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
_ROOM_FOR_NAME_MM = 16.0  # from box to box, so that answers can be written out beside them


def proposal_picture(proposal: Proposal) -> np.ndarray:
    """The blank with every field framed, named and shaded: uint8 (height, width, 3), blue, green, red, at 8 px/mm.

    A field that is not sure has a question mark after its name.
    """
    template = proposal.template
    picture = cv2.imdecode(np.frombuffer(template.picture_png, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None, f"{template.name}: the picture of its blank cannot be opened"
    shade = picture.copy()
    for made in template.fields:
        for box in _boxes(made):
            cv2.rectangle(shade, *_corners(box), _COLOURS[made.kind], -1)
    picture = cv2.addWeighted(shade, _SHADE, picture, 1 - _SHADE, 0)
    for made in template.fields:
        boxes = _boxes(made)
        for box in boxes:
            cv2.rectangle(picture, *_corners(box), _COLOURS[made.kind], 2)
        for box, name in _names(made, proposal.sure.get(made.id, 1.0)):
            _write(picture, name, box, _COLOURS[made.kind])
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
    picture: np.ndarray, name: str, box: tuple[float, float, float, float], colour: tuple[int, int, int]
) -> None:
    """In the box's upper left, or right beside a box that is too small for it."""
    scale = _LETTERS_MM * BLANK_PX_PER_MM / 22
    (wide, high), _ = cv2.getTextSize(name, cv2.FONT_HERSHEY_SIMPLEX, scale, 1)
    (left, top), (right, bottom) = _corners(box)
    fits = wide + 4 < right - left
    place = (left + 4, top + high + 4) if fits else (right + 3, (top + bottom) // 2 + high // 2)
    cv2.putText(picture, name, place, cv2.FONT_HERSHEY_SIMPLEX, scale, (255, 255, 255), 4, cv2.LINE_AA)
    cv2.putText(picture, name, place, cv2.FONT_HERSHEY_SIMPLEX, scale, colour, 1, cv2.LINE_AA)
