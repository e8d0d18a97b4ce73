"""Tell a second scan of one sheet from a second sheet that carries the same serial (a photocopied blank)."""

from __future__ import annotations

import numpy as np

__all__ = ["same_ink"]

# Correlation of the two ink pictures. Fitted by eye on simulated pairs: two scans of one sheet 0.86 to 0.99,
# two sheets filled in by the same hand 0.05 to 0.6 (see tests/test_duplicates.py).
_SAME_FROM = 0.75
_LEAST_INK = 40.0  # of 255, standard deviation below which there is nothing to compare


def same_ink(one: bytes, other: bytes) -> bool | None:
    """Whether two ink signatures are of one sheet; None if there is too little ink on either to tell.

    Signatures as :func:`scanform.read.ink_signature` makes them: uint8, 64 bytes (8 x 8) a box.
    """
    a, b = (np.frombuffer(s, np.uint8).astype(np.float64) for s in (one, other))
    if a.shape != b.shape:
        return False
    if min(np.abs(a).max(initial=0), np.abs(b).max(initial=0)) < _LEAST_INK:
        return None
    a, b = a - a.mean(), b - b.mean()
    norm = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return bool((a * b).sum() / norm >= _SAME_FROM) if norm else None
