"""Trains the character networks and writes them as ONNX, in two steps.

    python -m scanform.training.characters teachers --data DIR --out OUT --first 0 --count 4 --seconds 140
    python -m scanform.training.characters students --data DIR --out OUT --charset digits --seconds 500

``--data`` holds ``training.npz`` as :mod:`scanform.training.dataset` makes it. Large teachers learn first; the
networks that are shipped, two for combs of digits and one for digits and letters, learn from the labels and from
what all the teachers in OUT together think of each glyph. Runs on a GPU if there is one. Needs the
``train`` extra. Calibration is :mod:`scanform.training.calibration`'s.
"""

from __future__ import annotations

import argparse
import copy
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from scanform.training.network import ALNUM_CLASSES, DIGIT_CLASSES, Closer, Network, Teacher, varied
from scanform.training.onnx_files import export, halve_weights
from scanform.training.samples import ALPHABET, EMPTY, KINDS, OTHER, Samples, load_samples

# Share of a batch by origin; the first is real digits that saw no cell. Real digits weigh most: they are the
# only real handwriting there is.
_SHARES = {
    "real digit, bare": 0.2, "real digit": 0.24, "strokes": 0.2, "typeface": 0.16, "print": 0.04, "scribble": 0.02,
    "crossed out": 0.025, "overwritten": 0.03, "two": 0.02, "sign": 0.015, "empty": 0.05,
}  # fmt: skip
# For the closer look, which is for real hands' unclear digits, still more.
_CLOSER_SHARES = _SHARES | {"real digit": 0.42, "strokes": 0.14, "typeface": 0.06, "print": 0.02}
_REACH = {"alnum": (1.0, 1.0), "digits": (1.0, 1.0), "closer": (0.7, 1.3)}  # network.varied
# Letters that nobody takes for a digit: in a comb of digits they are no clean character.
_NO_DIGITS = "AEFHKMNPRWX"
# A round O and a 0, a bare I and a 1 are the same ink: this share of real ones is taught as the letter, so that
# the network keeps a doubt where there is one.
_TWINS = {0: "O", 1: "I"}
_TWIN_SHARE = 0.15
_SOFTEN = 2.0  # temperature at which the teachers' opinion is passed on
_TAUGHT = 0.7  # its weight beside the labels
_BATCH = 2048
_FILES = {"digits": ("digits", "digits_second"), "alnum": ("characters",), "closer": ("closer",)}
_WIDTHS = {"digits": ((32, 64, 128), (48, 96, 192)), "alnum": ((48, 96, 192),)}  # of the networks' layers
_STORE = 2**20  # glyphs that the teachers are asked about at a time
_PASSES = 4  # how often a network sees each of them


class _Batch(NamedTuple):
    """Glyphs (n, 28, 28) and both heads' targets (n,), -1 where there is none."""

    glyphs: Tensor
    alnum: Tensor
    digits: Tensor


