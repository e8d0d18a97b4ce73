"""Trains, calibrates and exports the network that tells empty, marked and struck-out tick boxes apart.

    python -m scanform.training.marks --data DIR --out scanform/models [--epochs 18]

reads ``training.npz``, ``odd-training.npz`` and ``calibration.npz`` of :mod:`scanform.training.mark_pages` from DIR and
writes ``marks.onnx`` and ``marks.json``. One thread, seeded. The calibration boxes decide the temperature
and nothing else.
"""

from __future__ import annotations

import argparse
import copy
import json
import time
from pathlib import Path

import numpy as np
import onnxruntime
import torch
from scipy.optimize import minimize_scalar
from torch import Tensor, nn
from torch.nn import functional

from scanform.training.mark_hand import EMPTY_KINDS, KINDS
from scanform.training.mark_pages import LEVELS, Boxes, load_boxes
from scanform.training.network import average_weights

__all__ = ["BoxNetwork", "export", "fit_temperature", "train"]

_SEED = 71
_BATCH = 192
_RATE = 3e-3
# Lines beside the box and other boxes' marks count as they come: they are no rarer on paper than on these pages.
_DIRTY = tuple(n for n in EMPTY_KINDS if n not in map(KINDS.index, ("nothing", "another box's mark", "line beside")))
# Every fifth empty box of the training pages is dirty so that there is enough to learn from; taken as they come, a
# small dot would as often be a touch of the pen as an answer. This leaves ten times what the simulator's crews do.
_DIRT_SHARE = 0.1
_LEAST_VISIBLE_MM2 = 0.15  # what a scan has wiped out teaches nothing: it is an empty box now


class BoxNetwork(nn.Module):
    """45,000 weights, 1.1 million multiplications a box. Takes float32 (n, 32, 32), gives logits (n, 3)."""

    def __init__(self) -> None:
        super().__init__()
        self.body = nn.Sequential(
            _step(1, 24, 5), _step(24, 32, 3), _step(32, 48, 3), _step(48, 48, 3, stride=1),
            nn.Conv2d(48, 96, 4, groups=48), nn.ReLU(), nn.Flatten(), nn.Dropout(0.1),
            nn.Linear(96, 32), nn.ReLU(), nn.Linear(32, 3),
        )  # fmt: skip

    def forward(self, maps: Tensor) -> Tensor:
        """Logits, columns as BOX_STATES."""
        return self.body(maps.unsqueeze(1))


def _step(wide_in: int, wide: int, side: int, stride: int = 2) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(wide_in, wide, side, stride, side // 2, bias=False), nn.BatchNorm2d(wide), nn.ReLU(inplace=True)
    )


def _varied(maps: Tensor, draw: torch.Generator) -> Tensor:
    """Maps as other pens, scanners and left hands would make them."""
    n = len(maps)
    gain = 1 + 0.15 * (2 * torch.rand(n, 1, 1, generator=draw) - 1)
    noise = 0.03 * torch.rand(n, 1, 1, generator=draw) * torch.randn(maps.shape, generator=draw)
    turned = torch.rand(n, generator=draw) < 0.25
    maps = torch.where(turned[:, None, None], maps.flip(2), maps)
    return (maps * gain + noise).clamp(0, 1.25)


def _weights(boxes: Boxes) -> np.ndarray:
    """How much each box counts, float (n,): each state alike, and dirt less often than it was put on the pages."""
    often = np.where(np.isin(boxes.kinds, _DIRTY), _DIRT_SHARE, 1.0)
    often = np.where((boxes.states == 0) | (boxes.visible_mm2 > _LEAST_VISIBLE_MM2), often, 0.0)
    return often / np.bincount(boxes.states, weights=often, minlength=3)[boxes.states]


def train(boxes: Boxes, epochs: int) -> BoxNetwork:
    """The network with its weights averaged over the last passes, in evaluation mode."""
    torch.manual_seed(_SEED)
    draw, rng = torch.Generator().manual_seed(_SEED), np.random.default_rng(_SEED)
    weights = _weights(boxes)
    both = torch.from_numpy(np.stack([boxes.maps, boxes.moved]))
    labels = torch.from_numpy(boxes.states.astype(np.int64))
    count = 3 * int((boxes.states == 2).sum())
    model = BoxNetwork()
    mean = copy.deepcopy(model).eval()
    optimiser = torch.optim.AdamW(model.parameters(), lr=_RATE, weight_decay=0.02)
    steps = epochs * (count // _BATCH)
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, _RATE, steps + epochs, pct_start=0.1)
    began, step = time.monotonic(), 0
    for epoch in range(epochs):
        order, losses = torch.from_numpy(rng.choice(len(weights), count, p=weights / weights.sum())), []
        for start in range(0, len(order) - _BATCH + 1, _BATCH):
            which = order[start : start + _BATCH]
            place = (torch.rand(_BATCH, generator=draw) < 0.5).long()
            maps = _varied(both[place, which].float() / LEVELS, draw)
            loss = functional.cross_entropy(model(maps), labels[which])
            optimiser.zero_grad(set_to_none=True)
            loss.backward()
            optimiser.step()
            schedule.step()
            losses.append(loss.item())
            step += 1
            average_weights(mean, model, 1 - min(0.998, (step + 1) / (step + 20)))
        print(f"pass {epoch}: loss {np.mean(losses):.4f}, {time.monotonic() - began:.0f} s", flush=True)
    return mean


def fit_temperature(logits: np.ndarray, states: np.ndarray, weights: np.ndarray) -> float:
    """The temperature with the least log loss over float (n, 3) logits of int (n,) states; ``weights``: float (n,)."""

    def loss(log_temperature: float) -> float:
        scores = logits / np.exp(log_temperature)
        scores = scores - scores.max(axis=1, keepdims=True)
        return float(((np.log(np.exp(scores).sum(axis=1)) - scores[np.arange(len(states)), states]) * weights).sum())

    return float(np.exp(minimize_scalar(loss, bounds=(-2, 3), method="bounded").x))


def export(model: BoxNetwork, path: Path) -> None:
    """Writes the network as ONNX: input ``maps`` (n, 32, 32), output ``logits`` (n, 3)."""
    torch.onnx.export(
        model, (torch.zeros(2, 32, 32),), str(path), input_names=["maps"], output_names=["logits"],
        dynamic_axes={"maps": {0: "n"}, "logits": {0: "n"}}, opset_version=17, dynamo=False,
    )  # fmt: skip


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--epochs", type=int, default=18)
    given = parser.parse_args()
    torch.set_num_threads(1)
    parts = [load_boxes(given.data / f"{name}.npz") for name in ("training", "odd-training")]
    model = train(Boxes(*(np.concatenate(column) for column in zip(*parts, strict=True))), given.epochs)
    given.out.mkdir(parents=True, exist_ok=True)
    export(model, given.out / "marks.onnx")
    boxes = load_boxes(given.data / "calibration.npz")
    maps = boxes.maps.astype(np.float32) / np.float32(LEVELS)
    session = onnxruntime.InferenceSession(str(given.out / "marks.onnx"), providers=["CPUExecutionProvider"])
    logits = session.run(["logits"], {"maps": maps})[0]
    with torch.no_grad():
        apart = np.abs(model(torch.from_numpy(maps[:2000])).numpy() - logits[:2000]).max()
    temperature = fit_temperature(logits.astype(np.float64), boxes.states, _weights(boxes))
    (given.out / "marks.json").write_text(json.dumps({"temperature": round(temperature, 4)}) + "\n")
    print(f"temperature {temperature:.3f}; the exported network differs by at most {apart:.1e}")


if __name__ == "__main__":
    main()
