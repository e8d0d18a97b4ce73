"""Fits the small network that tells ringed, untouched and struck words apart (``scanform/read/old/rings.json``).

    python -m scanform.training.old_ring_fit --pages 90

Pages of :mod:`scanform.training.old_fields`, seeds from 700,000; one in six is held back, and what is printed is
measured on those.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
from rich.progress import track
from scipy.optimize import minimize

from scanform.form import FieldKind
from scanform.read.old.circles import WORD_STATES, RingWeights, field_features, word_states
from scanform.simulate import Grade
from scanform.training.old_fields import make_field_page

__all__ = ["collect", "fit"]

_SEEDS = 700_000
_GRADES = (Grade.OFFICE, Grade.WORN, Grade.BITONAL)
_HIDDEN, _RIDGE = 16, 3e-4


def collect(pages: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Figures float64 (n, features), states int (n,) and page numbers int (n,) of all words of so many pages."""
    figures, states, numbers = [], [], []
    for n in track(range(pages), description="Reading"):
        page = make_field_page(_SEEDS + n, _GRADES[n % len(_GRADES)])
        for field in page.sheet.layout.fields:
            if field.kind is FieldKind.CIRCLE:
                figures.append(field_features(page.sheet, field)[0])
                states += [WORD_STATES.index(done) for done in page.truth[field.id].done]
                numbers += [n] * len(field.answers)
    return np.concatenate(figures), np.array(states), np.array(numbers)


def fit(figures: np.ndarray, states: np.ndarray, seed: int = 0) -> RingWeights:
    """One hidden layer, by L-BFGS on the mean log loss with a ridge."""
    mean, scale = figures.mean(axis=0), figures.std(axis=0) + 1e-3
    x, wide, out = (figures - mean) / scale, figures.shape[1], len(WORD_STATES)
    shapes = [(wide, _HIDDEN), (_HIDDEN,), (_HIDDEN, out), (out,)]
    sizes = [int(np.prod(shape)) for shape in shapes]
    target = np.eye(out)[states]

    def parted(v: np.ndarray) -> list[np.ndarray]:
        pieces = np.split(v, np.cumsum(sizes)[:-1])
        return [piece.reshape(shape) for piece, shape in zip(pieces, shapes, strict=True)]

    def loss(v: np.ndarray) -> tuple[float, np.ndarray]:
        w1, b1, w2, b2 = parted(v)
        hidden = np.tanh(x @ w1 + b1)
        scores = hidden @ w2 + b2
        scores = scores - scores.max(axis=1, keepdims=True)
        logs = scores - np.log(np.exp(scores).sum(axis=1, keepdims=True))
        value = -float((target * logs).sum()) / len(x) + _RIDGE * float(v @ v)
        back = (np.exp(logs) - target) / len(x)
        inner = (back @ w2.T) * (1 - hidden**2)
        gradient = [x.T @ inner, inner.sum(axis=0), hidden.T @ back, back.sum(axis=0)]
        return value, np.concatenate([part.ravel() for part in gradient]) + 2 * _RIDGE * v

    begin = np.random.default_rng(seed).normal(0, 0.3, sum(sizes))
    best = minimize(loss, begin, jac=True, method="L-BFGS-B", options={"maxiter": 600}).x
    w1, b1, w2, b2 = parted(best)
    return RingWeights(mean, scale, w1, b1, w2, b2)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=90)
    folder = Path(__file__).parents[1] / "read" / "old"
    parser.add_argument("--out", type=Path, default=folder / "rings.json")
    given = parser.parse_args()
    figures, states, numbers = collect(given.pages)
    held = numbers % 6 == 5
    weights = fit(figures[~held], states[~held])
    found = word_states(figures[held], weights)
    for n, name in enumerate(WORD_STATES):
        of = states[held] == n
        print(f"{name:8} {of.sum():5} held back, read right {(found[of].argmax(axis=1) == n).mean():.4f}")
    rounded = {name: np.round(part, 4).tolist() for name, part in weights._asdict().items()}
    given.out.write_text(json.dumps(rounded) + "\n")


if __name__ == "__main__":
    main()
