"""Read a line of handwriting with the recogniser that the rapidocr wheel carries, run through onnxruntime.

The network is PP-OCR's small recognition model (Apache-2.0). It knows 18,710 characters; only Latin print matters on
our sheets, so its output layer is cut down to those when it is loaded, and its softmax shares out all probability among
them.
"""

from __future__ import annotations

import string
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np
import onnxruntime

from scanform.read.output_classes import metadata_of, with_classes

__all__ = ["LATIN", "LineReader", "LineText", "model_file", "network_input"]

LATIN = string.ascii_letters + string.digits + " .,;:'\"!?()/-+&%#=*"
_HEIGHT_PX = 48  # what the network was trained on
_LEAST_WIDTH_PX = 48


class LineText(NamedTuple):
    """Text of one line; ``probability`` that each character is right, multiplied; ``steps`` float32 (t, classes)."""

    text: str
    probability: float
    weakest: float
    steps: np.ndarray


def model_file() -> Path:
    """The network's file in the installed rapidocr package."""
    spec = find_spec("rapidocr")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError("rapidocr, which carries the line recogniser, is not installed")
    found = sorted((Path(spec.origin).parent / "models").glob("*rec*.onnx"))
    if not found:
        raise FileNotFoundError(f"the rapidocr package in {Path(spec.origin).parent} carries no recognition model")
    return found[-1]


def network_input(line: np.ndarray) -> np.ndarray:
    """A line, uint8 (height, width) grey, as the network wants it: float32 (1, 3, 48, 8 n), -1 to 1."""
    scale = _HEIGHT_PX / line.shape[0]
    width = max(_LEAST_WIDTH_PX, round(line.shape[1] * scale))
    resized = cv2.resize(line, (width, _HEIGHT_PX), interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
    # The network downsamples eightfold across: pad to a whole step with paper.
    padded = cv2.copyMakeBorder(resized, 0, 0, 8, 8 + -width % 8, cv2.BORDER_CONSTANT, value=255)
    values = padded.astype(np.float32) / 127.5 - 1
    return np.ascontiguousarray(np.broadcast_to(values, (1, 3, *values.shape)))


class LineReader:
    """The line recogniser, loaded once; one thread."""

    def __init__(self) -> None:
        """Loads the network from the rapidocr package and its character list from the network's metadata."""
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.inter_op_num_threads = 1
        model = model_file().read_bytes()
        characters = metadata_of(model)["character"].splitlines()
        # Class 0 is CTC's blank; the space is the last class and has no line of its own.
        classes = {char: n + 1 for n, char in enumerate(characters)}
        classes.setdefault(" ", len(characters) + 1)
        self.alphabet = [char for char in LATIN if char in classes]
        model = with_classes(model, len(characters) + 2, [0] + [classes[char] for char in self.alphabet])
        self._session = onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
        self._input = self._session.get_inputs()[0].name

    def read(self, line: np.ndarray) -> LineText:
        """Read one line: uint8 (height, width) grey, dark on light, cut close to the writing."""
        return self._greedy(self._session.run(None, {self._input: network_input(line)})[0][0])

    def _greedy(self, steps: np.ndarray) -> LineText:
        best = steps.argmax(axis=1)
        peak = steps.max(axis=1)
        chars, probability, weakest, previous = [], 1.0, 1.0, 0
        for column, value in zip(best.tolist(), peak.tolist(), strict=True):
            if column and column != previous:
                chars.append(self.alphabet[column - 1])
                probability *= value
                weakest = min(weakest, value)
            previous = column
        text = " ".join("".join(chars).split())
        return LineText(text, float(probability), float(weakest) if chars else 0.0, steps)
