"""An invented crew and invented fleet numbers, for pages that name somebody."""

from __future__ import annotations

import numpy as np

__all__ = ["CREW", "random_unit"]

CREW: tuple[str, ...] = (
    "Abel Thorne",
    "Bess Calloway",
    "Carl Winnick",
    "Dora Pell",
    "Emmet Vance",
    "Faye Ostrow",
    "Gil Harmon",
    "Hanna Brook",
    "Ivor Stead",
    "Jo Maddock",
    "Kurt Lindley",
    "Lena Frost",
    "Moss Tadley",
    "Nora Quill",
    "Otis Granger",
    "Pia Sandoval",
    "Quentin Rudd",
    "Rosa Helms",
    "Sam Yarrow",
    "Tess Bixby",
    "Ulf Jensrud",
    "Vera Zandt",
    "Walt Keppler",
    "Yann Oakes",
)
_KINDS = ("WL", "HT", "EX", "DZ", "GR", "FL", "TR", "C", "D", "L", "SM", "RB")


def random_unit(cells: int, rng: np.random.Generator) -> str:
    """A fleet number of capitals and digits that fits in ``cells``."""
    style = int(rng.integers(0, 3))
    if style == 0 or cells < 4:
        return str(rng.integers(10, 10 ** min(cells, 4)))
    letters = str(rng.choice(_KINDS))
    digits = min(cells - len(letters), int(rng.integers(2, 5)))
    number = str(rng.integers(1, 10**digits))
    return letters + (number.zfill(digits) if style == 1 else number)
