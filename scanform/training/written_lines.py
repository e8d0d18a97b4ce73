"""Written lines to teach a recogniser with, as they lie on disk. Needs nothing but numpy."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

__all__ = ["SIGNS", "load_lines", "save_lines"]

SIGNS = "0123456789abcdefghijklmnopqrstuvwxyz.,/-' "  # as in scanform.read.old.number_line, which needs OpenCV


def save_lines(file: Path, pictures: Sequence[np.ndarray], texts: Sequence[str]) -> None:
    """``pictures``: uint8 (40, width), ink 255 on 0; ``texts``: what is written on each, small letters."""
    widths = np.array([picture.shape[1] for picture in pictures])
    np.savez_compressed(file, ink=np.hstack(list(pictures)), widths=widths, texts=np.array(texts))


def load_lines(files: Sequence[Path]) -> tuple[list[np.ndarray], list[str]]:
    """What :func:`save_lines` wrote, of all files together."""
    pictures: list[np.ndarray] = []
    texts: list[str] = []
    for file in files:
        with np.load(file) as data:
            whole, widths = data["ink"], data["widths"]
            texts += [str(text) for text in data["texts"]]
        ends = np.cumsum(widths)
        pictures += [whole[:, end - width : end] for end, width in zip(ends, widths, strict=True)]
    return pictures, texts
