"""Settle a date in free writing: what the ink allows, in the order of the binder's other dates, near its days."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from math import lgamma

import numpy as np

from scanform.read import Reading
from scanform.settle.combs import CombResult
from scanform.settle.old.date_forms import Meaning, date_ways, meanings, month_meanings, month_ways
from scanform.settle.old.filing_order import neighbour_weight, out_of_place
from scanform.settle.old.ways_to_write import WaysToWrite, likely_texts, looks_of, miswritten
from scanform.settle.types import Known, SettledField

__all__ = ["knows_days", "order_share", "settle_written_date", "settle_written_month", "written_order"]

_INK_ALLOWS = -8.0  # log: of the best date against what the recogniser reads freely; e^-8 is 1 in 3,000
_PASSED_OVER = 0.25  # of the points and spaces between two numbers that the recogniser sees none of
_UNREAD = (
    0.06  # where it sees none, the weight of a digit that it let go by too: 5 of 72 such dates for fitting were misread
)
_LEAST_UNREAD = 0.1  # of that weight, whatever other sheets say: a digit other than a 1 may have been let go by
_YEARS_BACK = 30  # binders of ten years and more
_NEAR = 0.85  # share of a stack's sheets that lie in its span or near it, once that is known
_NEAR_DAYS = 14.0
_FEWEST_NEIGHBOURS, _MOST_NEIGHBOURS = 5, 60
_MISFILED = 0.005  # weight of a day that does not suit the sheets filed before and after, against the one that does
# Sites keep to one order, mostly: of a binder's own dates each order is taken to be the only one, but for slips, or
# both to be mixed. No outside source.
_MIXED, _SLIP = 0.08, 0.002
_FORM_SAYS = 8  # of one order, dates that the form's own "dd/mm/yy" counts for
_MOST_MONTHS = 12
_MAY_BE_EITHER = 0.02  # share of the other order from which a person has to say

_Means = Callable[[str, int], tuple[Meaning, ...]]  # the days that a text may mean, by this year


def settle_written_date(reading: Reading, known: Known, pattern: str = "") -> CombResult:
    """The date as ISO 8601. ``pattern``: the order that the form prints, as in a template (``ddmmyy``, ``dmy``)."""
    return _settled(reading, known, pattern, date_ways(), meanings)


def settle_written_month(reading: Reading, known: Known) -> CombResult:
    """A month's first day as ISO 8601."""
    return _settled(reading, known, "", month_ways(), month_meanings)


def _settled(reading: Reading, known: Known, pattern: str, ways: WaysToWrite, means: _Means) -> CombResult:
    if reading.alternatives[0].value is None:
        return CombResult(None, reading.alternatives[0].probability, ["no date is written"])
    looks = looks_of(reading, ways.signs)
    free = str(reading.alternatives[0].value)
    texts = likely_texts(looks, ways)
    today = known.today or date.today()
    weighed = _weighed(texts, today, known, pattern, means)
    if not weighed:
        return CombResult(None, 0.2, [f"the ink reads '{free}', which is no date"])
    best_text = max(texts.values())
    best_free = looks.best()
    top, weight, _, ink = weighed[0]
    unread = _UNREAD * _suits_less(top, texts, today, known, pattern, means) if weighed[0][2].passed_over else 0.0
    total = sum(w for _, w, _, _ in weighed) + weight * (miswritten(best_free - best_text) + unread)
    shares = [(day.isoformat(), w / total) for day, w, _, _ in weighed[:4]]
    reasons = []
    if max(ink, best_text) - best_free < _INK_ALLOWS:
        reasons.append(f"the ink reads '{free}', which is no date; the nearest is {top.isoformat()}")
    if ink - best_text < np.log(0.05):
        reasons.append(f"the ink rather says '{max(texts, key=texts.__getitem__)}'")
    reasons += _either_order(weighed, total)
    if out_of_place(known.filed, known.place, top):
        reasons.append(f"{top.isoformat()} does not suit the dates of the sheets filed before and after this one")
    if top > today:
        reasons.append(f"{top.isoformat()} lies in the future; today is {today.isoformat()}")
    return CombResult(top.isoformat(), weight / total, reasons, shares)


_Weighed = tuple[date, float, Meaning, float]  # day, weight, its likeliest meaning, the ink's log likelihood of it


def _weighed(texts: dict[str, float], today: date, known: Known, pattern: str, means: _Means) -> list[_Weighed]:
    """Every day that a text may mean, heaviest first."""
    if not texts:
        return []
    best = max(texts.values())
    day_first = order_share(known, pattern)
    by_order = {"dmy": day_first, "mdy": 1 - day_first, "ymd": 1.0, "": 1.0}
    prior = _prior(today, known)
    found: dict[date, list[tuple[float, float, Meaning]]] = {}
    for text, score in texts.items():
        for meaning in means(text, today.year):
            weight = float(np.exp(score - best)) * by_order[meaning.order] * _PASSED_OVER**meaning.passed_over
            found.setdefault(meaning.day, []).append((weight * prior(meaning.day), score, meaning))
    rows = []
    for day, ways in found.items():
        _, _, meaning = max(ways, key=lambda way: way[0])
        rows.append((day, sum(way[0] for way in ways), meaning, max(way[1] for way in ways)))
    return sorted(rows, key=lambda row: -row[1])


