"""Written signs as arrays: what :mod:`scanform.training.symbol_pages` makes, :mod:`scanform.training.symbols` learns.

Nothing here needs more than numpy, so that the training can run on a machine without the rest of scanform's needs.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np

__all__ = ["GRADES", "LEVELS", "RIM_PX", "SYMBOLS", "Signs", "load_signs"]

# As scanform.read.symbols and scanform.simulate.Grade have them; tests/test_symbols.py holds them together.
SYMBOLS = ("blank", "tick", "cross", "dash", "letters", "other", "struck")
GRADES = ("office", "worn", "bitonal", "phone", "fax")
LEVELS = 200.0  # maps are kept as bytes, this many steps from paper to print
RIM_PX = 3  # kept round each map, 0.5 mm, so that the training can move them


class Signs(NamedTuple):
    """Boxes as the reader sees them.

    ``maps``: uint8 (n, 54, 54), :func:`scanform.read.symbols.symbol_maps` times LEVELS with a rim of RIM_PX;
    ``symbols``: int8 (n,), index in SYMBOLS; ``kinds``: str (n,), what was drawn; ``grades``: int8 (n,), index in
    GRADES.
    """

    maps: np.ndarray
    symbols: np.ndarray
    kinds: np.ndarray
    grades: np.ndarray


def load_signs(path: Path) -> Signs:
    """What ``scanform.training.symbol_pages`` wrote."""
    with np.load(path) as stored:
        return Signs(*(stored[name] for name in Signs._fields))
