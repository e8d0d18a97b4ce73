"""Fits the constants that turn the character networks' logits into probabilities, and measures them.

    python -m scanform.training.calibration --data DIR

reads ``calibration.npz`` and ``test.npz`` of :mod:`scanform.training.dataset` from DIR, fits on the first alone,
writes ``digits.json``, ``closer.json`` and ``characters.json`` in ``scanform/models`` and prints what the second says.
"""

from __future__ import annotations

import argparse
import json
from importlib import resources
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from scanform.read.characters import CharacterNet, CharacterProbabilities, Which, calibrated
from scanform.read.second_opinion import look_closer, second_thought
from scanform.training.cells import GRADES
from scanform.training.samples import ALPHABET, EMPTY, KINDS, OTHER, Samples, load_samples

__all__ = ["expected_calibration_error", "fit", "measure"]

# How often a cell with ink in it holds no clean character, or nothing but dirt: what the odds are set to, since
# the samples hold far more of either than a crew's sheets do. The first is judged; the second is the exact upper bound
# of 3 in 3,279 inked cells of dates and hours on 250 simulated pages (seeds from 5,300,000).
_OTHER_SHARE = 0.02
_EMPTY_SHARE = 0.003
# n samples without a failure bound its rate at about 3/n with 95 % confidence: no more certainty is claimed.
_RULE_OF_THREE = 3.0
# 0 and O, 1 and I are the same ink in many hands: for the figures that take them for one.
_TWIN_OF = np.arange(len(ALPHABET) + 1)
_TWIN_OF[[ALPHABET.index("O"), ALPHABET.index("I")]] = 0, 1


def expected_calibration_error(confidence: np.ndarray, right: np.ndarray, bins: int = 10) -> float:
    """Mean gap between stated confidence and share of right answers, over equally filled bins."""
    order = np.argsort(confidence)
    parts = np.array_split(order, bins)
    return float(sum(len(p) * abs(confidence[p].mean() - right[p].mean()) for p in parts if len(p)) / len(order))


def _weighted_logistic(features: np.ndarray, truth: np.ndarray, share: float) -> np.ndarray:
    """Logistic regression with the positives weighted to ``share``; the last coefficient is the bias."""
    x = np.column_stack([features, np.ones(len(features))])
    weight = np.where(truth, share / truth.sum(), (1 - share) / (~truth).sum())
    sign = np.where(truth, 1.0, -1.0)

    def loss(beta: np.ndarray) -> float:
        return float(weight @ np.logaddexp(0, -sign * (x @ beta)) + 1e-5 * beta[:-1] @ beta[:-1])

    return minimize(loss, np.zeros(x.shape[1]), method="BFGS").x


def fit(logits: np.ndarray, samples: Samples) -> dict[str, float]:
    """The constants of one network, see :func:`scanform.read.characters.calibrated`."""
    count = logits.shape[1] - 2
    labels = samples.labels
    inked = samples.ink_mm2 > 0
    clean = inked & (labels < count)
    target = labels[clean]
    # Every character weighs alike, a digit's real and simulated samples half and half.
    weight = np.zeros(len(target))
    for real in (True, False):
        of = (samples.kinds[clean] == 0) == real
        per_label = np.bincount(target[of], minlength=count)
        weight[of] = np.where(target[of] < 10, 0.5, 1.0) / per_label[target[of]]
    weight /= weight.sum()
    digit = np.arange(count) < 10
    least_floor = _RULE_OF_THREE / len(target)

    def floor_of(v: np.ndarray) -> float:
        return least_floor + 0.5 / (1 + np.exp(-v[1]))

    def loss(v: np.ndarray) -> float:
        cooled = (logits[clean, :count] + np.where(digit, v[2], 0.0)) / np.exp(v[0])
        cooled = np.exp(cooled - cooled.max(axis=1, keepdims=True))
        p = cooled / cooled.sum(axis=1, keepdims=True)
        p = (1 - floor_of(v)) * p + floor_of(v) / count
        return float(-weight @ np.log(p[np.arange(len(target)), target])) + 1e-6 * float(v[2] ** 2)

    best = minimize(loss, np.array([0.0, -6.0, 0.0]), method="Nelder-Mead", options={"maxiter": 400}).x
    lead_other = np.clip(logits[:, count] - logits[:, :count].max(axis=1), -12, 12)
    lead_empty = np.clip(logits[:, count + 1] - logits[:, :count].max(axis=1), -12, 12)
    area = np.log(np.maximum(samples.ink_mm2, 1e-3))
    of = clean | (inked & (labels == OTHER))
    other = _weighted_logistic(lead_other[of, None], labels[of] == OTHER, _OTHER_SHARE)
    of = clean | (inked & (labels == EMPTY))
    empty = _weighted_logistic(np.column_stack([lead_empty, area])[of], labels[of] == EMPTY, _EMPTY_SHARE)
    return {
        "temperature": float(np.exp(best[0])),
        "floor": float(floor_of(best)),
        "digit_bias": float(best[2]) if count > 10 else 0.0,
        "other_lead": float(other[0]),
        "other_bias": float(other[1]),
        "empty_lead": float(empty[0]),
        "empty_area": float(empty[1]),
        "empty_bias": float(empty[2]),
    }


