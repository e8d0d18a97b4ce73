"""Settle a date in cells whose order is the form's own: day first, month first, two digits for the year."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from scanform.read import Reading
from scanform.settle.combs import CombResult, settle_date
from scanform.settle.hours import HoursWindow, settle_hours
from scanform.settle.types import Known

__all__ = ["settle_date_cells", "settle_hours_cells"]

_EMPTY = 0.5  # probability from which a cell is one that nobody wrote in


def settle_date_cells(reading: Reading, pattern: str, known: Known) -> CombResult:
    """The date as ISO 8601, from cells in the order of ``pattern`` (``ddmmyy``); year first if it is empty."""
    rows, other = reading.cell_probabilities, reading.cell_other
    assert rows is not None
    assert other is not None
    order = pattern if len(pattern) == len(rows) else "yyyymmdd"
    if len(rows) not in (6, 8) or len(order) != len(rows):
        return CombResult(None, 0.2, [f"a date in {len(rows)} cells is in no order that is known here"])
    places = [n for part in "ymd" for n, letter in enumerate(order) if letter == part]
    if len(rows) == 8:
        return settle_date(replace(reading, cell_probabilities=rows[places], cell_other=other[places]), known)
    # The century is not written: that of the last hundred years.
    century = ((known.today or date.today()).year + 1) // 100
    full = np.vstack([_sure(century // 10, rows), _sure(century % 10, rows), rows[places]])
    if np.argmax(rows[places], axis=1).min() == rows.shape[1] - 1:
        full[:2] = rows[places][:2]  # nothing is written: nor is the century
    clean = np.concatenate([np.zeros(2, other.dtype), other[places]])
    return settle_date(replace(reading, cell_probabilities=full, cell_other=clean), known)


def settle_hours_cells(reading: Reading, pattern: str, window: HoursWindow | None, trust: float = 1.0) -> CombResult:
    """The hour meter from cells of which the last is tenths, unless ``pattern`` (``hhhhh``) has none."""
    rows, other = reading.cell_probabilities, reading.cell_other
    assert rows is not None
    assert other is not None
    whole = bool(pattern) and "t" not in pattern and len(pattern) == len(rows)
    if not whole or rows[:, -1].min() > _EMPTY:
        return settle_hours(reading, window, trust)
    with_tenths = replace(
        reading, cell_probabilities=np.vstack([rows, _sure(0, rows)]), cell_other=np.append(other, other.dtype.type(0))
    )
    return settle_hours(with_tenths, window, trust)


def _sure(digit: int, rows: np.ndarray) -> np.ndarray:
    row = np.zeros((1, rows.shape[1]), rows.dtype)
    row[0, digit] = 1.0
    return row
