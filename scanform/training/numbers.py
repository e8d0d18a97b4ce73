"""Trains the network that reads dates, numbers and unit numbers in free writing, and writes it as ONNX.

    python -m scanform.training.numbers --lines FILE.npz... --checks FILE.npz --out OUT --seconds 400

Lines are made by :mod:`scanform.training.line_data`. Runs on a GPU if there is one. Needs the ``train`` extra.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from scanform.training.characters import Averaged
from scanform.training.number_network import NumberNetwork, varied_lines
from scanform.training.onnx_files import export_lines, halve_weights
from scanform.training.written_lines import SIGNS, load_lines

_BATCH_PX = 256 * 200  # lines of about the same width a batch, as many as have together so many columns
_RATE = 2e-3
_SEED = 11


class _Lines:
    """All lines on one device, by width, so that a batch needs little padding."""

    def __init__(self, pictures: Sequence[np.ndarray], texts: Sequence[str], device: torch.device) -> None:
        order = np.argsort([picture.shape[1] for picture in pictures], kind="stable")
        self.device = device
        self.generator = torch.Generator(device=device).manual_seed(_SEED)
        self.rng = np.random.default_rng(_SEED)
        self.widths = np.array([pictures[n].shape[1] for n in order])
        self.ink = torch.from_numpy(np.hstack([pictures[n] for n in order])).to(device)
        self.starts = torch.from_numpy(np.concatenate([[0], np.cumsum(self.widths)[:-1]])).to(device)
        self.wide = torch.from_numpy(self.widths).to(device)
        self.targets = [[1 + SIGNS.index(sign) for sign in texts[n] if sign in SIGNS] for n in order]

    def drawn(self) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """A batch from anywhere, every line varied."""
        lines, targets, lengths, steps = self.batch(int(self.rng.integers(len(self.widths))))
        return varied_lines(lines, self.generator), targets, lengths, steps

    def batch(self, first: int) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Lines (n, 40, width) from the first on, targets one after the other, their lengths, steps a line."""
        count = max(8, _BATCH_PX // int(self.widths[first]))
        chosen = np.arange(first, min(first + count, len(self.widths)))
        width = int(self.widths[chosen].max()) + 8
        width += -width % 4
        which = torch.from_numpy(chosen).to(self.device)
        columns = torch.arange(width, device=self.device)
        inside = columns[None] < self.wide[which][:, None]
        places = (self.starts[which][:, None] + columns[None]).clamp(max=self.ink.shape[1] - 1)
        lines = self.ink[:, places].permute(1, 0, 2).float() / 255 * inside[:, None]
        flat = torch.tensor([sign for n in chosen for sign in self.targets[n]], device=self.device)
        lengths = torch.tensor([len(self.targets[n]) for n in chosen], device=self.device)
        return lines, flat, lengths, torch.full_like(lengths, width // 4)


def _learn(lines: _Lines, seconds: float, device: torch.device) -> nn.Module:
    torch.manual_seed(_SEED)
    learner = Averaged(NumberNetwork(len(SIGNS) + 1), _RATE, device)
    began = time.monotonic()
    while (progress := (time.monotonic() - began) / seconds) < 1:
        shown, targets, lengths, steps = lines.drawn()

        def loss(
            model: nn.Module, shown: Tensor = shown, targets: Tensor = targets, lengths: Tensor = lengths,
            steps: Tensor = steps,
        ) -> Tensor:  # fmt: skip
            with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
                logits = model(shown)
            logs = functional.log_softmax(logits.float(), 2).transpose(0, 1)
            return functional.ctc_loss(logs, targets, steps, lengths, zero_infinity=True)

        value = learner.learn(loss, progress)
        if learner.step % 1000 == 1:
            print(f"  step {learner.step} loss {value:.4f} {time.monotonic() - began:.0f} s", flush=True)
    return learner.mean


@torch.no_grad()
def _report(name: str, model: nn.Module, lines: _Lines) -> None:
    """Prints how many lines are read right, letter by letter along the best path."""
    right = count = 0
    loss = 0.0
    at = 0
    while at < len(lines.widths):
        shown, targets, lengths, steps = lines.batch(at)
        logs = functional.log_softmax(model(shown).float(), 2)
        loss += float(functional.ctc_loss(logs.transpose(0, 1), targets, steps, lengths, reduction="sum"))
        for n, path in enumerate(logs.argmax(2).cpu().numpy()):
            kept = path[np.concatenate([[True], path[1:] != path[:-1]])]
            right += kept[kept > 0].tolist() == lines.targets[at + n]
        count += len(shown)
        at += len(shown)
    print(f"{name}: {count} lines, {right / count:.4f} read right, log loss a line {loss / count:.4f}", flush=True)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lines", type=Path, nargs="+", required=True)
    parser.add_argument("--checks", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=400)
    given = parser.parse_args()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = False  # every batch has another width
    torch.set_float32_matmul_precision("high")
    given.out.mkdir(parents=True, exist_ok=True)
    model = _learn(_Lines(*load_lines(given.lines), device), given.seconds, device)
    _report("held back", model, _Lines(*load_lines([given.checks]), device))
    export_lines(model, given.out / "number_line.onnx")
    halve_weights(given.out / "number_line.onnx")


if __name__ == "__main__":
    main()
