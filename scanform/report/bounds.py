"""Exact binomial bounds: how wrong a record may be, given what a spot check found.

Clopper and Pearson's intervals, as in the NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.2.
"""

from __future__ import annotations

from scipy.stats import beta

__all__ = ["clopper_pearson", "upper_bound"]


def clopper_pearson(k: int, n: int, confidence: float) -> tuple[float, float]:
    """The exact two-sided interval for a rate of which ``k`` cases were seen in ``n`` trials.

    ``confidence`` is between 0 and 1; half of the rest lies on either side. ValueError for impossible counts.
    """
    _check(k, n, confidence)
    tail = (1 - confidence) / 2
    low = 0.0 if k == 0 else float(beta.ppf(tail, k, n - k + 1))
    high = 1.0 if k == n else float(beta.ppf(1 - tail, k + 1, n - k))
    return low, high


def upper_bound(k: int, n: int, confidence: float) -> float:
    """The rate that, with this confidence, is not exceeded: the exact one-sided bound. ValueError as above."""
    _check(k, n, confidence)
    return 1.0 if k == n else float(beta.ppf(confidence, k + 1, n - k))


def _check(k: int, n: int, confidence: float) -> None:
    if n < 1 or not 0 <= k <= n:
        raise ValueError(f"{k} cases in {n} trials cannot be")
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence of {confidence} is not between 0 and 1")
