"""Settle the hour meter: what the cells say, and the window that the neighbouring readings leave."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import numpy as np

from scanform.read import EMPTY, Reading
from scanform.read.strings import best_strings
from scanform.settle.combs import (
    CombResult,
    clean_share,
    comb_text,
    log_likelihoods,
    log_likelihoods_of_columns,
    miswritten,
    prefers,
)
from scanform.settle.types import Known, MeterReading

__all__ = ["HoursWindow", "Limit", "hours_prior", "hours_window", "settle_hours"]

MOST_HOURS_A_DAY = 24  # a meter cannot run faster than the clock
_USUAL_MOST_A_DAY = 14  # common practice: most machines do 0 to 14 h a day
_PACE_DAYS = 56  # a unit that lately did more keeps the pace that it showed in the last eight weeks
# Prior weight of a number within the window, 1 for what usual days' work makes: where a day more must have been worked
# (one sheet written before the shift, the other after it); where the machine must have run longer than usual.
_DAY_MORE, _UNUSUAL = 0.3, 0.1
_INK_ALLOWS = 1e-3
# Prior weight of a number outside the window against one inside: meters get replaced, writers err. Of 2,199 simulated
# combs whose true number lay outside, one digit away from the window, this lets 2 through above a confidence of 0.98, a
# weight of 0.05 lets 1, and one of 0.001 lets 8 (seeds from 6,600,000).
_OUTSIDE = 0.02
_MOST_CANDIDATES = 40_000


@dataclass(frozen=True)
class Limit:
    """One end of the window: the hours, and in words the reading or the arithmetic that they follow from."""

    hours: Decimal
    why: str


@dataclass(frozen=True)
class HoursWindow:
    """The readings possible for a unit on a day. An end that no neighbour sets is None.

    ``usual_most``: what the meter shows at the most if the unit worked no longer a day than it usually does and both
    sheets were written at the same time of day; ``day_more_most``: with a whole day's work more. None if there is no
    reading before.
    """

    lowest: Limit | None
    highest: Limit | None
    usual_most: Decimal | None = None
    day_more_most: Decimal | None = None

    @property
    def low(self) -> Decimal | None:
        """The least hours possible."""
        return self.lowest.hours if self.lowest else None

    @property
    def high(self) -> Decimal | None:
        """The most hours possible."""
        return self.highest.hours if self.highest else None

    def complaint(self, hours: Decimal) -> str | None:
        """Why a reading is impossible, with the arithmetic; None if it is possible."""
        if self.lowest is not None and hours < self.lowest.hours:
            return f"{hours} h is less than {self.lowest.why}"
        if self.highest is not None and hours > self.highest.hours:
            return f"{hours} h is more than {self.highest.why}"
        return None


def hours_window(known: Known, unit: str | None, on: date | None) -> HoursWindow | None:
    """The window for a unit on a day, from the nearest readings before, on and after it; None if nothing is known.

    A meter counts at most 24 h a day and never backwards. Binders are read out of order, so readings of later days
    bound an earlier sheet: from above, since the meter did not run backwards, and from below, since it ran no faster
    than the clock. Another sheet of the same day bounds from both sides by the day's 24 h; which of the two was written
    first is not on the paper. Where neighbours contradict each other a meter was replaced between them: only what came
    before then counts, and on the day of a replacement both meters' readings are possible.
    """
    if unit is None or on is None:
        return None
    by_day: dict[date, list[Decimal]] = {}
    for reading in _readings_of(known, unit):
        by_day.setdefault(reading.on, []).append(reading.hours)
    before, after = max((d for d in by_day if d < on), default=None), min((d for d in by_day if d > on), default=None)
    lows: list[Limit] = []
    highs: list[Limit] = []
    usual_most = day_more_most = None
    if before is not None:
        # A sheet may be filled in at the start of one day and at the end of the other.
        days = (on - before).days + 1
        first, last = min(by_day[before]), max(by_day[before])
        last_of_its_meter = last if _one_meter(by_day[before]) else first
        lows.append(Limit(last_of_its_meter, f"the {last_of_its_meter} h of {before}; {_NEVER_BACK}"))
        highs.append(_most_after(last, days))
        pace = _usual_pace(by_day, before)
        usual_most, day_more_most = last + pace * (days - 1), last + pace * days
    if after is not None and _one_meter(by_day[after]):
        _add_later(lows, highs, min(by_day[after]), max(by_day[after]), (after - on).days + 1)
    if on in by_day and _one_meter(by_day[on]):
        _add_same_day(lows, highs, by_day[on])
    if not lows and not highs:
        return None
    lowest = max(lows, key=lambda limit: limit.hours, default=None)
    highest = min(highs, key=lambda limit: limit.hours, default=None)
    return HoursWindow(lowest, highest, usual_most, day_more_most)


def _readings_of(known: Known, unit: str) -> list[MeterReading]:
    recalled = known.recall(unit) if known.recall is not None else ()
    return [*(reading for reading in known.readings if reading.unit == unit), *recalled]


_NEVER_BACK = "an hour meter does not run backwards"


def _usual_pace(by_day: dict[date, list[Decimal]], until: date) -> Decimal:
    """Hours a day that this unit works at the most: as machines do, or as its own readings show if that is more."""
    days = sorted(day for day in by_day if until - timedelta(days=_PACE_DAYS) <= day <= until)
    paces = [(max(by_day[b]) - max(by_day[a])) / (b - a).days for a, b in pairwise(days)]
    # A step that no clock allows is a new meter or a wrong reading, and no pace.
    return max([Decimal(_USUAL_MOST_A_DAY), *(pace for pace in paces if pace <= MOST_HOURS_A_DAY)])


def _one_meter(readings: list[Decimal]) -> bool:
    """Whether one day's readings can be of one meter."""
    return max(readings) - min(readings) <= MOST_HOURS_A_DAY