class _Source:
    """Draws batches from the training samples, all on one device; only ``charset`` "alnum" has most letters in it."""

    def __init__(self, samples: Samples, charset: str, device: torch.device, seed: int) -> None:
        self.device, self.reach = device, _REACH[charset]
        self.shares = _CLOSER_SHARES if charset == "closer" else _SHARES
        self.generator = torch.Generator(device=device).manual_seed(seed)
        self.glyphs = torch.from_numpy(samples.glyphs).to(device)
        self.labels = torch.from_numpy(samples.labels.astype(np.int64)).to(device)
        digit_target = np.full(ALNUM_CLASSES, -1)
        digit_target[:10] = np.arange(10)
        digit_target[[OTHER, EMPTY]] = 10, 11
        digit_target[[ALPHABET.index(c) for c in _NO_DIGITS]] = 10
        self.digit_target = torch.from_numpy(digit_target).to(device)
        wanted = np.ones(len(samples.labels), bool)
        if charset != "alnum":
            # Of the letters a tenth, so that they stay a small part of what is no clean digit.
            clear = np.random.default_rng(seed).random(len(wanted)) < 0.1
            wanted = (samples.labels < 10) | (samples.labels >= 36) | (clear & (digit_target[samples.labels] == 10))
        bare = samples.grades < 0
        groups = [bare, *((samples.kinds == k) & ~bare for k in range(len(KINDS)))]
        self.groups = [torch.from_numpy(np.flatnonzero(group & wanted)).to(device) for group in groups]
        self.alnum_prior, self.digit_prior = self._priors()

    def _indices(self, batch: int) -> tuple[Tensor, Tensor]:
        """Which samples, and which of them are real digits."""
        counts = [round(share * batch) for share in self.shares.values()]
        drawn = [
            group[torch.randint(len(group), (count,), device=self.device, generator=self.generator)]
            for group, count in zip(self.groups, counts, strict=True)
        ]
        index = torch.cat(drawn)
        return index, torch.arange(len(index), device=self.device) < counts[0] + counts[1]

    def _targets(self, index: Tensor, real: Tensor) -> tuple[Tensor, Tensor]:
        alnum = self.labels[index]
        digit = self.digit_target[alnum]
        swap = real & (torch.rand(len(index), device=self.device, generator=self.generator) < _TWIN_SHARE)
        for value, letter in _TWINS.items():
            alnum = torch.where(swap & (alnum == value), ALPHABET.index(letter), alnum)
        return alnum, digit

    def _priors(self) -> tuple[Tensor, Tensor]:
        """Log share of each class in a batch: taken off again in the loss, so that the logits know no prior."""
        alnum, digit = self._targets(*self._indices(100_000))
        heads = ((alnum, ALNUM_CLASSES), (digit[digit >= 0], DIGIT_CLASSES))
        counts = [torch.bincount(target, minlength=classes).float() + 1e-3 for target, classes in heads]
        return torch.log(counts[0] / counts[0].sum()), torch.log(counts[1] / counts[1].sum())

    def draw(self, batch: int = _BATCH) -> _Batch:
        """One batch of varied glyphs."""
        index, real = self._indices(batch)
        alnum, digits = self._targets(index, real)
        shown = varied(self.glyphs[index].float() / 255, self.generator, self.reach)
        return _Batch(shown, alnum, digits)


class Averaged:
    """A network, its optimiser, and the running mean of its weights, which is what comes out."""

    def __init__(self, model: nn.Module, rate: float, device: torch.device) -> None:
        self.model, self.rate, self.step = model.to(device), rate, 0
        self.mean = copy.deepcopy(model).eval()
        self._now = [t for t in model.state_dict().values() if t.dtype.is_floating_point]
        self._kept = [t for t in self.mean.state_dict().values() if t.dtype.is_floating_point]
        self.optimiser = torch.optim.AdamW(model.parameters(), lr=rate, weight_decay=0.02, fused=device.type == "cuda")

    def learn(self, loss: Callable[[nn.Module], Tensor], progress: float) -> float:
        """One step at ``progress`` 0 to 1 through the training; the loss."""
        for group in self.optimiser.param_groups:
            group["lr"] = self.rate * min(1.0, progress / 0.04) * 0.5 * (1 + np.cos(np.pi * progress)) + 1e-6
        value = loss(self.model)
        self.optimiser.zero_grad(set_to_none=True)
        value.backward()
        self.optimiser.step()
        self.step += 1
        keep = min(0.9995, self.step / (self.step + 20))
        with torch.no_grad():
            torch._foreach_lerp_(self._kept, self._now, 1 - keep)
        return float(value.detach()) if self.step % 500 == 1 else 0.0


def _teach(source: _Source, seconds: float, device: torch.device) -> nn.Module:
    """A teacher, from the labels alone."""
    learner = Averaged(Teacher().to(memory_format=torch.channels_last), 2e-3, device)  # type: ignore[call-overload]
    began = time.monotonic()
    while (progress := (time.monotonic() - began) / seconds) < 1:
        batch = source.draw()

        def loss(model: nn.Module, batch: _Batch = batch) -> Tensor:
            with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
                alnum, digits = model(batch.glyphs)
            found = functional.cross_entropy(digits.float() + source.digit_prior, batch.digits, ignore_index=-1)
            return found + functional.cross_entropy(alnum.float() + source.alnum_prior, batch.alnum)

        _progress(learner, learner.learn(loss, progress), began)
    return learner.mean


