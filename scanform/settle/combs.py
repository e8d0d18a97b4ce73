"""Settle combs: unit, date, hour meter and item numbers, by what the cells say and what is possible.

Likelihoods of whole strings come from the cells' probabilities; what is known (register, calendar, last reading)
weighs between strings that the ink allows. Where the best known string is far less likely by the ink than the best
string of all, the two part: the ink's own reading is kept, and doubted with the reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache

import numpy as np

from scanform.form import unit_characters
from scanform.read import ALPHABET, EMPTY, Alternative, Reading
from scanform.read.strings import best_strings
from scanform.settle.types import Known

__all__ = ["CombResult", "comb_text", "log_likelihoods", "settle_date", "settle_item_number", "settle_unit"]

_SIGNS = ALPHABET + EMPTY
_COLUMN = {sign: n for n, sign in enumerate(_SIGNS)}
_LEAST_PROBABILITY = 1e-9
# A known string may be this many times less likely than the freely read one and still be chosen: about one
# unclear character (a 0 that the network gives 5 % against an O), never two clear ones.
_INK_ALLOWS = 1e-3
# Item numbers have no history to check them by, and a wrong one ties a defect to the wrong part.
_INK_ALLOWS_ITEM = 0.1
# Share of sheets for a unit that the register lacks, and how such a unit is numbered: fleets are numbered in runs, so
# most often as a listed one with one digit changed ("WL41" beside "WL40"); with all digits other; in a way of its own.
_UNLISTED = 0.02
_ONE_DIGIT, _OTHER_DIGITS, _OWN_WAY = 0.7, 0.29, 0.01
# Share of combs in which the writer gets one character wrong, so that what stands there is impossible (month 13, an
# item that the sheet lacks). Without it the nearest possible reading would stand unopposed, however faint its ink.
_MISWRITTEN = 0.02
_YEARS_BACK = 10
_AGE_HALF_DAYS = 90.0
# Sheets are gathered for a week or two and then scanned; this share of them at least. The rest are binders' old sheets.
_RECENT = 0.8
_RECENT_DAYS = 14.0
# Dates of the same batch: how many make a span, and how many are looked back at.
_FEWEST_NEIGHBOURS = 5
_MOST_NEIGHBOURS = 60
# The ink prefers another string by more than this: what is known may have chosen, but a person has to agree. One
# character at 95 % against 5 %, about what separates a plain 7 from a plain 1.
_INK_PREFERS = 0.05
# No hand can be relied on to tell these apart, so the ink prefers neither. Common practice; fleets that use both of a
# pair in one place are told apart by the probabilities themselves.
_ONE_INK = ("0O", "1I", "2Z", "5S")


class CombResult:
    """Value, raw probability, reasons, and the alternatives worth showing.

    ``raw`` takes every cell for one clean character or an empty one; ``clean`` is the probability that they are.
    """

    def __init__(
        self,
        value: str | None,
        raw: float,
        reasons: Sequence[str] = (),
        alternatives: Sequence[tuple[str | None, float]] = (),
        clean: float = 1.0,
    ) -> None:
        self.value = value
        self.raw = raw
        self.clean = clean
        self.reasons = list(reasons)
        self.alternatives = tuple(Alternative(v, round(p, 6)) for v, p in alternatives)


def log_likelihoods(rows: np.ndarray, strings: Sequence[str]) -> np.ndarray:
    """Log likelihood of each string (one sign a cell) under float (cells, 37) rows: float64 (n,)."""
    columns = np.array([[_COLUMN[sign] for sign in text] for text in strings])
    return log_likelihoods_of_columns(rows, columns)


def log_likelihoods_of_columns(rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """The same for strings given as column numbers, int (n, cells)."""
    logs = np.log(np.maximum(rows.astype(np.float64), _LEAST_PROBABILITY))
    return logs[np.arange(rows.shape[0]), columns].sum(axis=1)


def comb_text(reading: Reading) -> tuple[str, float]:
    """The freely read string, one sign a cell, and its log likelihood."""
    rows = _rows(reading)
    text = best_strings(rows, 1)[0][0]
    return text, float(log_likelihoods(rows, [text])[0])


def miswritten(rows: np.ndarray) -> float:
    """Prior weight of one impossible string against the possible one that was meant; ``rows`` float (cells, 37).

    Any cell may be the wrong one, and hold any of nine other digits.
    """
    return _MISWRITTEN / (9 * rows.shape[0])


def clean_share(reading: Reading) -> float:
    """Probability that every cell holds one clean character or nothing."""
    assert reading.cell_other is not None
    return float(np.prod(1 - reading.cell_other))


def _rows(reading: Reading) -> np.ndarray:
    assert reading.cell_probabilities is not None, f"{reading.field_id} is no comb"
    return reading.cell_probabilities


# Units


def settle_unit(reading: Reading, known: Known) -> CombResult:
    """The unit number, from the register if there is one."""
    text, best = comb_text(reading)
    free = text.strip()
    if not free:
        return CombResult(None, float(np.exp(best)), ["no unit number is written"])
    # A number that begins in a later cell is the same number.
    rows = np.roll(_rows(reading), -(len(text) - len(text.lstrip(EMPTY))), axis=0)
    reasons = ["there is an empty cell inside the unit number"] if EMPTY in free else []
    if not known.units:
        raw = float(np.exp(best))
        return CombResult(free.replace(EMPTY, ""), raw, reasons, _free_alternatives(rows), clean_share(reading))
    names, columns = _register_columns(tuple(u.unit for u in known.units), rows.shape[0])
    if not names:
        return CombResult(free.replace(EMPTY, ""), 0.5, ["no unit of the register fits into this sheet's cells"])
    scores = log_likelihoods_of_columns(rows, columns)
    order = np.argsort(scores)[::-1]
    top = int(order[0])
    listed = free.replace(EMPTY, "") in {unit_characters(name) for name in names}
    if scores[top] - best < np.log(_INK_ALLOWS):
        return CombResult(
            free.replace(EMPTY, ""),
            0.3,
            [*reasons, f"the ink reads '{free}', which is not in the register; the nearest there is {names[top]}"],
            [(free.replace(EMPTY, ""), 0.5), *((names[int(k)], 0.1) for k in order[:3])],
        )
    alike = _alike(rows)
    found, preferred = log_likelihoods_of_columns(alike, columns[top : top + 1]), _rivals(alike, columns[top])
    reasons += prefers(free, float(found[0]), float(np.log(preferred).sum()))
    weights = np.exp(scores - scores[top])
    unlisted = _unlisted_weight(rows, columns, free, scores[top])
    total = float(weights.sum()) + unlisted
    alternatives = [(names[int(k)], float(weights[k]) / total) for k in order[:4]]
    if not listed:
        alternatives.append((free.replace(EMPTY, ""), unlisted / total))
    return CombResult(names[top], 1 / total, reasons, alternatives, clean_share(reading))


def _alike(rows: np.ndarray) -> np.ndarray:
    """The same float (cells, 37) with signs that are one ink in many hands as likely as the likelier of the two."""
    merged = rows.copy()
    for pair in _ONE_INK:
        places = [_COLUMN[sign] for sign in pair]
        merged[:, places] = rows[:, places].max(axis=1, keepdims=True)
    return merged


def _rivals(rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Each cell's best probability, float (cells,), among the signs that may stand there in a unit numbered likewise.

    A unit that the register lacks has other digits, or other letters, in the places of a listed one's: ink that looks
    like a Y where listed units have a digit is no sign of another unit. ``columns`` int (cells,): the listed one.
    """
    digit = np.arange(len(ALPHABET)) < 10
    other_kind = np.where(columns[:, None] < 10, ~digit, digit) & (columns[:, None] < len(ALPHABET))
    return np.where(np.pad(other_kind, ((0, 0), (0, 1))), 0.0, rows).max(axis=1)


