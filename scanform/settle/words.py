"""Settle free writing: defect words as read, names against the crew list."""

from __future__ import annotations

import re

from rapidfuzz import fuzz, process

from scanform.read import Reading
from scanform.settle.combs import CombResult
from scanform.settle.types import Known

__all__ = ["settle_name", "settle_words"]

# A name is taken from the crew list if it is this much like the ink (0 to 100, normalised edit distance) ...
_ALIKE = 72.0
# ... and nobody else on the list comes near.
_AHEAD_BY = 18.0


def settle_words(reading: Reading) -> CombResult:
    """Defect words stay as read; the second reading only speaks for or against them."""
    first = reading.alternatives[0]
    if first.value is None:
        return CombResult(None, first.probability)
    agreement = next((int(m[1]) / 100 for e in reading.evidence if (m := re.match(r"second reading (\d+)%", e))), 0.5)
    raw = first.probability ** (1.5 - agreement)
    return CombResult(str(first.value), raw)


def settle_name(reading: Reading, known: Known) -> CombResult:
    """A name: the crew's if exactly one is close to the ink, else as read."""
    first = reading.alternatives[0]
    if first.value is None:
        return CombResult(None, first.probability, ["no name is written"])
    text = str(first.value)
    if not known.crew:
        return CombResult(text, first.probability)
    by_key = {_key(name): name for name in known.crew}
    ranked = process.extract(_key(text), list(by_key), scorer=fuzz.ratio, limit=3)
    best_key, best, _ = ranked[0]
    second = ranked[1][1] if len(ranked) > 1 else 0.0
    alternatives = [(by_key[key], score / 100) for key, score, _ in ranked]
    if best >= _ALIKE and best - second >= _AHEAD_BY:
        # 72 to 100 alike becomes 0.98 to 0.999...; the calibration makes probabilities of it.
        raw = 1 - 10 ** -(1.7 + (best - _ALIKE) / 14)
        return CombResult(by_key[best_key], raw, [], alternatives)
    return CombResult(text, 0.3, [f"the ink reads '{text}'; nobody on the crew list is clearly meant"], alternatives)


def _key(name: str) -> str:
    return " ".join(re.sub(r"[^a-z ]", " ", name.lower()).split())
