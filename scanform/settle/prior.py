"""How likely a string is as a crew's complaint, before any ink is looked at: a word at a time.

A word is either of the vocabulary (by its weight) or any other string of letters (by a letter model of trade words), at
a cost. Both are probabilities of whole words, so that an unlisted word is never forbidden, only less expected, and a
word begun counts by all the words it may become.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["Prior", "WordState"]

_DIGITS = frozenset("0123456789")
_IN_WORD = frozenset("abcdefghijklmnopqrstuvwxyz0123456789'")
_LETTERS = "abcdefghijklmnopqrstuvwxyz'"
# What follows a word. Complaints are short and hardly punctuated; no outside source.
_AFTER_WORD = {" ": 0.93, ",": 0.02, "/": 0.01, ".": 0.01, "-": 0.01}
_RARE_SIGN = 0.001
# Numbers within words: part numbers, sizes, fault codes.
_DIGIT_FIRST = 0.02
_DIGIT_AFTER_LETTER = 0.004
_DIGIT_AFTER_DIGIT = 0.6
_LETTER_AFTER_DIGIT = 0.1
_STOP_AFTER_DIGIT = 0.3
_LEAST = 1e-12


@dataclass(slots=True)
class _Node:
    children: dict[str, _Node]
    mass: float = 0.0
    own: float = 0.0


@dataclass(slots=True)
class WordState:
    """Where a string stands in the prior. ``log``: log probability of all before the word now being written, and of
    that word's beginning. ``unlisted``: words so far that the vocabulary lacks.
    """

    log: float
    node: _Node | None
    spelt: float  # of this word's beginning by the letter model
    begun: float  # of this word's beginning by both together
    letters: str


class Prior:
    """The prior over strings of small letters, digits and signs.

    ``unknown``: share of words that no vocabulary has.
    """

    def __init__(self, weights: Mapping[str, float], unknown: float) -> None:
        self._unknown = unknown
        self._root = _Node({})
        total = sum(weights.values()) or 1.0
        for word, weight in weights.items():
            node, share = self._root, weight / total
            node.mass += share
            for letter in word:
                node = node.children.setdefault(letter, _Node({}))
                node.mass += share
            node.own += share
        self._spelling = _Spelling(weights)
        self.start = WordState(0.0, self._root, 1.0, 1.0, "")

    def extend(self, state: WordState, sign: str) -> WordState:
        """The state after one more sign."""
        if sign in _IN_WORD:
            return self._within(state, sign)
        if not state.letters:  # a sign after a sign; two spaces are never written
            cost = _RARE_SIGN if sign != " " or not state.log else 0.5
            return WordState(state.log + math.log(cost), self._root, 1.0, 1.0, "")
        log = self.ended(state) + math.log(_AFTER_WORD.get(sign, _RARE_SIGN))
        return WordState(log, self._root, 1.0, 1.0, "")

    def ended(self, state: WordState) -> float:
        """Log probability of the string if it ends here."""
        if not state.letters:
            return state.log
        own = state.node.own if state.node is not None else 0.0
        whole = (1 - self._unknown) * own + self._unknown * state.spelt * self._spelling.stop(state.letters)
        return state.log + math.log(max(whole, _LEAST) / max(state.begun, _LEAST))

    def _within(self, state: WordState, letter: str) -> WordState:
        node = state.node.children.get(letter) if state.node is not None else None
        spelt = state.spelt * self._spelling.after(state.letters, letter)
        begun = (1 - self._unknown) * (node.mass if node is not None else 0.0) + self._unknown * spelt
        log = state.log + math.log(max(begun, 1e-300) / state.begun)
        return WordState(log, node, spelt, begun, state.letters + letter)


class _Spelling:
    """Letters of words by the two before them, from the vocabulary's own spelling, smoothed down to any letter."""

    def __init__(self, weights: Mapping[str, float]) -> None:
        pairs: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
        for word in weights:
            if _DIGITS & set(word):
                continue
            padded = "^^" + word + "$"
            for n in range(2, len(padded)):
                for context in ("", padded[n - 1], padded[n - 2 : n]):
                    pairs[context][padded[n]] += 1.0
        self._counts = {context: dict(found) for context, found in pairs.items()}
        self._totals = {context: sum(found.values()) for context, found in pairs.items()}
        self._kept: dict[tuple[str, str], float] = {}

    def after(self, letters: str, sign: str) -> float:
        last = letters[-1:]
        if sign in _DIGITS:
            share = _DIGIT_AFTER_DIGIT if last in _DIGITS and last else _DIGIT_AFTER_LETTER if last else _DIGIT_FIRST
            return share / 10
        if last and last in _DIGITS:
            return _LETTER_AFTER_DIGIT / 27
        return self._smoothed(letters, sign)

    def stop(self, letters: str) -> float:
        if letters[-1:] in _DIGITS:
            return _STOP_AFTER_DIGIT
        return self._smoothed(letters, "$")

    def _smoothed(self, letters: str, sign: str) -> float:
        context = ("^^" + letters)[-2:]
        key = (context, sign)
        if key not in self._kept:
            share, shares = 1 / (len(_LETTERS) + 1), []
            # Witten and Bell's smoothing (1991): the more kinds follow a context, the more a new one may.
            for shorter in ("", context[1:], context):
                counts = self._counts.get(shorter, {})
                kinds, total = max(len(counts), 1), self._totals.get(shorter, 0.0)
                share = (counts.get(sign, 0.0) + kinds * share) / (total + kinds)
                shares.append(share)
            # Trade words are few, and an unlisted one need not be spelt like them: all three contexts count alike.
            self._kept[key] = sum(shares) / len(shares)
        return self._kept[key]
