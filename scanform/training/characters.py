"""Trains the character network and writes it as ONNX.

    python -m scanform.training.characters --data DIR --out DIR [--teacher-steps N] [--student-steps N]

``--data`` holds ``training.npz`` as :mod:`scanform.training.dataset` makes it. Large teachers learn first; the
network that is shipped learns from the labels and from what the teachers together think of each glyph. Runs on a
GPU if there is one. Needs the ``train`` extra. Calibration is :mod:`scanform.training.calibration`'s.
"""

from __future__ import annotations

import argparse
import copy
import time
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from scanform.training.network import ALNUM_CLASSES, DIGIT_CLASSES, Network, Teacher, varied
from scanform.training.samples import ALPHABET, EMPTY, KINDS, OTHER, Samples, load_samples

__all__ = ["export", "train"]

# Share of a batch by origin; the first is real digits that saw no cell. Real digits weigh most: they are the
# only real handwriting there is.
_SHARES = {
    "real digit, bare": 0.2, "real digit": 0.24, "strokes": 0.2, "typeface": 0.16, "print": 0.04, "scribble": 0.02,
    "crossed out": 0.025, "overwritten": 0.03, "two": 0.02, "sign": 0.015, "empty": 0.05,
}  # fmt: skip
# Letters that nobody takes for a digit: in a comb of digits they are no clean character.
_NO_DIGITS = "AEFHKMNPRWX"
# A round O and a 0, a bare I and a 1 are the same ink: this share of real ones is taught as the letter, so that
# the network keeps a doubt where there is one.
_TWINS = {0: "O", 1: "I"}
_TWIN_SHARE = 0.15
_SOFTEN = 2.0  # temperature at which the teachers' opinion is passed on
_TAUGHT = 0.7  # its weight beside the labels


class _Source:
    """Draws batches from the training samples, all on one device."""

    def __init__(self, samples: Samples, batch: int, device: torch.device, seed: int) -> None:
        self.batch, self.device = batch, device
        self.generator = torch.Generator(device=device).manual_seed(seed)
        self.glyphs = torch.from_numpy(samples.glyphs).to(device)
        labels = torch.from_numpy(samples.labels.astype(np.int64)).to(device)
        self.labels = labels
        digit_target = np.full(ALNUM_CLASSES, -1)
        digit_target[:10] = np.arange(10)
        digit_target[[OTHER, EMPTY]] = 10, 11
        digit_target[[ALPHABET.index(c) for c in _NO_DIGITS]] = 10
        self.digit_target = torch.from_numpy(digit_target).to(device)
        bare = samples.grades < 0
        groups = [np.flatnonzero(bare)] + [np.flatnonzero((samples.kinds == k) & ~bare) for k in range(len(KINDS))]
        self.groups = [torch.from_numpy(g).to(device) for g in groups]
        self.counts = [round(share * batch) for share in _SHARES.values()]
        self.alnum_prior, self.digit_prior = self._priors()

    def _indices(self) -> Tensor:
        drawn = [
            group[torch.randint(len(group), (count,), device=self.device, generator=self.generator)]
            for group, count in zip(self.groups, self.counts, strict=True)
        ]
        return torch.cat(drawn)

    def _targets(self, index: Tensor) -> tuple[Tensor, Tensor]:
        alnum = self.labels[index]
        digit = self.digit_target[alnum]
        real = torch.arange(len(index), device=self.device) < self.counts[0] + self.counts[1]
        swap = real & (torch.rand(len(index), device=self.device, generator=self.generator) < _TWIN_SHARE)
        for value, letter in _TWINS.items():
            alnum = torch.where(swap & (alnum == value), ALPHABET.index(letter), alnum)
        return alnum, digit

    def _priors(self) -> tuple[Tensor, Tensor]:
        """Log share of each class in a batch: taken off again in the loss, so that the logits know no prior."""
        alnum, digit = torch.zeros(ALNUM_CLASSES, device=self.device), torch.zeros(DIGIT_CLASSES, device=self.device)
        for _ in range(50):
            a, d = self._targets(self._indices())
            alnum += torch.bincount(a, minlength=ALNUM_CLASSES)
            digit += torch.bincount(d[d >= 0], minlength=DIGIT_CLASSES)
        return torch.log(alnum / alnum.sum()), torch.log(digit / digit.sum())

    def draw(self) -> tuple[Tensor, Tensor, Tensor]:
        """One batch: varied glyphs and both heads' targets (-1: no target)."""
        index = self._indices()
        alnum, digit = self._targets(index)
        return varied(self.glyphs[index].float() / 255, self.generator), alnum, digit


def _label_loss(source: _Source, alnum: Tensor, digits: Tensor, to_alnum: Tensor, to_digit: Tensor) -> Tensor:
    loss = functional.cross_entropy(alnum.float() + source.alnum_prior, to_alnum)
    return loss + functional.cross_entropy(digits.float() + source.digit_prior, to_digit, ignore_index=-1)


def _taught_loss(source: _Source, alnum: Tensor, digits: Tensor, opinion: tuple[Tensor, Tensor]) -> Tensor:
    loss = torch.zeros((), device=alnum.device)
    for logits, prior, probability in (
        (alnum, source.alnum_prior, opinion[0]), (digits, source.digit_prior, opinion[1])
    ):  # fmt: skip
        own = functional.log_softmax((logits.float() + prior) / _SOFTEN, dim=1)
        loss = loss + functional.kl_div(own, probability, reduction="batchmean") * _SOFTEN**2
    return loss


