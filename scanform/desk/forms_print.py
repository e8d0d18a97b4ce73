"""Whether the answers of a form under way stand where its blank has something to tick.

A tick is read by the box that it stands in: a box moved by a slip reads the next column's ticks, and one place over
several boxes reads any of their ticks as its own.
"""

from __future__ import annotations

import numpy as np

from scanform.desk.forms_draft import Draft, DraftField
from scanform.desk.forms_fault import Fault
from scanform.form import FieldKind

__all__ = ["beside_print"]

# Of the area that a box to tick and the printed one have together: less, and another box may be meant, or none.
# A judgement: a printed box of 5 mm is met with 1 mm to spare on every side, or beside it by 1.6 mm.
_SHARED = 0.5
BoxMm = tuple[float, float, float, float]  # x, y, width, height
_TICKED = (FieldKind.CHOICE, FieldKind.DECISION)
_RIGHT_AS_IT_IS = "Put that right, or, if it is meant so, press 'Right as it is'."


def beside_print(draft: Draft) -> list[Fault]:
    """Fields whose answers stand beside what is printed to tick, and which nobody has said to be right all the same."""
    if not draft.places_mm:
        return []
    printed = np.array(draft.places_mm)
    said = [(number, _said(field, printed)) for number, field in enumerate(draft.form.fields) if not field.placed]
    return [Fault(part="field", at=number, key="placed", said=words) for number, words in said if words]


def _said(field: DraftField, printed: np.ndarray) -> str:
    """What is wrong with the field's places; ``printed``: float (n, 4), boxes as x, y, width, height in mm."""
    if field.kind in _TICKED:
        off = next((a.answer for a in field.answers if not _meets(a.box_mm, printed).any()), None)
        if off is not None:
            return f"The box of '{off}' lies on no box or cell that is printed on the form. {_RIGHT_AS_IT_IS}"
    if field.kind is FieldKind.MARK and field.box_mm is not None and not _meets(field.box_mm, printed).any():
        under = _apart(_within(field.box_mm, printed))
        if under > 1:
            return f"This place for a sign lies over {under} printed boxes and is none of them. {_RIGHT_AS_IT_IS}"
    return ""


def _meets(own: BoxMm, printed: np.ndarray) -> np.ndarray:
    """Which of the boxes is the same as this one, bool (n,)."""
    across = np.minimum(own[0] + own[2], printed[:, 0] + printed[:, 2]) - np.maximum(own[0], printed[:, 0])
    down = np.minimum(own[1] + own[3], printed[:, 1] + printed[:, 3]) - np.maximum(own[1], printed[:, 1])
    shared = across.clip(0) * down.clip(0)
    return np.asarray(shared >= _SHARED * (own[2] * own[3] + printed[:, 2] * printed[:, 3] - shared))


def _within(own: BoxMm, printed: np.ndarray) -> np.ndarray:
    """Those of the boxes whose middle lies in this one, float (m, 4)."""
    middles = printed[:, :2] + printed[:, 2:] / 2
    inside = (middles > own[:2]) & (middles < np.add(own[:2], own[2:]))
    # What is larger is the table around it.
    return printed[inside.all(axis=1) & (printed[:, 2:] <= own[2:]).all(axis=1)]


def _apart(boxes: np.ndarray) -> int:
    """How many there are, not counting one that is another once more."""
    return sum(not _meets(tuple(box), boxes[:n]).any() for n, box in enumerate(boxes))
