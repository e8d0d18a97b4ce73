"""The strings that a comb's cells may hold, by what each cell may hold."""

from __future__ import annotations

from operator import itemgetter

import numpy as np

from scanform.read.characters import ALPHABET

__all__ = ["EMPTY", "best_strings"]

EMPTY = " "  # stands for an empty cell in the strings of a comb
_SIGNS = ALPHABET + EMPTY


def best_strings(rows: np.ndarray, count: int) -> list[tuple[str, float]]:
    """The ``count`` most probable strings of float (cells, 37) rows, best first, cells being independent."""
    beams: list[tuple[str, float]] = [("", 1.0)]
    for row, top in zip(rows.tolist(), np.argsort(rows, axis=1)[:, ::-1][:, :count].tolist(), strict=True):
        signs = [(_SIGNS[k], row[k]) for k in top]
        # The i-th best string with the j-th best sign has i x j - 1 strings before it.
        grown = [
            (text + sign, weight * share)
            for i, (text, weight) in enumerate(beams, 1)
            for sign, share in signs[: count // i]
        ]
        beams = sorted(grown, key=itemgetter(1), reverse=True)[:count]
    return beams
