"""Open our own small networks: an ONNX file and the constants beside it, most of them in ``scanform/models``."""

from __future__ import annotations

import json
from importlib import resources
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import onnxruntime

__all__ = ["open_network", "softmax"]


def open_network(
    name: str, package: str = "scanform.models", constants: str | None = None
) -> tuple[onnxruntime.InferenceSession, dict[str, Any]]:
    """``(session, constants)`` of a package's ``<name>.onnx`` and ``.json``; one thread: pages go to many processes.

    ``constants``: the name of the JSON file, if another network has the same.
    """
    # Not at the top: whoever only compares strings needs no network.
    import onnxruntime

    models = resources.files(package)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    network = (models / f"{name}.onnx").read_bytes()
    session = onnxruntime.InferenceSession(network, options, providers=["CPUExecutionProvider"])
    return session, json.loads((models / f"{constants or name}.json").read_text())


def softmax(scores: np.ndarray) -> np.ndarray:
    """Probabilities of float (n, k) scores: rows sum to 1."""
    weights = np.exp(scores - scores.max(axis=1, keepdims=True))
    return weights / weights.sum(axis=1, keepdims=True)
