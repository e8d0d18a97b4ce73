"""Hour meters: every reading in its place, those that cannot be explained, and what was run from day to day.

Readings are taken before the shift. Of a unit's readings the chain is believed that needs the fewest others to be
wrong: each step of it runs forward and no faster than the clock. A replaced meter begins a new chain; that costs as
much belief as setting aside two readings and a half, so a lone low reading is called wrong, three in a row (or one that
a person has confirmed) a new meter.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd

from scanform.binder import Binder
from scanform.form import DAYS, parted
from scanform.settle.hours import MOST_HOURS_A_DAY
from scanform.settle.types import State

__all__ = ["READING_COLUMNS", "daily_use", "meter_readings"]

READING_COLUMNS = ("unit", "date", "hours", "state", "sheet", "meter", "believed", "why", "sure", "waits")

# How much is believed: one reading counts one. A person has looked at a confirmed one; a doubtful one may be misread.
_WEIGHT = {State.CONFIRMED.value: 3.0, State.ACCEPTED.value: 1.0, State.DOUBTFUL.value: 0.6}
_NEW_METER = 2.5
_LOOK_BACK = 40  # readings; more wrong ones in a row than this are a new meter in any case
_SLACK = 1e-6  # hours


def meter_readings(binder: Binder, sheets: pd.DataFrame) -> pd.DataFrame:
    """Every meter reading of the sheets given (as from ``counted_sheets``) and of the register, by unit and date.

    Columns: ``unit``, ``date`` (ISO 8601 text), ``hours``, ``state``, ``sheet`` (None for the register's), ``meter``
    (1, and one more for each replaced one), ``believed``, ``why``: what is wrong with one that is not believed, or
    that a new meter begins here; "" otherwise. ``sure``: neither it nor its sheet's unit or date is doubtful.
    ``waits``: what is said of it rests on readings that are not sure, and is no fact before a person has looked.
    """
    table = _by_day(_written(binder, sheets), _registered(binder))
    meter, believed = np.ones(len(table), int), np.ones(len(table), bool)
    why = np.full(len(table), "", object)
    places = table.groupby("unit", sort=False).indices
    for unit in _suspicious(table):
        mine = places[unit]
        table.iloc[mine] = table.iloc[mine[_within_days(table.iloc[mine])]]
        meter[mine], believed[mine], why[mine] = _judged(table.iloc[mine])
    table["meter"], table["believed"], table["why"] = meter, believed, why
    table["waits"] = (table["why"] != "") & ~table["sure"] & ~_meter_is_proven(table)
    return table[list(READING_COLUMNS)]


def _meter_is_proven(table: pd.DataFrame) -> pd.Series:
    """Of each believed reading, whether any on the same meter is believed and sure."""
    proven = table["believed"] & table["sure"]
    return table["believed"] & proven.groupby([table["unit"], table["meter"]]).transform("any").astype(bool)


def daily_use(readings: pd.DataFrame) -> pd.DataFrame:
    """What was run between neighbouring believed readings of one meter.

    Columns: ``unit``, ``since`` and ``until`` (ISO 8601 text: the two readings' days), ``hours``, ``days``. Of several
    readings of a day, one a shift, the first counts: each step holds all that was run on its days.
    """
    good = readings[readings["believed"]].drop_duplicates(["unit", "date", "meter"])
    before = good.shift(1)
    same = (good["unit"] == before["unit"]) & (good["meter"] == before["meter"])
    days = (pd.to_datetime(good["date"]) - pd.to_datetime(before["date"])).dt.days
    use = pd.DataFrame(
        {
            "unit": good["unit"],
            "since": before["date"],
            "until": good["date"],
            "hours": (good["hours"] - before["hours"]).round(1),
            "days": days,
        }
    )[same]
    return use.astype({"days": int}).reset_index(drop=True)


def _written(binder: Binder, sheets: pd.DataFrame) -> pd.DataFrame:
    heads = sheets[["sheet", "unit", "date", "unsure"]]
    said = binder.written_columns(["hours"], list(sheets["sheet"])).merge(heads, on="sheet")
    said = said[said["unit"].notna() & said["date"].notna()]
    said = said.assign(hours=pd.to_numeric(said["value"], errors="coerce"))
    said = said[said["hours"].notna()]
    day = said["field"].map(lambda field_id: _days_on(parted(field_id)[1]))
    if day.any():
        moved = pd.to_datetime(said["date"]) + pd.to_timedelta(day, unit="D")
        said = said.assign(date=moved.dt.strftime("%Y-%m-%d").astype(object))
    sure = (said["state"] != State.DOUBTFUL.value) & (said["unsure"] == "")
    return said.assign(sure=sure)[["unit", "date", "hours", "state", "sheet", "sure"]]


def _days_on(day: str | None) -> int:
    """Days from a sheet's own date to one of its days."""
    return 0 if day is None else DAYS.index(day) if day in DAYS else int(day) - 1


def _registered(binder: Binder) -> pd.DataFrame:
    rows = [
        (unit.unit, unit.hours_on.isoformat(), float(unit.hours), State.ACCEPTED.value, None, True)
        for unit in binder.units()
        if unit.hours is not None and unit.hours_on is not None
    ]
    return pd.DataFrame(rows, columns=["unit", "date", "hours", "state", "sheet", "sure"])


def _by_day(*parts: pd.DataFrame) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    table = pd.concat(filled, ignore_index=True) if filled else parts[0].copy()
    table = table.astype({"hours": float, "sure": bool})
    return table.sort_values(["unit", "date", "hours"], kind="stable").reset_index(drop=True)


def _suspicious(table: pd.DataFrame) -> list[str]:
    """The units of which any two neighbouring readings do not follow each other."""
    if len(table) < 2:
        return []
    same = (table["unit"] == table["unit"].shift(1)).to_numpy()
    step = table["hours"].diff().to_numpy()
    days = pd.to_datetime(table["date"]).diff().dt.days.to_numpy()
    with np.errstate(invalid="ignore"):
        bad = same & ~_possible(step, days)
    return list(table["unit"][bad].unique())


def _possible(step: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Whether a meter can have made these steps; a sheet may be filled in early on one day and late on the other."""
    return (step >= -_SLACK) & (step <= MOST_HOURS_A_DAY * (days + 1) + _SLACK)


def _within_days(mine: pd.DataFrame) -> np.ndarray:
    """One unit's readings in the order in which its meters showed them. Of a day's readings the higher come first where
    they go on from the day before and the lower are what the day after goes on from: the meter was replaced between two
    shifts.
    """
    hours = mine["hours"].to_numpy()
    days = pd.to_datetime(mine["date"]).to_numpy().astype("datetime64[D]").astype(int)
    order = np.arange(len(hours))
    begins = [int(place) for place in np.flatnonzero(np.diff(days, prepend=days[0] - 1))]
    for begin, end in zip(begins, [*begins[1:], len(hours)], strict=True):
        if end - begin < 2 or begin == 0 or end == len(hours):
            continue
        before, after = begin - 1, end
        for cut in range(begin + 1, end):
            old, new = (cut, end - 1), (begin, cut - 1)  # first and last place of each meter
            follows = [_follows(hours, days, before, first) for first, _ in (old, new)]
            goes_on = [_follows(hours, days, last, after) for _, last in (old, new)]
            if follows == [True, False] and goes_on == [False, True]:
                order[begin:end] = [*range(cut, end), *range(begin, cut)]
                break
    return order


def _follows(hours: np.ndarray, days: np.ndarray, one: int, other: int) -> bool:
    return bool(_possible(hours[other] - hours[one], days[other] - days[one]))


def _judged(mine: pd.DataFrame) -> tuple[list[int], list[bool], list[str]]:
    """Meter, belief and explanation of each of one unit's readings."""
    hours = mine["hours"].to_numpy()
    days = pd.to_datetime(mine["date"]).to_numpy().astype("datetime64[D]").astype(int)
    weights = np.where(mine["sure"], mine["state"].map(_WEIGHT), _WEIGHT[State.DOUBTFUL.value])
    chain = _believed(hours, days, weights)
    believed = [False] * len(hours)
    meters, why, meter = [1] * len(hours), [""] * len(hours), 1
    for before, here in zip([None, *chain], chain, strict=False):
        believed[here] = True
        if before is not None and not _follows(hours, days, before, here):
            meter += 1
            last = f"{hours[before]:.1f} h of {_day(days[before])}"
            why[here] = f"a new meter begins: {hours[here]:.1f} h does not follow {last}"
        meters[here] = meter
    for place in range(len(hours)):
        if not believed[place]:
            earlier = max((c for c in chain if c < place), default=None)
            later = min((c for c in chain if c > place), default=None)
            meters[place] = meters[earlier] if earlier is not None else 1
            why[place] = _impossible(hours, days, place, earlier, later)
    return meters, believed, why


def _believed(hours: np.ndarray, days: np.ndarray, weights: np.ndarray) -> list[int]:
    """The chain of readings with most belief."""
    best, came_from = weights.copy(), np.full(len(hours), -1)
    for place in range(1, len(hours)):
        first = max(0, place - _LOOK_BACK)
        span = np.arange(first, place)
        follows = _possible(hours[place] - hours[span], days[place] - days[span])
        scores = best[span] - np.where(follows, 0.0, _NEW_METER)
        # The nearest of equals, so that nothing between is set aside without need.
        at = int(len(span) - 1 - scores[::-1].argmax())
        if scores[at] > 0:
            best[place], came_from[place] = weights[place] + scores[at], span[at]
    place = int(len(hours) - 1 - best[::-1].argmax())
    chain = []
    while place >= 0:
        chain.append(place)
        place = int(came_from[place])
    return chain[::-1]


def _impossible(hours: np.ndarray, days: np.ndarray, place: int, earlier: int | None, later: int | None) -> str:
    here = hours[place]
    if earlier is not None:
        before, passed = hours[earlier], int(days[place] - days[earlier])
        most = before + MOST_HOURS_A_DAY * (passed + 1)
        if here < before:
            return f"runs backwards: {here:.1f} h is less than the {before:.1f} h of {_day(days[earlier])}"
        if here > most:
            return (
                f"runs faster than the clock: {here:.1f} h is more than {before:.1f} h of {_day(days[earlier])} + "
                f"{passed + 1} x {MOST_HOURS_A_DAY} h = {most:.1f} h"
            )
    if later is not None:
        after = hours[later]
        if here > after:
            return f"does not fit what follows: {here:.1f} h is more than the {after:.1f} h of {_day(days[later])}"
        return (
            f"does not fit what follows: from {here:.1f} h the meter cannot have reached the {after:.1f} h of "
            f"{_day(days[later])}"
        )
    return f"does not fit the readings before it: {here:.1f} h"


def _day(ordinal: int) -> dt.date:
    return dt.date(1970, 1, 1) + dt.timedelta(days=int(ordinal))
