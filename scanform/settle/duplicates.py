"""Tell a second scan of one sheet from a second sheet that carries the same serial (a photocopied blank)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scanform.settle.types import SettledField, State

__all__ = ["goes_on", "same_ink", "stands_for"]

_A_BOX = 64  # bytes: 8 x 8
# Mean darkness of 255 from which a box counts as inked: a thin pen's slash gives 10 and more, dust on paper below 3.
_INKED = 8.0
_FEWEST_BOXES = 6  # fewer marks than this leave too little to compare
# Correlation of how each mark departs from its writer's usual one. Measured on simulated pairs, all items answered
# alike, every kind of mark, by 16 writers in five grades (tests/test_duplicates.py repeats 12 in three): two scans of
# one sheet 0.70 to 1.00, lowest for boxes filled solid; two sheets by the same hand -0.07 to 0.21.
_SAME_FROM = 0.45


def same_ink(one: bytes, other: bytes) -> bool | None:
    """Whether two ink signatures are of one sheet; None if there is too little ink on either to tell.

    Signatures as :func:`scanform.read.ink_signature` makes them: uint8, 64 bytes (8 x 8) a box. A hand makes much the
    same mark in every box, on every sheet; what no hand repeats is how each mark departs from the usual one.
    """
    if len(one) != len(other):
        return False
    a, b = (np.frombuffer(signature, np.uint8).astype(np.float64).reshape(-1, _A_BOX) for signature in (one, other))
    inked_a, inked_b = (boxes.mean(axis=1) >= _INKED for boxes in (a, b))
    if min(inked_a.sum(), inked_b.sum()) < _FEWEST_BOXES:
        return None
    # A photo's shadow or a streak may darken boxes of one scan only, so what both show is compared.
    both = inked_a & inked_b
    if both.sum() < _FEWEST_BOXES:
        return False
    a = a[both] - np.median(a[inked_a], axis=0)
    b = b[both] - np.median(b[inked_b], axis=0)
    a, b = a - a.mean(), b - b.mean()
    norm = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return bool((a * b).sum() / norm >= _SAME_FROM) if norm else None


def goes_on(earlier: Sequence[SettledField], later: Sequence[SettledField]) -> bool:
    """Whether ``later`` says all that ``earlier`` does and has more signs: a week's sheet scanned again some days on.

    Doubtful fields contradict nothing. False for sheets of one day: they are finished when they are first scanned.
    """
    after = {field.id: field for field in later}
    for field in earlier:
        other = after.get(field.id)
        if not _written(field) or field.kind == "text" or field.state is State.DOUBTFUL:
            continue
        if other is None or (other.state is not State.DOUBTFUL and other.value != field.value):
            return False
    signs, more = (sum(_written(f) for f in fields if f.kind == "mark") for fields in (earlier, later))
    return 0 < signs < more


def stands_for(later: Sequence[SettledField], earlier: Sequence[SettledField]) -> bool:
    """Whether lists may go by ``later`` alone: it goes on from ``earlier``, and nothing sure is lost with that.

    As sure must be what a person has confirmed on ``earlier``, and what was surely read there of defects.
    """
    after = {field.id: field for field in later}
    return goes_on(earlier, later) and all(_said_as_surely(f, after.get(f.id)) for f in earlier if _to_be_kept(f))


def _to_be_kept(field: SettledField) -> bool:
    of_defects = field.value == "defect" or field.id.startswith("defect.")
    return _written(field) and (field.state is State.CONFIRMED or (field.state is State.ACCEPTED and of_defects))


def _said_as_surely(field: SettledField, other: SettledField | None) -> bool:
    if other is None or other.state is State.DOUBTFUL:
        return False
    if field.kind != "text":
        return other.value == field.value
    # A machine reads the same words a little differently each time; a person's words are what stands there.
    same = str(other.value).casefold() == str(field.value).casefold()
    return _written(other) and (same or field.state is State.ACCEPTED)


def _written(field: SettledField) -> bool:
    return field.value not in (None, "", False)
