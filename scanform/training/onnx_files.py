"""Write trained networks as ONNX files."""

from __future__ import annotations

import copy
from pathlib import Path

import numpy as np
import onnx
import torch
from torch import nn

__all__ = ["export", "export_lines", "halve_weights"]

_LARGE = 1024  # weights of a layer from which on halving them counts


def export(model: nn.Module, path: Path) -> None:
    """Writes a network as ONNX: input ``glyphs`` (n, 28, 28), output ``logits`` (n, classes)."""
    _write(model, path, torch.zeros(2, 28, 28), {"glyphs": {0: "n"}, "logits": {0: "n"}})


def export_lines(model: nn.Module, path: Path) -> None:
    """The same for one that reads lines: input ``lines`` (n, 40, width), output ``logits`` (n, steps, classes)."""
    _write(model, path, torch.zeros(1, 40, 160), {"lines": {0: "n", 2: "width"}, "logits": {0: "n", 1: "steps"}})


def _write(model: nn.Module, path: Path, example: torch.Tensor, axes: dict[str, dict[int, str]]) -> None:
    """``axes``: of the input and the output, by name, those that may have any length."""
    shown, given = axes
    torch.onnx.export(
        copy.deepcopy(model).eval().cpu().float(), (example,), str(path), input_names=[shown], output_names=[given],
        dynamic_axes=axes, opset_version=17, dynamo=False,
    )  # fmt: skip


def halve_weights(path: Path) -> None:
    """Rewrites an ONNX file with its large weights in 16 bits, widened again as it is loaded: half the bytes."""
    network = onnx.load(path)
    graph = network.graph
    widened = []
    for weights in graph.initializer:
        values = onnx.numpy_helper.to_array(weights)
        if values.dtype != np.float32 or values.size < _LARGE:
            continue
        name = weights.name
        weights.CopyFrom(onnx.numpy_helper.from_array(values.astype(np.float16), f"{name}.half"))
        widened.append(onnx.helper.make_node("Cast", [f"{name}.half"], [name], to=onnx.TensorProto.FLOAT))
    nodes = [*widened, *graph.node]
    del graph.node[:]
    graph.node.extend(nodes)
    onnx.save(network, path)