def _line(name: str, read: CharacterProbabilities, labels: np.ndarray, of: np.ndarray) -> str:
    """One line: how many, share right, the same with 0/O and 1/I taken for one, calibration error, and how often
    a character that the network is more than 99 % sure of is wrong."""
    rows, truth = read.rows[of], labels[of]
    answer, best = rows.argmax(axis=1), rows.max(axis=1)
    right, alike = answer == truth, _TWIN_OF[answer] == _TWIN_OF[truth]
    sure = best > 0.99
    wrong = int((sure & ~right).sum())
    return (
        f"{name:<32} {of.sum():>6}  right {right.mean():.4f}  twins as one {alike.mean():.4f}"
        f"  ECE {expected_calibration_error(best, right):.4f}  sure {sure.mean():.3f}, of these wrong {wrong}"
    )


def measure(samples: Samples, digits: CharacterProbabilities, alnum: CharacterProbabilities) -> list[str]:
    """What the network is worth on ``samples``, line by line: kind, number, share right, calibration error."""
    labels, kinds, grades = samples.labels, samples.kinds, samples.grades
    lines = []
    for grade in range(-1, len(GRADES)):
        name = "as they are" if grade < 0 else GRADES[grade]
        lines.append(_line(f"digits mode, real, {name}", digits, labels, (kinds == 0) & (grades == grade)))
    lines.append(_line("alnum mode, real digits", alnum, labels, kinds == 0))
    for kind in (1, 2, 3):
        lines.append(_line(f"alnum mode, {KINDS[kind]}", alnum, labels, kinds == kind))
        for letters, name in ((labels < 10, "digits"), ((labels >= 10) & (labels < 36), "letters")):
            lines.append(_line(f"  {name}", alnum, labels, (kinds == kind) & letters))
    for grade, name in enumerate(GRADES):
        lines.append(
            _line(f"  letters, typeface, {name}", alnum, labels, (kinds == 2) & (grades == grade) & (labels >= 10))
        )
    written = labels != EMPTY
    for grade, name in enumerate(GRADES):
        lost = samples.ink_mm2[written & (grades == grade)] == 0
        lines.append(f"written cells that are left without ink, {name}: {lost.mean():.4f}")
    for name, read in (("digits", digits), ("alnum", alnum)):
        clean = (labels < (10 if name == "digits" else 36)) & (samples.ink_mm2 > 0)
        flagged = read.other > 0.5
        parts = ", ".join(f"{KINDS[k]} {flagged[kinds == k].mean():.3f}" for k in range(4, 9))
        lines.append(f"{name} mode, other > 0.5: {parts}; of clean characters {flagged[clean].mean():.4f}")
        empty = read.rows[:, -1] > 0.5
        dirt, lost = empty[kinds == 9].mean(), empty[clean].mean()
        lines.append(f"{name} mode, empty > 0.5: dirt {dirt:.4f}; of clean characters {lost:.4f}")
    return lines


def _logits(net: CharacterNet, samples: Samples, which: Which) -> np.ndarray:
    """The network's logits of all samples."""
    parts = (samples.glyphs[part].astype(np.float32) / 255 for part in _parts(samples))
    return np.concatenate([net.logits(glyphs, which) for glyphs in parts])


def _parts(samples: Samples) -> list[np.ndarray]:
    """The places of all samples, a thousand at a time: a network's inner layers take 0.3 MB a glyph."""
    count = len(samples.labels)
    return np.array_split(np.arange(count), max(count // 1000, 1))


def _as_combs_are_read(net: CharacterNet, samples: Samples) -> CharacterProbabilities:
    """Digits as combs of them are read, without the line: with the closer look at what is not sure or no digit."""
    read = []
    for part in _parts(samples):
        glyphs, ink_mm2 = samples.glyphs[part].astype(np.float32) / 255, samples.ink_mm2[part]
        found = net.probabilities(glyphs, ink_mm2, "digits")
        second_thought(net, glyphs, ink_mm2, *found)
        look_closer(net, glyphs, ink_mm2, found.rows)
        read.append(found)
    return CharacterProbabilities(*(np.concatenate(column) for column in zip(*read, strict=True)))


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    given = parser.parse_args()
    models = Path(str(resources.files("scanform.models")))
    names: dict[Which, str] = {"digits": "digits", "alnum": "characters", "closer": "closer"}
    for name in names.values():
        if not (models / f"{name}.json").exists():
            (models / f"{name}.json").write_text("{}")
    net = CharacterNet()
    fitted_on, test = load_samples(given.data / "calibration.npz"), load_samples(given.data / "test.npz")
    constants = {c: fit(_logits(net, fitted_on, c), fitted_on) for c in names}
    for charset, name in names.items():
        (models / f"{name}.json").write_text(json.dumps(constants[charset], indent=2) + "\n")
        print((models / f"{name}.json").read_text())
    alnum = calibrated(_logits(net, test, "alnum"), test.ink_mm2, constants["alnum"])
    print(*measure(test, _as_combs_are_read(CharacterNet(), test), alnum), sep="\n")
    bare = (test.kinds == 0) & (test.grades < 0)
    masked = _logits(net, test, "alnum")[bare, :10].argmax(axis=1) == test.labels[bare]
    print(f"for comparison, all characters' network with letters masked, real digits as they are: {masked.mean():.4f}")


if __name__ == "__main__":
    main()