def _unlisted_weight(rows: np.ndarray, columns: np.ndarray, free: str, top: float) -> float:
    """Weight of all units that the register lacks together, against ``top``, the log likelihood of a listed one.

    ``columns`` int (n, cells): the register. Each listed unit weighs 1, so that n of them weigh (1 - share) of all.
    """
    logs = np.log(np.maximum(rows.astype(np.float64), _LEAST_PROBABILITY))
    any_digit = np.logaddexp.reduce(logs[:, :10], axis=1) - np.log(10)
    listed = logs[np.arange(rows.shape[0]), columns]
    digit = columns < 10
    changed = np.where(digit, listed.sum(axis=1, keepdims=True) - listed + any_digit, -np.inf)
    one = np.logaddexp.reduce(changed, axis=1) - np.log(np.maximum(digit.sum(axis=1), 1))
    other = np.where(digit, any_digit, listed).sum(axis=1)
    own_way = logs.max(axis=1).sum() - len(free) * np.log(len(ALPHABET)) + np.log(len(columns))
    numbered = np.logaddexp(one + np.log(_ONE_DIGIT), other + np.log(_OTHER_DIGITS))
    weight = np.logaddexp(np.logaddexp.reduce(numbered), own_way + np.log(_OWN_WAY))
    return float(np.exp(np.log(_UNLISTED / (1 - _UNLISTED)) + weight - top))


