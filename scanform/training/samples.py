"""The labelled glyphs of the character network, as they lie on disk. Needs nothing but numpy."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np

__all__ = ["ALPHABET", "EMPTY", "KINDS", "OTHER", "Samples", "load_samples"]

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
OTHER, EMPTY = 36, 37  # labels beyond the alphabet: no single clean character; nothing but dirt

# Where a glyph comes from; stored with it, so that figures can be given apart.
KINDS = ("real digit", "strokes", "typeface", "print", "scribble", "crossed out", "overwritten", "two", "sign", "empty")


class Samples(NamedTuple):
    """``glyphs`` uint8 (n, 28, 28), ink 255; ``ink_mm2`` float32 (n,); ``labels``, ``kinds``, ``grades`` int (n,).

    ``labels`` index :data:`ALPHABET`, or are :data:`OTHER` or :data:`EMPTY`; ``kinds`` index :data:`KINDS`,
    ``grades`` index :data:`scanform.training.cells.GRADES`, -1 for a real digit that saw no cell.
    """

    glyphs: np.ndarray
    ink_mm2: np.ndarray
    labels: np.ndarray
    kinds: np.ndarray
    grades: np.ndarray


def load_samples(path: Path) -> Samples:
    """What :func:`make_samples` gave, from its file."""
    with np.load(path) as stored:
        return Samples(*(stored[name] for name in Samples._fields))