@torch.no_grad()
def _opinions(source: _Source, teachers: list[nn.Module], head: int, glyphs: Tensor) -> Tensor:
    """The teachers' mean softened probabilities of one head."""
    prior = (source.alnum_prior, source.digit_prior)[head]
    with torch.autocast(glyphs.device.type, torch.bfloat16, enabled=glyphs.is_cuda):
        each = [teacher(glyphs)[head] for teacher in teachers]
    return torch.stack([functional.softmax((logits.float() + prior) / _SOFTEN, 1) for logits in each]).mean(0)


def _store(source: _Source, teachers: list[nn.Module], head: int) -> tuple[Tensor, Tensor, Tensor]:
    """Many varied glyphs, uint8, with targets and opinions of one head; those without a target are left out."""
    glyphs: list[Tensor] = []
    targets: list[Tensor] = []
    opinions: list[Tensor] = []
    while sum(len(target) for target in targets) < _STORE:
        batch = source.draw(4 * _BATCH)
        target = (batch.alnum, batch.digits)[head]
        has = target >= 0
        shown = torch.round(batch.glyphs[has] * 255)
        glyphs.append(shown.to(torch.uint8))
        targets.append(target[has])
        opinions.append(_opinions(source, teachers, head, shown / 255).half())
    return torch.cat(glyphs), torch.cat(targets), torch.cat(opinions)


def _learn(
    source: _Source, teachers: list[nn.Module], networks: list[nn.Module], head: int, seconds: float
) -> list[nn.Module]:
    """Networks that learn side by side, from the labels and the teachers' opinions of the same glyphs."""
    device = source.device
    learners = [Averaged(network, 4e-3, device) for network in networks]
    prior = (source.alnum_prior, source.digit_prior)[head]
    began = time.monotonic()
    while (time.monotonic() - began) / seconds < 1:
        stored = _store(source, teachers, head)
        for _ in range(_PASSES):
            order = torch.randperm(len(stored[1]), device=device)
            for at in order.split(_BATCH):
                progress = (time.monotonic() - began) / seconds
                if progress >= 1:
                    return [learner.mean for learner in learners]
                glyphs, target, opinion = (part[at] for part in stored)
                ink = glyphs.float() / 255

                def loss(
                    model: nn.Module, ink: Tensor = ink, target: Tensor = target, opinion: Tensor = opinion
                ) -> Tensor:
                    with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
                        logits = model(ink)
                    logits = logits.float() + prior
                    soft = functional.log_softmax(logits / _SOFTEN, dim=1)
                    taught = functional.kl_div(soft, opinion.float(), reduction="batchmean") * _SOFTEN**2
                    return (1 - _TAUGHT) * functional.cross_entropy(logits, target) + _TAUGHT * taught

                for learner in learners:
                    _progress(learner, learner.learn(loss, progress), began)
    return [learner.mean for learner in learners]


def _progress(learner: Averaged, loss: float, began: float) -> None:
    if learner.step % 500 == 1:
        print(f"  step {learner.step} loss {loss:.4f} {time.monotonic() - began:.0f} s", flush=True)


@torch.no_grad()
def _logits(models: list[nn.Module], head: int, samples: Samples, device: torch.device) -> np.ndarray:
    """Mean log probabilities of one or more models, (n, classes)."""
    found = []
    for start in range(0, len(samples.labels), 4096):
        glyphs = torch.from_numpy(samples.glyphs[start : start + 4096]).to(device).float() / 255
        each = [model(glyphs) for model in models]
        one = [logits[head] if isinstance(logits, tuple) else logits for logits in each]
        found.append(torch.stack([functional.log_softmax(x.float(), 1) for x in one]).mean(0).cpu().numpy())
    return np.concatenate(found)


