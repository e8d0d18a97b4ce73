"""Exact binomial bounds: how wrong a record may be, given what a spot check found.

Clopper and Pearson's intervals, as in the NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.2.
"""

from __future__ import annotations

import math

__all__ = ["clopper_pearson", "fewest_for", "upper_bound"]


def clopper_pearson(k: int, n: int, confidence: float) -> tuple[float, float]:
    """The exact two-sided interval for a rate of which ``k`` cases were seen in ``n`` trials.

    ``confidence`` is between 0 and 1; half of the rest lies on either side. ValueError for impossible counts.
    """
    # Not at the top, here and below: most of what uses this room asks for no bound, and scipy takes long to load.
    from scipy.special import betaincinv

    _check(k, n, confidence)
    tail = (1 - confidence) / 2
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, tail))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1 - tail))
    return low, high


def upper_bound(k: int, n: int, confidence: float) -> float:
    """The rate that, with this confidence, is not exceeded: the exact one-sided bound. ValueError as above."""
    from scipy.special import betaincinv

    _check(k, n, confidence)
    return 1.0 if k == n else float(betaincinv(k + 1, n - k, confidence))


def fewest_for(rate: float, k: int, confidence: float) -> int:
    """The fewest trials of which ``k`` cases still show that the rate is not exceeded. ValueError as above."""
    if not 0 < rate < 1 or k < 0:
        raise ValueError(f"{k} cases cannot show a rate of {rate}")
    low, high = k, k + 1
    while upper_bound(k, high, confidence) > rate:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if upper_bound(k, middle, confidence) > rate:
            low = middle
        else:
            high = middle
    return high


def _check(k: int, n: int, confidence: float) -> None:
    if n < 1 or not 0 <= k <= n:
        raise ValueError(f"{k} cases in {n} trials cannot be")
    if not 0 < confidence < 1 or math.isnan(confidence):
        raise ValueError(f"a confidence of {confidence} is not between 0 and 1")
