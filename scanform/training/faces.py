"""Hands that no training saw: typefaces drawn from handwriting that were kept apart, as ink for the combs.

:mod:`scanform.training.fetch` brings them; its TEST_FACES are neither among the simulator's pens nor in what the
character network or its calibration was fitted on.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from scanform.training.ink import face_ink
from scanform.training.samples import ALPHABET

__all__ = ["KEPT_APART", "face_signs", "kept_apart"]

KEPT_APART = Path(".train_data/faces/test")
_SIDE, _ROWS = 28, 20  # as MNIST has them, so that they are laid into cells the same way
_VARIANTS = 3


def kept_apart(folder: Path = KEPT_APART) -> tuple[Path, ...]:
    """The typefaces that are there, by name; none if they were not fetched."""
    return tuple(sorted(folder.glob("*.ttf")))


@lru_cache(maxsize=16)
def face_signs(path: Path) -> dict[str, np.ndarray]:
    """Every sign of a comb in one such hand, a few times each: uint8 (n, 28, 28), ink high on 0."""
    rng = np.random.default_rng([len(path.stem), *path.stem.encode()])
    return {sign: np.stack([_picture(path, sign, rng) for _ in range(_VARIANTS)]) for sign in ALPHABET[:36]}


def _picture(path: Path, sign: str, rng: np.random.Generator) -> np.ndarray:
    ink = face_ink(path, sign, 6.0, float(rng.uniform(0.85, 1.15)), rng, by_hand=True)
    seen = (np.clip(ink, 0, 1) * 255).astype(np.uint8)
    x, y, w, h = cv2.boundingRect((seen > 40).astype(np.uint8))
    scale = _ROWS / max(w, h, 1)
    size = max(round(w * scale), 1), max(round(h * scale), 1)
    small = cv2.resize(seen[y : y + h, x : x + w], size, interpolation=cv2.INTER_AREA)
    picture = np.zeros((_SIDE, _SIDE), np.uint8)
    top, left = (_SIDE - size[1]) // 2, (_SIDE - size[0]) // 2
    picture[top : top + size[1], left : left + size[0]] = small
    return picture
