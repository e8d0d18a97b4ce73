"""Settle names: the likelihood of everybody on the crew list under the line recogniser's per-step probabilities."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from scanform.read import Reading
from scanform.settle.combs import CombResult
from scanform.settle.ctc import folded_steps, log_likelihood
from scanform.settle.types import Known

__all__ = ["settle_name"]

# Nothing is less likely than this at a step: the recogniser is surer of its mistakes than it may be.
_LEAST_STEP = 1e-4
# Steps are not independent, so that log likelihoods of names are worth half of what they sum to. Fitted with the
# next on 500 names of pages from seed 6,300,000: every name on the list among them is told from the others.
_WORTH = 0.5
# Log likelihood that a name on the list may lack against the ink's own reading before "somebody else" is as likely.
# On those pages a listed name lacks 0.2 in the middle and 12 at the tenth percentile, 18 at the first; the likeliest of
# the names that were not meant lacks 29 on one line in a hundred, 17 at least.
_SOMEBODY_ELSE = 17.0
_LEAST_SURE = 0.5
_MOST_OF_THE_NEXT = 0.05  # beyond this the second person on the list may be meant as well
_UNDECIDED = 0.3  # shown for a name that a reason makes doubtful anyway
_SHOWN = 3
# How people write their own name: share of each form. Common practice, no source.
_FORMS = (
    (0.70, "{first} {last}"),
    (0.10, "{initial}. {last}"),
    (0.08, "{initial} {last}"),
    (0.06, "{last}"),
    (0.06, "{first}"),
)


def settle_name(reading: Reading, known: Known) -> CombResult:
    """A name: the crew's if the ink is likely to say it and nobody else's, else as read.

    ``raw`` is the posterior probability of that person among the crew and somebody who is not on the list.
    """
    first = reading.alternatives[0]
    if first.value is None:
        return CombResult(None, first.probability, ["no name is written"])
    text = str(first.value)
    if not known.crew:
        return CombResult(text, first.probability)
    forms = _forms(tuple(known.crew))
    spelt = [form for _, _, form in forms]
    scores = _scores(reading, spelt, text)
    weights: dict[str, float] = {}
    for (name, share, _), score in zip(forms, scores, strict=True):
        weights[name] = weights.get(name, 0.0) + share * float(np.exp(_WORTH * score))
    somebody_else = float(np.exp(-_WORTH * _SOMEBODY_ELSE))
    total = sum(weights.values()) + somebody_else
    ranked = sorted(((name, weight / total) for name, weight in weights.items()), key=lambda pair: -pair[1])
    alternatives = ranked[:_SHOWN]
    best, share = ranked[0]
    if somebody_else / total > _LEAST_SURE:
        reason = f"the ink reads '{text}'; nobody on the crew list is clearly meant"
        return CombResult(text, _UNDECIDED, [reason], alternatives)
    if len(ranked) > 1 and ranked[1][1] > _MOST_OF_THE_NEXT:
        reason = f"the ink reads '{text}'; it may be {best} or {ranked[1][0]} of the crew list"
        return CombResult(text, _UNDECIDED, [reason], alternatives)
    return CombResult(best, share, [], alternatives)


def _scores(reading: Reading, spelt: Sequence[str], text: str) -> np.ndarray:
    """Log likelihood of each spelling less that of the ink's own reading, float64 (n,)."""
    assert reading.line_steps is not None, f"{reading.field_id} is no free writing"
    steps, signs = folded_steps(reading.line_steps, reading.line_characters)
    steps = np.maximum(steps, _LEAST_STEP)
    steps = steps / steps.sum(axis=1, keepdims=True)
    found = log_likelihood(steps, signs, [*spelt, text.casefold()])
    return found[:-1] - found[-1]


@lru_cache(maxsize=16)
def _forms(crew: tuple[str, ...]) -> list[tuple[str, float, str]]:
    """Everybody's ways of writing their name: name, share, spelling in small letters; a form that two people share
    counts for both.
    """
    forms = []
    for name in crew:
        plain = unicodedata.normalize("NFKD", name.casefold())  # the recogniser's letters have no accents
        parts = "".join(sign for sign in plain if not unicodedata.combining(sign)).split()
        if len(parts) < 2:
            forms.append((name, 1.0, parts[0]))
            continue
        spelling = {"first": parts[0], "initial": parts[0][:1], "last": " ".join(parts[1:])}
        forms += [(name, share, form.format(**spelling)) for share, form in _FORMS]
    return forms
