"""Strings under a line recogniser's per-step probabilities (connectionist temporal classification, Graves et al.,
ICML 2006): a beam search over prefixes that weighs a prior of words in, and the likelihood of given strings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from scanform.settle.prior import Prior, WordState

__all__ = ["Found", "SearchResult", "SearchSettings", "folded_steps", "log_likelihood", "search"]


@dataclass(frozen=True)
class SearchSettings:
    """``prior_weight``: exponent of the prior beside the ink's own probability. ``letter_bonus``: added to the log
    score for every sign, against the prior's wish for short strings. ``width``: prefixes kept. ``floor``: classes less
    likely than this at a step are left out there.
    """

    prior_weight: float
    letter_bonus: float
    width: int
    floor: float


class Found(NamedTuple):
    """One string. ``ink``: log probability by the ink alone; ``score``: log of ink and prior together."""

    text: str
    ink: float
    score: float


@dataclass(frozen=True)
class SearchResult:
    """``found``: likeliest strings, best first. ``given_up``: weight, beside 1 for the best, of all beginnings that the
    search dropped, each at the weight that it had then. ``tried``: share of the ink's probability in signs that were
    tried at all.
    """

    found: tuple[Found, ...]
    given_up: float
    tried: float

    @property
    def shares(self) -> list[float]:
        """Posterior probability of each string among all strings there are: those found, those given up, and those with
        signs that were never tried, for which their share by the ink stands in.
        """
        best = self.found[0].score
        weights = [math.exp(f.score - best) for f in self.found]
        total = sum(weights) + self.given_up
        return [self.tried * weight / total for weight in weights]


def folded_steps(steps: np.ndarray, characters: str) -> tuple[np.ndarray, str]:
    """The steps with capital and small letters taken together: float64 (steps, 1 + len(characters)), characters."""
    small = "".join(dict.fromkeys(characters.lower()))
    column = {sign: n + 1 for n, sign in enumerate(small)}
    folded = np.zeros((steps.shape[0], len(small) + 1))
    folded[:, 0] = steps[:, 0]
    for n, sign in enumerate(characters, start=1):
        folded[:, column[sign.lower()]] += steps[:, n]
    return folded, small


class _Prefix:
    """A string begun, as a node of the tree of prefixes."""

    __slots__ = ("children", "sign", "state", "text", "weighed")

    def __init__(self, text: str, sign: int, state: WordState, settings: SearchSettings) -> None:
        self.text = text
        self.sign = sign
        self.state = state
        self.children: dict[int, _Prefix] = {}
        self.weighed = settings.prior_weight * state.log + settings.letter_bonus * len(text)


def search(steps: np.ndarray, characters: str, prior: Prior, settings: SearchSettings) -> SearchResult:
    """The likeliest strings under ink and prior.

    ``steps``: float (steps, 1 + len(characters)), rows sum to 1, column 0 is CTC's blank; small letters only.
    """
    root = _Prefix("", 0, prior.start, settings)
    beams: dict[_Prefix, tuple[float, float]] = {root: (1.0, 0.0)}
    scale, given_up, tried = 0.0, 0.0, 1.0
    rows = steps.tolist()
    allowed = [_likely(row[1:], settings.floor) for row in steps]
    for row, columns in zip(rows, allowed, strict=True):
        blank = row[0]
        tried *= blank + sum(row[n + 1] for n in columns)
        signs = [(n + 1, row[n + 1]) for n in columns]
        grown: dict[_Prefix, list[float]] = {}
        for prefix, (ended, open_) in beams.items():
            both = ended + open_
            kept = grown.get(prefix)
            if kept is None:
                kept = grown[prefix] = [0.0, 0.0]
            kept[0] += both * blank
            last = prefix.sign
            if last:
                kept[1] += open_ * row[last]
            for sign, share in signs:
                value = (ended if sign == last else both) * share
                if value <= 0.0:
                    continue
                child = prefix.children.get(sign)
                if child is None:
                    letter = characters[sign - 1]
                    if letter == " " and (not prefix.text or prefix.text[-1] == " "):
                        continue
                    state = prior.extend(prefix.state, letter)
                    child = prefix.children[sign] = _Prefix(prefix.text + letter, sign, state, settings)
                into = grown.get(child)
                if into is None:
                    grown[child] = [0.0, value]
                else:
                    into[1] += value
        beams, factor, dropped = _pruned(grown, settings.width)
        scale += math.log(factor)
        given_up += dropped
    return SearchResult(_ranked(beams, scale, prior, settings), given_up, min(1.0, tried))


# A prefix this far behind in log score is given up: on 310 lines no text read was another for it (at 6 some were).
_HOPELESS = 8.0
_MOST_SIGNS = 8  # at one step; a smear may leave a little of everything


def _likely(row: np.ndarray, floor: float) -> list[int]:
    """Which signs are worth trying at a step."""
    likely = np.flatnonzero(row > floor)
    if len(likely) > _MOST_SIGNS:
        likely = likely[np.argsort(row[likely])[-_MOST_SIGNS:]]
    return likely.tolist()


def _pruned(grown: dict[_Prefix, list[float]], width: int) -> tuple[dict[_Prefix, tuple[float, float]], float, float]:
    """The best prefixes, their probabilities brought near 1; what these were divided by; and the weight of the others
    beside the best.
    """
    alive = [(math.log(e + o) + prefix.weighed, prefix, e, o) for prefix, (e, o) in grown.items() if e + o > 1e-200]
    alive.sort(key=lambda entry: -entry[0])
    best = alive[0][0]
    kept = [entry for entry in alive[:width] if entry[0] >= best - _HOPELESS]
    dropped = sum(math.exp(entry[0] - best) for entry in alive[len(kept) :])
    most = max(e + o for _, _, e, o in kept)
    return {prefix: (e / most, o / most) for _, prefix, e, o in kept}, most, dropped


def _ranked(
    beams: dict[_Prefix, tuple[float, float]], scale: float, prior: Prior, settings: SearchSettings
) -> tuple[Found, ...]:
    found: dict[str, Found] = {}
    for prefix, (ended, open_) in beams.items():
        ink = math.log(ended + open_) + scale
        score = ink + settings.prior_weight * prior.ended(prefix.state) + settings.letter_bonus * len(prefix.text)
        text = prefix.text.strip()
        before = found.get(text)
        if before is not None:  # with and without a space at its end
            ink, score = float(np.logaddexp(before.ink, ink)), max(before.score, score)
        found[text] = Found(text, ink, score)
    return tuple(sorted(found.values(), key=lambda f: -f.score))


_AT_ONCE = 256  # strings whose paths are followed together


def log_likelihood(steps: np.ndarray, characters: str, texts: Sequence[str]) -> np.ndarray:
    """Log probability of each whole string by the ink alone, float64 (n,); signs that the recogniser lacks are left
    out of a string. ``steps`` as for :func:`search`.
    """
    column = {sign: n + 1 for n, sign in enumerate(characters)}
    coded = [[column[sign] for sign in text if sign in column] for text in texts]
    parts = [_forward(steps, coded[start : start + _AT_ONCE]) for start in range(0, len(coded), _AT_ONCE)]
    return np.concatenate(parts) if parts else np.zeros(0)


def _forward(steps: np.ndarray, coded: Sequence[Sequence[int]]) -> np.ndarray:
    """The forward pass over all strings at once, with a blank around every sign, scaled at every step."""
    lengths = np.array([2 * len(signs) + 1 for signs in coded])
    # Behind a string's end stands a sign that is never written.
    never = steps.shape[1]
    emitted = np.column_stack([np.maximum(steps, 1e-12), np.zeros(len(steps))])
    paths = np.full((len(coded), int(lengths.max()) + 1), never)
    for path, signs, length in zip(paths, coded, lengths.tolist(), strict=True):
        path[:length] = 0
        path[1:length:2] = signs
    may_skip = ((paths[:, 2:] != 0) & (paths[:, 2:] != paths[:, :-2])).astype(float)
    alpha = np.zeros(paths.shape)
    alpha[:, :2] = emitted[0][paths[:, :2]]
    totals = np.ones((len(steps), len(coded)))
    for row, total in zip(emitted[1:], totals[1:], strict=True):
        moved = alpha.copy()
        moved[:, 1:] += alpha[:, :-1]
        moved[:, 2:] += may_skip * alpha[:, :-2]
        moved *= row.take(paths)
        np.maximum(moved.sum(axis=1), 1e-300, out=total)
        alpha = moved / total[:, None]
    rows = np.arange(len(coded))
    ended = alpha[rows, lengths - 1] + np.where(lengths > 1, alpha[rows, np.maximum(lengths - 2, 0)], 0.0)
    return np.log(totals).sum(axis=0) + np.log(np.maximum(ended, 1e-300))
