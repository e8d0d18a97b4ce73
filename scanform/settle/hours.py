"""Settle the hour meter: what the cells say, and the window that the neighbouring readings leave."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import numpy as np

from scanform.read import EMPTY, Reading
from scanform.read.combs import best_strings
from scanform.settle.combs import (
    CombResult,
    clean_share,
    comb_text,
    log_likelihoods,
    log_likelihoods_of_columns,
    miswritten,
)
from scanform.settle.types import Known

__all__ = ["HoursWindow", "hours_window", "settle_hours"]

MOST_HOURS_A_DAY = 24  # a meter cannot run faster than the clock
_USUAL_MOST_A_DAY = 14.0  # common practice: most machines do 0 to 14 h a day
_INK_ALLOWS = 1e-3
_OUTSIDE = 0.05  # prior weight of all readings outside the window together: meters get replaced, writers err
_MOST_CANDIDATES = 40_000


@dataclass(frozen=True)
class HoursWindow:
    """The readings possible for a unit on a day, with the neighbours they follow from."""

    low: Decimal | None
    high: Decimal | None
    low_on: date | None = None
    high_from: Decimal | None = None
    high_days: int = 0

    def complaint(self, hours: Decimal) -> str | None:
        """Why a reading is impossible, with the arithmetic; None if it is possible."""
        if self.low is not None and hours < self.low:
            return f"{hours} h is less than the {self.low} h of {self.low_on}; an hour meter does not run backwards"
        if self.high is not None and hours > self.high:
            if self.high_days < 0:
                return f"{hours} h is more than the {self.high} h read later; an hour meter does not run backwards"
            return (
                f"{hours} h is more than {self.high_from} h + {self.high_days} x {MOST_HOURS_A_DAY} h = {self.high} h, "
                "the most the meter can have run"
            )
        return None


def hours_window(known: Known, unit: str | None, on: date | None) -> HoursWindow | None:
    """The window for a unit on a day, from the nearest readings before and after it; None if nothing is known."""
    if unit is None or on is None:
        return None
    readings = [(r.on, r.hours) for r in known.readings if r.unit == unit]
    before = max((r for r in readings if r[0] < on), default=None)
    after = min((r for r in readings if r[0] > on), default=None)
    low = before[1] if before else None
    high: Decimal | None = None
    high_from, days = None, 0
    if before:
        # A sheet may be filled in at the start of one day and at the end of the other.
        days = (on - before[0]).days + 1
        high, high_from = before[1] + MOST_HOURS_A_DAY * days, before[1]
    if after and (high is None or after[1] < high) and (low is None or after[1] >= low):
        high, high_from, days = after[1], None, -1
    if low is None and high is None:
        return None
    return HoursWindow(low, high, before[0] if before else None, high_from, days)


def settle_hours(reading: Reading, window: HoursWindow | None) -> CombResult:
    """The hour-meter reading as a decimal string with one place."""
    rows = reading.cell_probabilities
    assert rows is not None
    text, best = comb_text(reading)
    if not text.strip():
        return CombResult(None, float(np.exp(best)), ["no hours are written"])
    if text[-1] == EMPTY and _parsed(text[:-1] + "0") is not None:
        whole = _parsed(text[:-1] + "0")
        return CombResult(str(whole), 0.5, ["the tenths cell is empty"])
    candidates = _candidates(rows, window)
    if not candidates:
        shown = text.replace(EMPTY, "_")
        return CombResult(None, 0.2, [f"the cells read '{shown[:-1]}.{shown[-1]}', which is no number"])
    values = list(candidates)
    scores = np.array([candidates[value] for value in values])
    weighed = scores + np.log(_prior(values, window))
    # The ink's own best number, whatever is plausible.
    by_ink = values[int(scores.argmax())]
    order = np.argsort(weighed)[::-1]
    top = int(order[0])
    if scores[top] - scores.max() < np.log(_INK_ALLOWS):
        complaint = window.complaint(by_ink) if window else None
        return CombResult(str(by_ink), 0.3, [complaint or f"{by_ink} h is an unlikely reading for this unit"])
    weights = np.exp(weighed - weighed[top])
    total = float(weights.sum())
    if _parsed(text) is None:
        total += miswritten(rows) * float(np.exp(best - scores[top]))
    value = values[top]
    reasons = []
    if window and (complaint := window.complaint(value)):
        reasons.append(complaint)
    if scores.max() - best < np.log(_INK_ALLOWS):
        shown = text.replace(EMPTY, "_")
        reasons.append(f"the cells read '{shown[:-1]}.{shown[-1]}', which is no number")
    alternatives = [(str(values[int(k)]), float(weights[k]) / total) for k in order[:4]]
    return CombResult(str(value), 1 / total, reasons, alternatives, clean_share(reading))


def _parsed(text: str) -> Decimal | None:
    """The number in cells of which the last is tenths: empty cells may only lead."""
    digits = text.lstrip(EMPTY)
    if not digits or not digits.isdigit():
        return None
    return _from_tenths(int(digits))


def _from_tenths(tenths: int) -> Decimal:
    return Decimal(tenths).scaleb(-1)  # keeps the ".0" of a whole hour


def _candidates(rows: np.ndarray, window: HoursWindow | None) -> dict[Decimal, float]:
    """Numbers with their log likelihoods: the freely read ones, and every number of the window."""
    found: dict[Decimal, float] = {}
    strings = [text for text, _ in best_strings(rows, 30)]
    for text, score in zip(strings, log_likelihoods(rows, strings), strict=True):
        value = _parsed(text)
        if value is not None:
            found[value] = float(np.logaddexp(found.get(value, -np.inf), score))
    if window and window.low is not None and window.high is not None:
        low, high = int(window.low * 10), int(window.high * 10)
        high = min(high, 10 ** rows.shape[0] - 1)
        if 0 <= high - low <= _MOST_CANDIDATES:
            tenths = np.arange(low, high + 1)
            for value, score in zip(tenths, _number_scores(rows, tenths), strict=True):
                found[_from_tenths(int(value))] = float(score)
    return found


def _number_scores(rows: np.ndarray, tenths: np.ndarray) -> np.ndarray:
    """Log likelihood of each number, with leading zeros or with leading empty cells."""
    cells = rows.shape[0]
    digits = (tenths[:, None] // 10 ** np.arange(cells - 1, -1, -1)) % 10
    leading = np.cumsum(digits, axis=1) == 0
    leading[:, -2:] = False  # a zero before the point is written
    empty_column = rows.shape[1] - 1
    with_zeros = log_likelihoods_of_columns(rows, digits)
    with_gaps = log_likelihoods_of_columns(rows, np.where(leading, empty_column, digits))
    return np.where(leading.any(axis=1), np.logaddexp(with_zeros, with_gaps), with_zeros)


def _prior(values: list[Decimal], window: HoursWindow | None) -> np.ndarray:
    """Weight of each number: even without a window; inside one, readings of a usual day's work come first."""
    if window is None or window.low is None or window.high is None:
        inside = np.ones(len(values))
        if window is not None:
            inside = np.array([1.0 if window.complaint(v) is None else _OUTSIDE for v in values])
        return inside
    numbers = np.array([float(v) for v in values])
    low, high = float(window.low), float(window.high)
    usual = low + max(window.high_days, 1) * _USUAL_MOST_A_DAY
    weights = np.where(numbers <= usual, 1.0, 0.3)
    count = max((high - low) * 10, 1.0)
    # The weight of all outside numbers is spread over the few that the ink suggests.
    return np.where((numbers >= low) & (numbers <= high), weights / count, _OUTSIDE / count)