@torch.no_grad()
def _opinion(source: _Source, teachers: list[nn.Module], glyphs: Tensor) -> tuple[Tensor, Tensor]:
    """The teachers' mean softened probabilities, both heads."""
    both = [teacher(glyphs) for teacher in teachers]
    heads = []
    for head, prior in enumerate((source.alnum_prior, source.digit_prior)):
        heads.append(torch.stack([functional.softmax((b[head].float() + prior) / _SOFTEN, 1) for b in both]).mean(0))
    return heads[0], heads[1]


def train(
    model: nn.Module, source: _Source, steps: int, rate: float, most_s: float, teachers: list[nn.Module]
) -> nn.Module:
    """Trains ``model`` for ``steps`` batches, or ``most_s`` seconds if those end first; its averaged weights."""
    device = source.device
    model.to(device)
    averaged = copy.deepcopy(model).eval()
    now = [t for t in model.state_dict().values() if t.dtype.is_floating_point]
    mean = [t for t in averaged.state_dict().values() if t.dtype.is_floating_point]
    optimiser = torch.optim.AdamW(model.parameters(), lr=rate, weight_decay=0.02, fused=device.type == "cuda")
    began = time.monotonic()
    for step in range(steps):
        progress = max(step / steps, (time.monotonic() - began) / most_s)
        if progress >= 1:
            break
        warm = min(1.0, progress / 0.04)
        for group in optimiser.param_groups:
            group["lr"] = rate * warm * 0.5 * (1 + np.cos(np.pi * progress)) + 1e-6
        glyphs, to_alnum, to_digit = source.draw()
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            alnum, digits = model(glyphs)
            opinion = _opinion(source, teachers, glyphs) if teachers else None
        loss = _label_loss(source, alnum, digits, to_alnum, to_digit)
        if opinion is not None:
            loss = (1 - _TAUGHT) * loss + _TAUGHT * _taught_loss(source, alnum, digits, opinion)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        optimiser.step()
        keep = min(0.9995, (step + 1) / (step + 20))
        with torch.no_grad():
            torch._foreach_lerp_(mean, now, 1 - keep)
        if step % 500 == 0:
            print(f"  step {step} loss {loss.item():.4f} {time.monotonic() - began:.0f} s", flush=True)
    print(f"  {step + 1} steps, {time.monotonic() - began:.0f} s", flush=True)
    return averaged


@torch.no_grad()
def _logits(model: nn.Module, samples: Samples, device: torch.device) -> tuple[np.ndarray, np.ndarray]:
    alnum, digits = [], []
    for start in range(0, len(samples.labels), 4096):
        glyphs = torch.from_numpy(samples.glyphs[start : start + 4096]).to(device).float() / 255
        a, d = model(glyphs)
        alnum.append(a.float().cpu().numpy())
        digits.append(d.float().cpu().numpy())
    return np.concatenate(alnum), np.concatenate(digits)


def _report(name: str, model: nn.Module, samples: Samples, device: torch.device) -> None:
    """Prints how often ``model`` is right, by kind."""
    alnum, digits = _logits(model, samples, device)
    labels, real = samples.labels, samples.kinds == 0
    line = []
    for grade in range(-1, 5):
        of = real & (samples.grades == grade)
        masked = float(np.mean(alnum[of, :10].argmax(1) == labels[of]))
        line.append(f"{grade}:{np.mean(digits[of, :10].argmax(1) == labels[of]):.4f}/{masked:.4f}")
    print(name, "digits own head/masked", *line)
    for kind in (1, 2, 3):
        of = samples.kinds == kind
        print(" ", KINDS[kind], f"{np.mean(alnum[of, :36].argmax(1) == labels[of]):.4f}", end="")
    other, clean = labels == OTHER, labels < 36
    margin = alnum[:, OTHER] - alnum[:, :36].max(1)
    print(
        f"  other caught {np.mean(margin[other] > 0):.3f}, clean called other {np.mean(margin[clean] > 0):.4f}",
        flush=True,
    )


def export(model: nn.Module, path: Path) -> None:
    """Writes the network as ONNX: input ``glyphs`` (n, 28, 28), outputs ``alnum`` (n, 38) and ``digits`` (n, 12)."""
    model = copy.deepcopy(model).eval().cpu().float()
    torch.onnx.export(
        model, (torch.zeros(2, 28, 28),), str(path), input_names=["glyphs"], output_names=["alnum", "digits"],
        dynamic_axes={"glyphs": {0: "n"}, "alnum": {0: "n"}, "digits": {0: "n"}}, opset_version=17, dynamo=False,
    )  # fmt: skip


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--teachers", type=int, default=3)
    parser.add_argument("--teacher-steps", type=int, default=4000)
    parser.add_argument("--student-steps", type=int, default=14000)
    parser.add_argument("--batch", type=int, default=2048)
    parser.add_argument("--teacher-s", type=float, default=3600, help="seconds a teacher may learn at most")
    parser.add_argument("--student-s", type=float, default=36000, help="seconds the network may learn at most")
    given = parser.parse_args()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    samples = load_samples(given.data / "training.npz")
    checks = load_samples(given.data / "calibration.npz")
    given.out.mkdir(parents=True, exist_ok=True)
    teachers: list[nn.Module] = []
    for number in range(given.teachers):
        torch.manual_seed(100 + number)
        teacher = Teacher().to(memory_format=torch.channels_last)  # type: ignore[call-overload]
        source = _Source(samples, given.batch, device, 100 + number)
        teachers.append(train(teacher, source, given.teacher_steps, 2e-3, given.teacher_s, []))
        _report(f"teacher {number}", teachers[-1], checks, device)
    torch.manual_seed(7)
    source = _Source(samples, given.batch, device, 7)
    network = train(Network(), source, given.student_steps, 4e-3, given.student_s, teachers)
    _report("network", network, checks, device)
    torch.save(network.state_dict(), given.out / "characters.pt")
    export(network, given.out / "characters.onnx")


if __name__ == "__main__":
    main()
