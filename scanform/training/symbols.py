"""Trains, calibrates and exports the network that tells written signs apart, and measures it.

    python -m scanform.training.symbols --data DIR --out scanform/models [--epochs 40] [--seconds 400]

reads ``symbols-training.npz``, ``symbols-calibration.npz`` and ``symbols-test.npz`` of
:mod:`scanform.training.symbol_pages` from DIR and writes ``symbols.onnx`` and ``symbols.json``; with ``--report`` it
only prints what the test boxes say of the network there. Seeded; on a GPU if there is one. The calibration boxes decide
the temperature and nothing else.
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
from torch import Tensor, nn
from torch.nn import functional

from scanform.training.network import average_weights
from scanform.training.symbol_data import GRADES, LEVELS, RIM_PX, SYMBOLS, Signs, load_signs

__all__ = ["SymbolNetwork", "export", "fit_temperature", "report", "train"]

_SEED = 73
_BATCH = 256
_RATE = 3e-3


class SymbolNetwork(nn.Module):
    """Some 95,000 weights, 4 million multiplications a box. Takes float32 (n, 48, 48), gives logits (n, 7)."""

    def __init__(self) -> None:
        super().__init__()
        self.body = nn.Sequential(
            _step(1, 16, 5, 2), _step(16, 32, 3, 2), _step(32, 48, 3, 1), _step(48, 64, 3, 2), _step(64, 64, 3, 1),
            nn.Conv2d(64, 128, 6, groups=64), nn.ReLU(), nn.Flatten(), nn.Dropout(0.15),
            nn.Linear(128, 48), nn.ReLU(), nn.Linear(48, len(SYMBOLS)),
        )  # fmt: skip

    def forward(self, maps: Tensor) -> Tensor:
        """Logits, columns as SYMBOLS."""
        return self.body(maps.unsqueeze(1))


def _step(wide_in: int, wide: int, side: int, stride: int) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(wide_in, wide, side, stride, side // 2, bias=False), nn.BatchNorm2d(wide), nn.ReLU(inplace=True)
    )


def _varied(maps: Tensor, draw: torch.Generator) -> Tensor:
    """Float (n, 54, 54) maps with their rim as (n, 48, 48): moved, turned, stretched, lighter or darker, noisy."""
    n, side = len(maps), maps.shape[1] - 2 * RIM_PX
    device = maps.device

    def normal(*shape: int) -> Tensor:
        return torch.randn(*shape, device=device, generator=draw)

    def uniform(*shape: int) -> Tensor:
        return torch.rand(*shape, device=device, generator=draw)

    scale = side / maps.shape[1]
    turn = (normal(n) * 0.03).clamp(-0.08, 0.08)
    wide, high = scale * (1 + 0.03 * normal(n).clamp(-2, 2)), scale * (1 + 0.03 * normal(n).clamp(-2, 2))
    # A locating error of 0.25 mm at most, in units of half the map.
    shift = (normal(n, 2) * 0.6).clamp(-1.5, 1.5) * 2 / maps.shape[1]
    affine = torch.stack([
        torch.stack([wide * torch.cos(turn), wide * torch.sin(turn), shift[:, 0]], 1),
        torch.stack([-high * torch.sin(turn), high * torch.cos(turn), shift[:, 1]], 1),
    ], 1)  # fmt: skip
    grid = functional.affine_grid(affine, [n, 1, side, side], align_corners=False)
    x = functional.grid_sample(maps.unsqueeze(1), grid, align_corners=False, padding_mode="border").squeeze(1)
    gain = 1 + 0.2 * (2 * uniform(n, 1, 1) - 1)
    return (x * gain + 0.04 * uniform(n, 1, 1) * normal(*x.shape)).clamp(0, 1.25)


def inner(maps: np.ndarray) -> np.ndarray:
    """Maps uint8 (n, 54, 54) as the reader gets them: float32 (n, 48, 48)."""
    return maps[:, RIM_PX:-RIM_PX, RIM_PX:-RIM_PX].astype(np.float32) / np.float32(LEVELS)


def train(signs: Signs, epochs: int, seconds: float) -> SymbolNetwork:
    """The network with its weights averaged over the last passes, in evaluation mode; at most about ``seconds``."""
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(_SEED)
    draw, rng = torch.Generator(device).manual_seed(_SEED), np.random.default_rng(_SEED)
    often = 1.0 / np.bincount(signs.symbols, minlength=len(SYMBOLS))[signs.symbols]
    maps, labels = torch.from_numpy(signs.maps).to(device), torch.from_numpy(signs.symbols.astype(np.int64)).to(device)
    model = SymbolNetwork().to(device)
    mean = copy.deepcopy(model).eval()
    optimiser = torch.optim.AdamW(model.parameters(), lr=_RATE, weight_decay=0.02)
    count = len(signs.symbols) // _BATCH * _BATCH
    steps = epochs * (count // _BATCH)
    began, step = time.monotonic(), 0
    for epoch in range(epochs):
        order = torch.from_numpy(rng.choice(len(often), count, p=often / often.sum())).to(device)
        losses = []
        for start in range(0, count, _BATCH):
            # One cycle over the passes or the time there is, whichever ends first.
            done = max(step / steps, (time.monotonic() - began) / seconds)
            rate = _RATE * min(done / 0.1, max(1 - (done - 0.1) / 0.9, 0.0))
            for group in optimiser.param_groups:
                group["lr"] = max(rate, 1e-6)
            which = order[start : start + _BATCH]
            scores = model(_varied(maps[which].float() / LEVELS, draw))
            loss = functional.cross_entropy(scores, labels[which], label_smoothing=0.003)
            optimiser.zero_grad(set_to_none=True)
            loss.backward()
            optimiser.step()
            losses.append(loss.detach())
            step += 1
            average_weights(mean, model, 1 - min(0.998, (step + 1) / (step + 20)))
        print(f"pass {epoch}: loss {torch.stack(losses).mean():.4f}, {time.monotonic() - began:.0f} s", flush=True)
        if time.monotonic() - began > seconds:
            break
    return mean.cpu()


def fit_temperature(logits: np.ndarray, symbols: np.ndarray) -> float:
    """The temperature with the least log loss over float (n, 7) logits of int (n,) symbols, each symbol alike."""
    weights = 1.0 / np.bincount(symbols, minlength=logits.shape[1])[symbols]
    tried = np.exp(np.linspace(-1.5, 2.0, 141))
    losses = []
    for temperature in tried:
        scores = logits / temperature
        scores = scores - scores.max(axis=1, keepdims=True)
        loss = np.log(np.exp(scores).sum(axis=1)) - scores[np.arange(len(symbols)), symbols]
        losses.append(float((loss * weights).sum()))
    return float(tried[int(np.argmin(losses))])


def export(model: SymbolNetwork, path: Path) -> None:
    """Writes the network as ONNX: input ``maps`` (n, 48, 48), output ``logits`` (n, 7)."""
    torch.onnx.export(
        model, (torch.zeros(2, 48, 48),), str(path), input_names=["maps"], output_names=["logits"],
        dynamic_axes={"maps": {0: "n"}, "logits": {0: "n"}}, opset_version=17, dynamo=False,
    )  # fmt: skip


def report(probabilities: np.ndarray, signs: Signs, sure: float = 0.99) -> list[str]:
    """What float (n, 7) probabilities are worth on ``signs``: right by symbol and grade; sure and yet wrong."""
    answer_of = np.array([0, 1, 2, 3, 3, 4, 5])  # dash and letters are one answer
    best, top = probabilities.argmax(axis=1), probabilities.max(axis=1)
    right, same_answer = best == signs.symbols, answer_of[best] == answer_of[signs.symbols]
    lines = ["| | " + " | ".join(GRADES) + " |", "| --- |" + " --- |" * len(GRADES)]
    for n, symbol in enumerate(SYMBOLS):
        of = [(signs.symbols == n) & (signs.grades == g) for g in range(len(GRADES))]
        lines.append(f"| {symbol} | " + " | ".join(f"{right[o].mean():.4f} of {o.sum()}" for o in of) + " |")
    grades = [signs.grades == g for g in range(len(GRADES))]
    lines.append("| right answer | " + " | ".join(f"{same_answer[g].mean():.4f}" for g in grades) + " |")
    written = [g & (signs.symbols >= 1) & (signs.symbols <= 4) for g in grades]
    lines.append(
        f"| signs read right with p >= {sure} | "
        + " | ".join(f"{(same_answer & (top >= sure))[w].mean():.4f}" for w in written)
        + " |"
    )
    # Only blank and the four signs can be accepted; the rest is doubtful whatever its probability.
    wrong = (top >= sure) & (best <= 4) & ~same_answer
    lines.append(f"| wrong with p >= {sure} | " + " | ".join(f"{wrong[g].sum()} of {g.sum()}" for g in grades) + " |")
    for i in np.flatnonzero(wrong):
        lines.append(
            f"wrong: {GRADES[signs.grades[i]]}, {SYMBOLS[signs.symbols[i]]} ({signs.kinds[i]}) read as "
            f"{SYMBOLS[best[i]]}, p {top[i]:.4f}"
        )
    return lines


def _logits(path: Path, maps: np.ndarray) -> np.ndarray:
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    parts = [session.run(["logits"], {"maps": inner(part)})[0] for part in np.array_split(maps, len(maps) // 2000 + 1)]
    return np.concatenate(parts).astype(np.float64)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--epochs", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=400.0, help="time for the passes, at most")
    parser.add_argument("--report", action="store_true", help="train nothing, print figures of the network in --out")
    given = parser.parse_args()
    network, constants = given.out / "symbols.onnx", given.out / "symbols.json"
    if not given.report:
        if not torch.cuda.is_available():
            torch.set_num_threads(1)
        model = train(load_signs(given.data / "symbols-training.npz"), given.epochs, given.seconds)
        given.out.mkdir(parents=True, exist_ok=True)
        export(model, network)
        signs = load_signs(given.data / "symbols-calibration.npz")
        logits = _logits(network, signs.maps)
        with torch.no_grad():
            apart = np.abs(model(torch.from_numpy(inner(signs.maps[:500]))).numpy() - logits[:500]).max()
        temperature = fit_temperature(logits, signs.symbols)
        constants.write_text(json.dumps({"temperature": round(temperature, 4)}) + "\n")
        print(f"temperature {temperature:.3f}; the exported network differs by at most {apart:.1e}")
    test = load_signs(given.data / "symbols-test.npz")
    scores = _logits(network, test.maps) / float(json.loads(constants.read_text())["temperature"])
    scores = np.exp(scores - scores.max(axis=1, keepdims=True))
    print(*report(scores / scores.sum(axis=1, keepdims=True), test), sep="\n")


if __name__ == "__main__":
    main()