def _suits_less(top: date, texts: dict[str, float], today: date, known: Known, pattern: str, means: _Means) -> float:
    """How much less than ``top`` other sheets allow, on the average, the days that its text means with a 1 more.

    A one is what the recogniser lets go by. 1 where nothing is known of other sheets.
    """
    text = max((t for t in texts if any(m.day == top for m in means(t, today.year))), key=texts.__getitem__)
    prior = _prior(today, known)
    longer = {f"{text[:n]}1{text[n:]}" for n in range(len(text) + 1)}
    day_first = order_share(known, pattern)
    by_order = {"dmy": day_first, "mdy": 1 - day_first, "ymd": 1.0, "": 1.0}
    days: dict[date, float] = {}
    for meaning in (meaning for other in longer for meaning in means(other, today.year)):
        days[meaning.day] = max(days.get(meaning.day, 0.0), by_order[meaning.order])
    days.pop(top, None)
    total = sum(days.values())
    allowed = sum(prior(day) * share for day, share in days.items()) / total / prior(top) if total else 0.0
    return float(np.clip(allowed, _LEAST_UNREAD, 1.0))


def _either_order(weighed: Sequence[_Weighed], total: float) -> list[str]:
    """The doubt that day and month may be meant the other way round."""
    top, _, meaning, _ = weighed[0]
    if meaning.order not in ("dmy", "mdy") or top.day > _MOST_MONTHS or top.day == top.month:
        return []
    turned = date(top.year, top.day, top.month)
    for day, weight, other, _ in weighed[1:]:
        if day == turned and other.order in ("dmy", "mdy") and weight / total > _MAY_BE_EITHER:
            return [
                f"this may be {top.isoformat()} or {turned.isoformat()}: which comes first, day or month, is not clear"
            ]
    return []


def order_share(known: Known, pattern: str = "") -> float:
    """Probability that a date has its day before its month, by the binder's other dates and the form's print."""
    day_first, month_first = known.day_first, known.month_first
    if "d" in pattern and "m" in pattern:
        if pattern.index("d") < pattern.index("m"):
            day_first += _FORM_SAYS
        else:
            month_first += _FORM_SAYS
    n = day_first + month_first
    only = (1 - _MIXED) / 2
    dmy = only * (1 - _SLIP) ** day_first * _SLIP**month_first
    mdy = only * (1 - _SLIP) ** month_first * _SLIP**day_first
    # Mixed: any share is as likely as any other (Laplace's rule of succession).
    mixed = _MIXED * float(np.exp(_log_beta(day_first + 1, month_first + 1)))
    next_mixed = (day_first + 1) / (n + 2)
    total = dmy + mdy + mixed
    return (dmy * (1 - _SLIP) + mdy * _SLIP + mixed * next_mixed) / total


def _log_beta(a: int, b: int) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)


def written_order(field: SettledField) -> str:
    """The order in which a date is written, ``dmy`` or ``mdy``, where it can be no other; else empty."""
    if field.original is None or not isinstance(field.value, str):
        return ""
    day = date.fromisoformat(field.value)
    ways = {meaning.order for meaning in meanings(field.original, day.year) if meaning.day == day}
    return ways.pop() if len(ways) == 1 and ways <= {"dmy", "mdy"} and day.day > _MOST_MONTHS else ""


def knows_days(known: Known) -> bool:
    """Whether the dates of other sheets say where in the calendar this stack is."""
    return len(known.days) >= _FEWEST_NEIGHBOURS


def _prior(today: date, known: Known) -> Callable[[date], float]:
    stack = known.days
    even = _DayPrior(today, tuple(stack[-_MOST_NEIGHBOURS:]) if knows_days(known) else ())
    beside = neighbour_weight(known.filed, known.place)
    if beside is None:
        return even
    return lambda day: even(day) * (_MISFILED + (1 - _MISFILED) * beside(day))


class _DayPrior:
    """Weight of a day before any ink is seen: even over the years, and near the stack's other sheets most of all."""

    def __init__(self, today: date, stack: tuple[date, ...]) -> None:
        self._first, self._last = today - timedelta(days=366 * _YEARS_BACK), today + timedelta(days=366)
        self._span: tuple[date, date] | None = None
        if stack:
            ordered, spare = sorted(stack), len(stack) // 10
            self._span = ordered[spare], ordered[-1 - spare]

    def __call__(self, day: date) -> float:
        if not self._first <= day <= self._last:
            return 1e-9
        even = 1 / (366 * (_YEARS_BACK + 1))
        if self._span is None:
            return even
        low, high = self._span
        away = max((low - day).days, (day - high).days, 0)
        width = (high - low).days + 1 + 2 * _NEAR_DAYS
        return (1 - _NEAR) * even + _NEAR * float(np.exp(-away / _NEAR_DAYS)) / width