@lru_cache(maxsize=32)
def _register_columns(units: tuple[str, ...], cells: int) -> tuple[tuple[str, ...], np.ndarray]:
    """The register's numbers as they stand in the comb, from its left: names and columns int (n, cells)."""
    fitting = [unit for unit in units if 0 < len(unit_characters(unit)) <= cells]
    columns = [[_COLUMN[sign] for sign in unit_characters(unit).ljust(cells, EMPTY)] for unit in fitting]
    return tuple(fitting), np.array(columns, int).reshape(len(fitting), cells)


def _free_alternatives(rows: np.ndarray) -> list[tuple[str | None, float]]:
    return [(text.replace(EMPTY, "") or None, weight) for text, weight in best_strings(rows, 4)]


# Dates


def settle_date(reading: Reading, known: Known) -> CombResult:
    """The date: a day of the calendar, likelier the nearer it is to today."""
    rows = _rows(reading)
    text, best = comb_text(reading)
    if not text.strip():
        return CombResult(None, float(np.exp(best)), ["no date is written"])
    today = known.today or date.today()
    days, columns, _ = _calendar(today)
    scores = log_likelihoods_of_columns(rows, columns)
    weighed = scores + _log_prior(today, *_span(today, known.days))
    order = np.argsort(weighed)[::-1]
    top = int(order[0])
    if scores[top] - best < np.log(_INK_ALLOWS):
        nearest = days[top]  # of days that the ink allows alike, the likeliest
        return CombResult(
            _iso_or_none(text),
            0.3,
            [_not_a_date(text, nearest)],
            [(day.isoformat(), 0.2) for day in (nearest,)],
        )
    weights = np.exp(weighed - weighed[top])
    total = float(weights.sum())
    if scores.max() < best:  # no day of the calendar
        total += miswritten(rows) * float(np.exp(best - scores[top]))
    reasons = []
    if days[top] > today:
        reasons.append(f"{days[top].isoformat()} lies in the future; today is {today.isoformat()}")
    reasons += prefers(text, scores[top], best)
    alternatives = [(days[int(k)].isoformat(), float(weights[k]) / total) for k in order[:4]]
    return CombResult(days[top].isoformat(), 1 / total, reasons, alternatives, clean_share(reading))


@lru_cache(maxsize=4)
def _calendar(today: date) -> tuple[list[date], np.ndarray, np.ndarray]:
    """Every day from ten years back to a year ahead: days, columns int (n, 8), days before today float64 (n,)."""
    first = today - timedelta(days=366 * _YEARS_BACK)
    days = [first + timedelta(days=n) for n in range((today - first).days + 366)]
    columns = np.array([[_COLUMN[sign] for sign in day.isoformat().replace("-", "")] for day in days])
    return days, columns, np.array([(today - day).days for day in days], float)


