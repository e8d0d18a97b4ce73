"""Settle a number in free writing: the hour meter within the window of its neighbours, any other by its ink."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from decimal import Decimal
from functools import lru_cache

import numpy as np

from scanform.read import Reading
from scanform.settle.combs import CombResult
from scanform.settle.hours import HoursWindow, hours_prior
from scanform.settle.old.ways_to_write import Looks, Way, WaysToWrite, likely_texts, looks_of, miswritten

__all__ = ["settle_written_hours", "settle_written_number"]

_DIGIT = tuple("0123456789")
_OR_NOT = ("", *_DIGIT)
_UNIT = ("", " h", "h", " hrs", "hrs", " hr", "hr", " hours")
_INK_ALLOWS = -8.0  # log, as for dates
_INK_PREFERS = -3.0  # log: 1 in 20
# A point between two digits is small, often touches one of them, and is then seen by nobody; a speck is seldom one.
_POINT_UNSEEN, _POINT_IS_DIRT = 0.3, 0.005
# A meter of six digits has tenths: five whole ones are eleven years without a stop. Common practice.
_MOST_DIGITS, _TOO_LARGE = 5, 0.01
_TEN_TIMES = 0.02
# Digits of which the recogniser is now and then sure and wrong, and how often: 7 of some 2,500 such digits that were
# read at 0.99 and more on pages for fitting.
_ALIKE, _WRITTEN_ALIKE = {"1": "7", "7": "1", "4": "9", "9": "4"}, 0.003
_MOST_OF_WINDOW = 2000  # tenths of an hour that are all tried: eight days


@lru_cache(maxsize=2)
def _ways(tenths: bool) -> WaysToWrite:
    """Whole numbers, with or without their thousands apart, decimals, and the unit of hours behind them."""
    whole: Way = (_DIGIT, *[_OR_NOT] * 5, _UNIT)
    decimals: Way = (_DIGIT, *[_OR_NOT] * 5, (".", ","), _DIGIT, ("",) if tenths else _OR_NOT, _UNIT)
    thousands: Way = (_DIGIT, _OR_NOT, _OR_NOT, (",", ".", " ", "'"), _DIGIT, _DIGIT, _DIGIT, ("", ".0"), _UNIT)
    return WaysToWrite((whole, decimals, thousands))


def settle_written_hours(reading: Reading, window: HoursWindow | None, trust: float = 1.0) -> CombResult:
    """The hour meter as a decimal string. ``window``, ``trust``: as for :func:`scanform.settle.hours.settle_hours`."""

    def prior(values: list[Decimal]) -> np.ndarray:
        return hours_prior(np.array([float(value) for value in values]), window, trust)

    return _settled(reading, True, "no hours are written", prior, window)


def settle_written_number(reading: Reading) -> CombResult:
    """Any other number as a decimal string: a count of items, a distance."""
    return _settled(reading, False, "no number is written", lambda values: np.ones(len(values)), None)


def _settled(
    reading: Reading,
    tenths: bool,
    nothing: str,
    prior: Callable[[list[Decimal]], np.ndarray],
    window: HoursWindow | None,
) -> CombResult:
    if reading.alternatives[0].value is None:
        return CombResult(None, reading.alternatives[0].probability, [nothing])
    looks = looks_of(reading, _ways(tenths).signs)
    texts = likely_texts(looks, _ways(tenths))
    free = str(reading.alternatives[0].value)
    texts |= _window_texts(looks, window, max(texts.values(), default=-1e9))
    scores = _values(texts, tenths)
    if not scores:
        return CombResult(None, 0.2, [f"the ink reads '{free}', which is no number"])
    values = list(scores)
    by_ink = np.array([scores[value] for value in values])
    weighed = by_ink + np.log(np.maximum(prior(values) * _not_ten_times(values, window), 1e-12))
    order = np.argsort(weighed)[::-1]
    top, best_free = int(order[0]), looks.best()
    reasons = []
    if by_ink.max() - best_free < _INK_ALLOWS:
        reasons.append(f"the ink reads '{free}', which is no number")
    if by_ink[top] - by_ink.max() < np.log(1e-3):
        top = int(by_ink.argmax())
        complaint = window.complaint(values[top]) if window else None
        reasons.append(complaint or f"{_shown(values[top])} is an unlikely reading here")
        return CombResult(_shown(values[top]), 0.3, reasons)
    if by_ink[top] - by_ink.max() < _INK_PREFERS:
        reasons.append(f"the ink rather says '{_shown(values[int(by_ink.argmax())])}'")
    if window and (complaint := window.complaint(values[top])):
        reasons.append(complaint)
    weights = np.exp(weighed - weighed[top])
    total = float(weights.sum()) + miswritten(best_free - float(by_ink.max())) + _look_alikes(values[top], window)
    alternatives = [(_shown(values[int(k)]), float(weights[k]) / total) for k in order[:4]]
    return CombResult(_shown(values[top]), float(weights[top]) / total, reasons, alternatives)


def _look_alikes(value: Decimal, window: HoursWindow | None) -> float:
    """Weight, beside the number itself, of those that differ by a digit which some hands write alike and that the
    window allows.
    """
    text, found = _shown(value), 0
    for n, digit in enumerate(text):
        if digit in _ALIKE:
            other = Decimal(text[:n] + _ALIKE[digit] + text[n + 1 :])
            found += window is None or window.complaint(other) is None
    return _WRITTEN_ALIKE * found


def _not_ten_times(values: list[Decimal], window: HoursWindow | None) -> np.ndarray:
    """Weight of each number beside the others: little of one that is out of the window, and ten times one that is not.

    Its point went unseen: few numbers that are truly out of a window are ten times one inside.
    """
    if window is None:
        return np.ones(len(values))
    fits = {value for value in values if window.complaint(value) is None}
    return np.array([_TEN_TIMES if v not in fits and v / 10 in fits else 1.0 for v in values])


def _window_texts(looks: Looks, window: HoursWindow | None, best: float) -> dict[str, float]:
    """Every number of a window as it may be written, with what the ink says of it."""
    if window is None or window.low is None or window.high is None:
        return {}
    low, high = max(int(window.low * 10), 0), int(window.high * 10)
    if not 0 <= high - low <= _MOST_OF_WINDOW:
        return {}
    texts = [f"{n // 10}.{n % 10}" for n in range(low, high + 1)] + [str(n) for n in range(low // 10, high // 10 + 1)]
    found = zip(texts, looks.scores(texts).tolist(), strict=True)
    return {text: score for text, score in found if score > best + 2 * _INK_ALLOWS}


def _values(texts: dict[str, float], tenths: bool) -> dict[Decimal, float]:
    """Each number that a text may mean, with the log likelihood of all the ways to write it together."""
    found: dict[Decimal, float] = {}
    for text, score in texts.items():
        for value, weight in _meanings(text, tenths):
            found[value] = float(np.logaddexp(found.get(value, -np.inf), score + np.log(weight)))
    return found


_PARTED = re.compile(r"(\d+)[.,](\d{1,2})")


def _meanings(text: str, tenths: bool) -> Iterable[tuple[Decimal, float]]:
    digits = re.sub(r"[a-z ']+$", "", text)
    if parted := _PARTED.fullmatch(digits):
        yield Decimal(f"{parted[1]}.{parted[2]}"), 1.0
        yield Decimal(parted[1] + parted[2]), _POINT_IS_DIRT * (_TOO_LARGE if len(parted[1]) >= _MOST_DIGITS else 1.0)
        return
    plain = re.sub(r"[^0-9]", "", digits.removesuffix(".0"))
    if not plain:
        return
    yield Decimal(plain), _TOO_LARGE if tenths and len(plain) > _MOST_DIGITS else 1.0
    if plain == digits and tenths and len(plain) > 1:
        yield Decimal(plain).scaleb(-1), _POINT_UNSEEN


def _shown(value: Decimal) -> str:
    return f"{value:f}"