def _most_after(hours: Decimal, days: int) -> Limit:
    most = hours + MOST_HOURS_A_DAY * days
    return Limit(most, f"{hours} h + {days} x {MOST_HOURS_A_DAY} h = {most} h, the most the meter can have run")


def _add_same_day(lows: list[Limit], highs: list[Limit], readings: list[Decimal]) -> None:
    least, most = max(readings) - MOST_HOURS_A_DAY, min(readings) + MOST_HOURS_A_DAY
    if not _fit(lows, highs, least, most):
        return  # the meter was replaced that day: the sheet may be of either
    lows.append(Limit(least, f"{max(readings)} h of the same day - {MOST_HOURS_A_DAY} h = {least} h"))
    highs.append(Limit(most, f"{min(readings)} h of the same day + {MOST_HOURS_A_DAY} h = {most} h"))


def _add_later(lows: list[Limit], highs: list[Limit], first: Decimal, last: Decimal, days: int) -> None:
    least = last - MOST_HOURS_A_DAY * days
    if not _fit(lows, highs, least, first):
        return  # the meter was replaced in between: the later reading says nothing about this one
    highs.append(Limit(first, f"the {first} h read later; {_NEVER_BACK}"))
    if least > 0:
        lows.append(Limit(least, f"{last} h - {days} x {MOST_HOURS_A_DAY} h = {least} h, the least before {last} h"))


def _fit(lows: list[Limit], highs: list[Limit], least: Decimal, most: Decimal) -> bool:
    """Whether a further window leaves anything of what the others allow."""
    return all(limit.hours <= most for limit in lows) and all(limit.hours >= least for limit in highs)