def _report(name: str, models: list[nn.Module], head: int, samples: Samples, device: torch.device) -> None:
    """Prints how often ``models`` together are right, by kind."""
    logits = _logits(models, head, samples, device)
    labels, real = samples.labels, samples.kinds == 0
    clean, other = (10, 10) if head else (36, OTHER)
    line = []
    for grade in range(-1, 5):
        of = real & (samples.grades == grade)
        right = logits[of, :10].argmax(1) == labels[of]
        true = logits[of, :10] - np.logaddexp.reduce(logits[of, :10], axis=1, keepdims=True)
        line.append(f"{grade}:{right.mean():.4f}/{-true[np.arange(of.sum()), labels[of]].mean():.4f}")
    print(name, "real digits right/log loss", *line)
    for kind in (1, 2, 3):
        of = (samples.kinds == kind) & (labels < clean)
        print(" ", KINDS[kind], f"{np.mean(logits[of, :clean].argmax(1) == labels[of]):.4f}", end="")
    margin = logits[:, other] - logits[:, :clean].max(1)
    caught, called = np.mean(margin[labels == OTHER] > 0), np.mean(margin[labels < clean] > 0)
    print(f"  other caught {caught:.3f}, clean called other {called:.4f}", flush=True)


class _Together(nn.Module):
    """Several networks' logits, averaged: two that learnt apart err less than one as large as both."""

    def __init__(self, networks: list[nn.Module]) -> None:
        super().__init__()
        self.networks = nn.ModuleList(networks)

    def forward(self, glyphs: Tensor) -> Tensor:
        return torch.stack([network(glyphs) for network in self.networks]).mean(0)


def _teachers(given: argparse.Namespace, samples: Samples, checks: Samples, device: torch.device) -> None:
    for number in range(given.first, given.first + given.count):
        torch.manual_seed(100 + number)
        teacher = _teach(_Source(samples, "alnum", device, 100 + number), given.seconds, device)
        torch.save(teacher.half().state_dict(), given.out / f"teacher{number}.pt")
        _report(f"teacher {number}", [teacher.float()], 1, checks, device)


def _students(given: argparse.Namespace, samples: Samples, checks: Samples, device: torch.device) -> None:
    teachers: list[nn.Module] = []
    for path in sorted(given.out.glob("teacher*.pt")):
        teacher = Teacher()
        teacher.load_state_dict(torch.load(path, map_location="cpu"))
        teachers.append(teacher.float().eval().to(device, memory_format=torch.channels_last))  # type: ignore[call-overload]
    head, classes = (0, ALNUM_CLASSES) if given.charset == "alnum" else (1, DIGIT_CLASSES)
    _report(f"{len(teachers)} teachers", teachers, head, checks, device)
    torch.manual_seed(7)
    source = _Source(samples, given.charset, device, 7)
    if given.charset == "closer":
        networks: list[nn.Module] = [Closer(classes).to(memory_format=torch.channels_last)]  # type: ignore[call-overload]
    else:
        networks = [Network(classes, widths) for widths in _WIDTHS[given.charset]]
    learned = _learn(source, teachers, networks, head, given.seconds)
    _report(given.charset, [_Together(learned)], head, checks, device)
    for model, name in zip(learned, _FILES[given.charset], strict=True):
        path = given.out / f"{name}.onnx"
        export(model, path)
        if given.charset == "closer":
            halve_weights(path)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("step", choices=["teachers", "students"])
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=140, help="for each teacher, or for the networks together")
    parser.add_argument("--first", type=int, default=0, help="number of the first teacher, which seeds it")
    parser.add_argument("--count", type=int, default=4, help="how many teachers")
    parser.add_argument(
        "--charset",
        choices=["digits", "alnum", "closer"],
        default="digits",
        help='"closer" is the larger one for digits',
    )
    given = parser.parse_args()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    samples, checks = load_samples(given.data / "training.npz"), load_samples(given.data / "calibration.npz")
    given.out.mkdir(parents=True, exist_ok=True)
    (_teachers if given.step == "teachers" else _students)(given, samples, checks, device)


if __name__ == "__main__":
    main()