@lru_cache(maxsize=16)
def _log_prior(today: date, low: float, high: float) -> np.ndarray:
    """Log prior weight of each day of the calendar, float64 (n,), by how many days ago it was.

    ``low``, ``high``: how many days ago the batch's sheets before it were written, least and most.

    Sheets are read within weeks; old binders and clocks that run ahead are rarer but do exist. Once a few sheets of a
    batch are read, near means near to them: a stack is a week's paper, or a month's, of whatever year.
    """
    age = _calendar(today)[2]
    old = np.where(age >= 0, 1 / (1 + np.abs(age) / _AGE_HALF_DAYS), 0.02)
    recent = np.where(age >= 0, np.exp(-np.maximum(np.maximum(low - age, age - high), 0) / _RECENT_DAYS), 0.0)
    return np.log((1 - _RECENT) * old / old.sum() + _RECENT * recent / recent.sum())


def _span(today: date, batch: Sequence[date]) -> tuple[float, float]:
    """How many days ago the sheets of the batch were written, least and most; today if too few are read."""
    if len(batch) < _FEWEST_NEIGHBOURS:
        return 0.0, 0.0
    # The middle of a stack's dates: one old sheet in it does not stretch the span.
    ages = np.sort([(today - day).days for day in batch[-_MOST_NEIGHBOURS:]])
    spare = len(ages) // 10
    return float(max(ages[spare], 0)), float(max(ages[len(ages) - 1 - spare], 0))


def prefers(text: str, score: float, best: float) -> list[str]:
    """The doubt that is left where a value (log likelihood ``score``) is not what the ink says best (``best``)."""
    if score - best >= np.log(_INK_PREFERS):
        return []
    return [f"the ink rather says '{text.strip().replace(EMPTY, '_')}'"]


def _iso_or_none(text: str) -> str | None:
    try:
        return datetime.strptime(text, "%Y%m%d").date().isoformat() if EMPTY not in text else None
    except ValueError:
        return None


def _not_a_date(text: str, nearest: date) -> str:
    shown = text.replace(EMPTY, "_")
    return (
        f"the ink reads '{shown[:4]}-{shown[4:6]}-{shown[6:]}', which is no day of the last {_YEARS_BACK} years; "
        f"the nearest is {nearest.isoformat()}"
    )


# Item numbers


def settle_item_number(reading: Reading, numbers: Sequence[int], likely: set[int]) -> CombResult:
    """A defect line's item number: one of the sheet's, likelier one that is answered Defect; or nothing."""
    rows = _rows(reading)
    text, best = comb_text(reading)
    if not text.strip():
        return CombResult(None, float(np.exp(best)), clean=clean_share(reading))
    cells = rows.shape[0]
    forms = [(n, form) for n in numbers for form in _forms(n, cells)]
    scores = log_likelihoods(rows, [form for _, form in forms])
    weighed = scores + np.array([0.0 if n in likely or not likely else np.log(0.1) for n, _ in forms])
    if scores.max() - best < np.log(_INK_ALLOWS_ITEM):
        digits = text.replace(EMPTY, "")
        return CombResult(digits or None, 0.3, [f"the ink reads '{digits}', which is no item number of this sheet"])
    weights = np.exp(weighed - weighed.max())
    by_number: dict[int, float] = {}
    for (n, _), weight in zip(forms, weights, strict=True):
        by_number[n] = by_number.get(n, 0.0) + float(weight)
    total = sum(by_number.values())
    if scores.max() < best:  # no item of the sheet
        total += miswritten(rows) * float(np.exp(best - scores[int(weighed.argmax())]))
    ranked = sorted(by_number.items(), key=lambda pair: -pair[1])
    alternatives = [(str(n), weight / total) for n, weight in ranked[:4]]
    return CombResult(str(ranked[0][0]), ranked[0][1] / total, [], alternatives, clean_share(reading))


def _forms(number: int, cells: int) -> list[str]:
    """How a number may stand in the cells: to the right, with leading zeros, or to the left."""
    digits = str(number)
    return sorted({digits.rjust(cells, EMPTY), digits.rjust(cells, "0"), digits.ljust(cells, EMPTY)})
