"""Which sheets anybody filled in, and which came back empty, such as one of a pad with unit and date printed.

A sheet is filled in with an answer, a meter reading or a signature on it; words about a defect are an answer too. What
is printed, the operator's name and the workshop's block say nothing of a check.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from scanform.binder import Binder
from scanform.form.layout import FieldKind
from scanform.report.frames import rows
from scanform.settle.types import State

__all__ = ["EMPTY", "FILLED", "PERHAPS", "how_filled"]

FILLED, PERHAPS, EMPTY = "filled", "perhaps", "empty"
_ANSWERS = (FieldKind.CHOICE, FieldKind.MARK, FieldKind.CIRCLE)
_BY_HAND = ("fit", "hours", "signature", "initials", "defect", "remarks", "note")
# Nearly every filled sheet says one of these beyond doubt; the rest are looked at field by field.
_TELLING = ("fit", "hours", "signature")
_NOT_SAID = (None, "", "false", False)


def how_filled(binder: Binder, sheets: Sequence[int]) -> dict[int, str]:
    """Of each sheet ``FILLED``, ``PERHAPS`` (all that may stand on it is doubtful) or ``EMPTY``.

    A form that has no place for any of it cannot come back empty: its sheets are filled.
    """
    left = {int(number) for number in sheets}
    found: dict[int, str] = {}
    for field_id in _TELLING:
        if not left:
            break
        written = binder.written_columns([field_id], sorted(left))
        sure = written[(written["state"] != State.DOUBTFUL.value) & ~written["value"].isin(_NOT_SAID)]
        said = left & {int(number) for number in sure["sheet"]}
        found |= dict.fromkeys(said, FILLED)
        left -= said
    return found | _looked_through(binder, sorted(left))


def _looked_through(binder: Binder, sheets: Sequence[int]) -> dict[int, str]:
    said: dict[int, list[str]] = defaultdict(list)
    for row in rows(binder.field_columns(sheets)) if sheets else ():
        if row.kind in _ANSWERS or row.field.partition(".")[0] in _BY_HAND:
            blank = EMPTY if row.value in _NOT_SAID else FILLED
            said[int(row.sheet)].append(PERHAPS if row.state == State.DOUBTFUL.value else blank)
    best = (FILLED, PERHAPS, EMPTY)
    return {number: min(said[number], key=best.index) if number in said else FILLED for number in sheets}
