"""Tell a second scan of one sheet from a second sheet that carries the same serial (a photocopied blank)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scanform.settle.types import SettledField, State

__all__ = ["goes_on", "same_ink"]

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


def _written(field: SettledField) -> bool:
    return field.value not in (None, "", False)