def settle_hours(reading: Reading, window: HoursWindow | None, trust: float = 1.0) -> CombResult:
    """The hour-meter reading as a decimal string with one place.

    ``trust``: probability that the window is this sheet's, where its unit or its date is not beyond doubt.
    """
    rows = reading.cell_probabilities
    assert rows is not None
    text, best = comb_text(reading)
    if not text.strip():
        return CombResult(None, float(np.exp(best)), ["no hours are written"])
    if text[-1] == EMPTY and (whole := _tenths_in(text[:-1] + "0")) is not None:
        return CombResult(str(_from_tenths(whole)), 0.5, ["the tenths cell is empty"])
    candidates = _candidates(rows, window)
    if not candidates:
        shown = text.replace(EMPTY, "_")
        return CombResult(None, 0.2, [f"the cells read '{shown[:-1]}.{shown[-1]}', which is no number"])
    tenths, scores = np.array(list(candidates)), np.array(list(candidates.values()))
    weighed = scores + np.log(hours_prior(tenths / 10, window, trust))
    # The ink's own best number, whatever is plausible.
    by_ink = _from_tenths(int(tenths[scores.argmax()]))
    order = np.argsort(weighed)[::-1]
    top = int(order[0])
    if scores[top] - scores.max() < np.log(_INK_ALLOWS):
        complaint = window.complaint(by_ink) if window else None
        return CombResult(str(by_ink), 0.3, [complaint or f"{by_ink} h is an unlikely reading for this unit"])
    weights = np.exp(weighed - weighed[top])
    total = float(weights.sum())
    if _tenths_in(text) is None:
        total += miswritten(rows) * float(np.exp(best - scores[top]))
    value = _from_tenths(int(tenths[top]))
    reasons = prefers(f"{text[:-1]}.{text[-1]}", scores[top], best)
    if window and (complaint := window.complaint(value)):
        reasons.append(complaint)
    if scores.max() - best < np.log(_INK_ALLOWS):
        shown = text.replace(EMPTY, "_")
        reasons.append(f"the cells read '{shown[:-1]}.{shown[-1]}', which is no number")
    alternatives = [(str(_from_tenths(int(tenths[k]))), float(weights[k]) / total) for k in order[:4]]
    return CombResult(str(value), 1 / total, reasons, alternatives, clean_share(reading))


def _tenths_in(text: str) -> int | None:
    """The number in cells of which the last is tenths, in tenths: empty cells may only lead."""
    digits = text.lstrip(EMPTY)
    if not digits or not digits.isdigit():
        return None
    return int(digits)


def _from_tenths(tenths: int) -> Decimal:
    return Decimal(tenths).scaleb(-1)  # keeps the ".0" of a whole hour


def _candidates(rows: np.ndarray, window: HoursWindow | None) -> dict[int, float]:
    """Numbers in tenths with their log likelihoods: the freely read ones, and every number of the window."""
    found: dict[int, float] = {}
    strings = [text for text, _ in best_strings(rows, 30)]
    for text, score in zip(strings, log_likelihoods(rows, strings), strict=True):
        value = _tenths_in(text)
        if value is not None:
            found[value] = float(np.logaddexp(found.get(value, -np.inf), score))
    if window and window.low is not None and window.high is not None:
        low, high = max(int(window.low * 10), 0), int(window.high * 10)
        high = min(high, 10 ** rows.shape[0] - 1)
        if 0 <= high - low <= _MOST_CANDIDATES:
            tenths = np.arange(low, high + 1)
            found |= zip(tenths.tolist(), _number_scores(rows, tenths).tolist(), strict=True)
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


def hours_prior(hours: np.ndarray, window: HoursWindow | None, trust: float) -> np.ndarray:
    """Weight of each number, float (n,): even without a window; inside one, readings of usual days' work come first.

    A window that may be another sheet's favours what lies inside by as much less.
    """
    if window is None:
        return np.ones(len(hours))
    outside = trust * _OUTSIDE + 1 - trust
    low = -np.inf if window.low is None else float(window.low)
    high = np.inf if window.high is None else float(window.high)
    inside = (hours >= low) & (hours <= high)
    if window.low is None or window.high is None:
        return np.where(inside, 1.0, outside)
    usual = float(window.usual_most) if window.usual_most is not None else high
    day_more = float(window.day_more_most) if window.day_more_most is not None else high
    weights = np.select([hours <= usual, hours <= day_more], [1.0, _DAY_MORE], _UNUSUAL)
    count = max((high - low) * 10, 1.0)
    # The weight of all outside numbers is spread over the few that the ink suggests.
    return np.where(inside, np.maximum(trust * weights, outside), outside) / count
