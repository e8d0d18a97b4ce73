"""Ways to write something, as an automaton that reads sign by sign: it steers a search through what the ink may say."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from scanform.read import Reading
from scanform.settle.ctc import SearchSettings, folded_steps, log_likelihood, search

__all__ = ["Looks", "Way", "WaysToWrite", "likely_texts", "looks_of", "miswritten"]

Way = Sequence[Sequence[str]]  # parts one after the other, each with all it may be; "" where it may be left out

_NEVER = -60.0  # log weight of a string that no way has: what the ink says clearly differs by less
_SETTINGS = SearchSettings(prior_weight=1.0, letter_bonus=0.0, width=40, floor=2e-5)
_LEAST_STEP = 1e-6  # nothing is impossible for the recogniser
_MOST_TEXTS = 15
# Weights of the two opinions' log likelihoods. The network alone does best in the hands that taught it; in hands kept
# apart (real digits; four typefaces) a date's mean log loss is 0.36 and 0.65 with these, 0.41 and 0.90 with it alone,
# 0.96 and 0.80 with the recogniser alone.
_LINE, _NUMBERS = 0.2, 0.7
_MISWRITTEN = 0.01  # share of dates and numbers in which the writer errs, so that what stands there is none
# Log likelihood by which a string that is none is better than the best one. The best path is a little better than all
# paths of the best text where ink is clear, and nothing is known of how much a text so unlikely weighs.
_CLEAR_EXCESS, _MOST_EXCESS = 0.7, 8.0

_Place = tuple[int, int, str]  # way, part of it, what of the part is written


class _State(NamedTuple):
    log: float
    at: frozenset[_Place]


class WaysToWrite:
    """``signs``: all that occur, small letters. ``ways``: what may be written. Serves :func:`search` as a prior."""

    def __init__(self, ways: Iterable[Way]) -> None:
        self._ways = [tuple(tuple(part) for part in way) for way in ways]
        self._beginnings = [
            tuple(frozenset(word[:n] for word in part for n in range(len(word) + 1)) for part in way)
            for way in self._ways
        ]
        self._words = [tuple(frozenset(part) for part in way) for way in self._ways]
        self.signs = "".join(sorted({sign for way in self._ways for part in way for word in part for sign in word}))
        self._next: dict[tuple[frozenset[_Place], str], _State] = {}
        self.start = _State(0.0, self._opened((n, 0, "") for n in range(len(self._ways))))

    def extend(self, state: _State, sign: str) -> _State:
        """The state after one more sign."""
        key = (state.at, sign)
        found = self._next.get(key)
        if found is None:
            at = self._opened(
                (way, part, text + sign)
                for way, part, text in state.at
                if part < len(self._ways[way]) and text + sign in self._beginnings[way][part]
            )
            found = self._next[key] = _State(0.0 if at else _NEVER, at)
        return found

    def ended(self, state: _State) -> float:
        """Log weight of what is written so far as a whole."""
        return 0.0 if any(part == len(self._ways[way]) for way, part, _ in state.at) else _NEVER

    def has(self, text: str) -> bool:
        """Whether a whole text is one of the ways."""
        state = self.start
        for sign in text:
            state = self.extend(state, sign)
        return self.ended(state) == 0.0

    def _opened(self, places: Iterable[_Place]) -> frozenset[_Place]:
        """The places, with those added that a part which is complete leads to."""
        found: set[_Place] = set()
        waiting = list(places)
        while waiting:
            way, part, text = waiting.pop()
            if (way, part, text) in found:
                continue
            found.add((way, part, text))
            if part < len(self._ways[way]) and text in self._words[way][part]:
                waiting.append((way, part + 1, ""))
        return frozenset(found)


class Looks(NamedTuple):
    """What was seen of a line: float64 (steps, 1 + len(signs)) each, cut down to ``signs``.

    ``first``, ``again``: by the line recogniser, twice; ``numbers``: by the network for dates and numbers alone.
    """

    first: np.ndarray
    again: np.ndarray
    numbers: np.ndarray
    signs: str

    @property
    def weighed(self) -> tuple[tuple[np.ndarray, float], ...]:
        """Each look and its weight: the recogniser's two, which see the same ink, share one."""
        return (self.first, _LINE / 2), (self.again, _LINE / 2), (self.numbers, _NUMBERS)

    def scores(self, texts: Sequence[str]) -> np.ndarray:
        """Log likelihood of each text by the ink, float64 (n,): both opinions, pooled (Genest and Zidek 1986)."""
        each = [weight * log_likelihood(steps, self.signs, texts) for steps, weight in self.weighed]
        return np.asarray(np.sum(each, axis=0))

    def best(self) -> float:
        """Log likelihood of the best string of these signs whatever it is, nearly: that of the best path."""
        return sum(weight * float(np.log(steps.max(axis=1)).sum()) for steps, weight in self.weighed)


def looks_of(reading: Reading, signs: str) -> Looks:
    """All looks at a line that was read by :func:`scanform.read.old.writing.read_line`."""
    seen = (reading.line_steps, reading.line_again, reading.line_numbers)
    assert all(steps is not None for steps in seen), "not a line that is read as a date, a number or a unit"
    folded = [folded_steps(steps, reading.line_characters) for steps in seen if steps is not None]
    letters = folded[0][1]
    kept = [n for n, letter in enumerate(letters) if letter in signs]
    columns = [0, *(1 + n for n in kept)]
    first, again, numbers = (_shared(steps[:, columns]) for steps, _ in folded)
    return Looks(first, again, numbers, "".join(letters[n] for n in kept))


def _shared(steps: np.ndarray) -> np.ndarray:
    steps = steps + _LEAST_STEP
    return np.asarray(steps / steps.sum(axis=1, keepdims=True))


def miswritten(excess: float) -> float:
    """Weight beside the best text of a string that is none; ``excess``: how much better the ink likes that."""
    return _MISWRITTEN * float(np.exp(min(excess, _MOST_EXCESS))) if excess > _CLEAR_EXCESS else 0.0


def likely_texts(looks: Looks, ways: WaysToWrite) -> dict[str, float]:
    """The likeliest texts of those ways, with the log likelihood of each; empty if the ink allows none."""
    texts: list[str] = []
    for steps, _ in looks.weighed:
        found = search(steps, looks.signs, ways, _SETTINGS).found  # type: ignore[arg-type]
        texts += [one.text for one in found[:_MOST_TEXTS] if ways.has(one.text)]
    texts = list(dict.fromkeys(texts))
    return dict(zip(texts, looks.scores(texts).tolist(), strict=True))
