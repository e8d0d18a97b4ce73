"""Settle defect words: the line recogniser's per-step probabilities searched with the trade's vocabulary as a prior.

The vocabulary weighs beside the ink while the line is read, it does not correct afterwards: a word that the ink says
clearly stays, listed or not. What the ink says by itself is kept beside the result.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from rapidfuzz.distance import Levenshtein

from scanform.read import Reading
from scanform.settle.combs import CombResult
from scanform.settle.ctc import SearchSettings, folded_steps, search
from scanform.settle.prior import Prior
from scanform.settle.vocabulary import Vocabulary, split_words

__all__ = ["WordSettings", "settle_words", "word_settings"]

_MOST_ALTERNATIVES = 4
_LEAST_ALTERNATIVE = 0.001
# Share of words that were read wrongly among those the vocabulary lacks; only its order matters, calibration weighs it.
_UNLISTED_CLEAN = 0.5
_SHOUTED = 0.6  # share of capitals from which a writer is taken to write in capitals


@dataclass(frozen=True)
class WordSettings:
    """How the vocabulary weighs beside the ink; fitted by ``python -m scanform.training.words``."""

    search: SearchSettings
    unknown: float


@lru_cache(maxsize=1)
def word_settings() -> WordSettings:
    """The settings that came with the installed models."""
    data = json.loads((resources.files("scanform.models") / "words.json").read_text())
    return WordSettings(SearchSettings(**data["search"]), float(data["unknown_share"]))


def settle_words(reading: Reading, vocabulary: Vocabulary) -> CombResult:
    """Defect words as ink and vocabulary together say them.

    ``raw`` is the posterior probability of the whole line, by ink and prior, among all strings there are: those that
    the search found, those it gave up, and those with signs it never tried. ``clean`` goes down with every word that
    the vocabulary lacks. The first of ``alternatives`` is the value; the ink's own reading is among them.
    """
    first = reading.alternatives[0]
    if first.value is None:
        return CombResult(None, first.probability)
    ink_alone = str(first.value)
    assert reading.line_steps is not None, f"{reading.field_id} is no free writing"
    settings = word_settings()
    steps, signs = folded_steps(reading.line_steps, reading.line_characters)
    result = search(steps, signs, _prior(vocabulary, settings.unknown), settings.search)
    ranked = [
        (_in_the_writers_case(found.text, ink_alone), share)
        for found, share in zip(result.found, result.shares, strict=True)
        if found.text
    ]
    if not ranked:
        return CombResult(ink_alone, first.probability)
    value, raw = ranked[0]
    kept = [(text, share) for text, share in ranked[:_MOST_ALTERNATIVES] if share >= _LEAST_ALTERNATIVE]
    alternatives: list[tuple[str | None, float]] = [(value, raw), *kept[1:]]
    for other in reading.alternatives:  # the ink alone, and a second opinion if there was one
        if all(str(text).casefold() != str(other.value).casefold() for text, _ in alternatives):
            alternatives.append((str(other.value), dict(ranked).get(str(other.value), 0.0)))
    unlisted = sum(word not in vocabulary.weights and not word.isdecimal() for word in split_words(value))
    clean = _UNLISTED_CLEAN**unlisted if unlisted else 1.0
    return CombResult(value, raw, [], alternatives, clean)


@lru_cache(maxsize=64)
def _prior(vocabulary: Vocabulary, unknown: float) -> Prior:
    return Prior(vocabulary.weights, unknown)


def _in_the_writers_case(text: str, ink_alone: str) -> str:
    """Small letters given the capitals that the ink has there; where the two differ, the case of the writer."""
    letters = [sign for sign in ink_alone if sign.isalpha()]
    shouted = sum(sign.isupper() for sign in letters) > _SHOUTED * max(1, len(letters))
    pieces = []
    for step in Levenshtein.opcodes(ink_alone.casefold(), text):
        theirs, ours = ink_alone[step.src_start : step.src_end], text[step.dest_start : step.dest_end]
        if step.tag == "equal" and not shouted:
            pieces.append(theirs)
        elif shouted or (step.dest_start == 0 and ink_alone[:1].isupper()):
            pieces.append(ours.upper())
        else:
            pieces.append(ours)
    return "".join(pieces)
