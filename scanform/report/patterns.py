"""Patterns in sheets that are worth a talk, as facts: what stands on which sheets, never what somebody meant by it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import pandas as pd

from scanform.binder import Binder
from scanform.form import DAYS
from scanform.report.frames import rows
from scanform.report.ink_weeks import weeks_in_one_ink, whole_boxes
from scanform.report.meter import meter_readings
from scanform.report.register import Defect, defect_register
from scanform.report.sheet_days import counted_sheets, sheet_days
from scanform.report.wording import counted, dates_in_words
from scanform.settle import same_ink
from scanform.settle.types import State

__all__ = ["PATTERNS_CAUTION", "Pattern", "patterns"]

PATTERNS_CAUTION = (
    "These are facts about sheets, not about people, and each has ordinary explanations. Look at the paper and talk "
    "with the crew before making anything of them."
)
_STANDS_STILL = 3  # sheets in a row with the same meter reading
_EQUAL_STEPS = 5  # days in a row on which the meter moves by the very same hours


@dataclass(frozen=True)
class Pattern:
    """One fact. ``kind``: "answered OK", "same ink", "one ink", "meter stands" or "equal steps"; ``sheets`` are the
    record numbers of those that it is about, ``first`` and ``last`` their days.
    """

    kind: str
    unit: str
    first: dt.date
    last: dt.date
    sheets: tuple[int, ...]
    sentence: str


def patterns(binder: Binder, since: dt.date, until: dt.date, register: Sequence[Defect] | None = None) -> list[Pattern]:
    """All patterns in a stretch of days, open safety-critical defects that were answered OK first.

    ``register``: as from ``defect_register``, if it is at hand.
    """
    sheets = counted_sheets(binder)
    days = sheet_days(binder, sheets, since, until)
    days = days[days["filled"].astype(bool)]
    register = defect_register(binder, sheets) if register is None else register
    found = list(_answered_ok(binder, register, days))
    found += _same_ink(binder, days)
    found += [
        Pattern("one ink", week.unit, week.first, week.last, week.sheets, week.sentence)
        for week in weeks_in_one_ink(binder, sheets, since, until)
    ]
    near = sheets[sheets["sheet"].isin(set(days["sheet"]))]
    found += _meters(meter_readings(binder, near), days)
    return found


def _answered_ok(binder: Binder, register: Sequence[Defect], days: pd.DataFrame) -> Iterator[Pattern]:
    """Open defects whose item a later sheet answers OK; none that is no fact yet."""
    facts = [defect for defect in register if not defect.waits]
    by_unit: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for row in rows(days):
        by_unit[row.unit].append((row.date, row.sheet))
    asked: dict[str, list[tuple[Defect, str, int]]] = defaultdict(list)
    for defect in facts:
        if defect.unit is None or defect.item is None or defect.first is None:
            continue
        end = str(defect.closed.on) if defect.closed else "9999"
        reported = {entry.sheet for entry in defect.reports}
        for date, sheet in by_unit.get(defect.unit, ()):
            if str(defect.first) < date < end and sheet not in reported:
                asked[defect.item].append((defect, date, sheet))
    said_ok: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for item, wanted in asked.items():
        of_days: dict[str, list[tuple[Defect, str, int]]] = defaultdict(list)
        for later in _said_ok(binder, item, wanted, said_ok):
            day = dt.date.fromisoformat(later[1])
            for of_sheet in (DAYS[day.weekday()], str(day.day)):  # a week's sheet, a month's
                of_days[f"{item}.{of_sheet}"].append(later)
        for field_id, later_ones in of_days.items():
            _said_ok(binder, field_id, later_ones, said_ok)
    for defect in facts:
        if defect.name in said_ok and defect.unit is not None:
            dates = sorted({dt.date.fromisoformat(date) for date, _ in said_ok[defect.name]})
            what = f"item {defect.item_number} ({defect.item_text})" if defect.item_text else str(defect.item)
            danger = "safety-critical " if defect.critical else ""
            yield Pattern(
                "answered OK",
                defect.unit,
                dates[0],
                dates[-1],
                tuple(sorted({sheet for _, sheet in said_ok[defect.name]})),
                f"{danger}{what} was reported on {defect.first} ({defect.words or 'no words'}) and is answered OK, "
                f"with nothing on record that closed it, on {dates_in_words(dates)}",
            )


def _said_ok(
    binder: Binder,
    field_id: str,
    wanted: Sequence[tuple[Defect, str, int]],
    said_ok: dict[str, list[tuple[str, int]]],
) -> list[tuple[Defect, str, int]]:
    """Note in ``said_ok``, by defect, the days and sheets that surely answer OK in a field; returns what of ``wanted``
    (defect, day, sheet) is on sheets without that field.
    """
    answers = binder.answer_columns(field_id, sorted({sheet for _, _, sheet in wanted}))
    ok = set(answers["sheet"][(answers["value"] == "ok") & (answers["state"] != State.DOUBTFUL.value)])
    for defect, date, sheet in wanted:
        if sheet in ok:
            said_ok[defect.name].append((date, sheet))
    asked = set(answers["sheet"])
    return [later for later in wanted if later[2] not in asked]


def _same_ink(binder: Binder, days: pd.DataFrame) -> Iterator[Pattern]:
    """Neighbouring sheets of a unit whose marks lie alike, stroke for stroke."""
    inks = {n: ink for n, ink in binder.ink_signatures(sorted(set(days["sheet"]))).items() if whole_boxes(ink)}
    for unit, mine in days.drop_duplicates("sheet").groupby("unit", sort=True):
        listed = [(row.date, row.sheet) for row in rows(mine)]
        for (first, one), (last, other) in pairwise(listed):
            if one in inks and other in inks and same_ink(inks[one], inks[other]):
                yield Pattern(
                    "same ink",
                    str(unit),
                    dt.date.fromisoformat(first),
                    dt.date.fromisoformat(last),
                    (one, other),
                    f"the marks on sheets {one} ({first}) and {other} ({last}) lie alike stroke for stroke, as on two "
                    "copies of one sheet",
                )


def _meters(readings: pd.DataFrame, days: pd.DataFrame) -> Iterator[Pattern]:
    """Meters that stand still on sheets in a row that do not say parked, or move by the very same hours each day."""
    parked = set(days["sheet"][days["fit"] == "parked"])
    sure = readings[readings["sheet"].notna() & readings["believed"] & (readings["state"] != State.DOUBTFUL.value)]
    for unit, mine in sure.drop_duplicates(["unit", "date"]).groupby("unit", sort=True):
        listed = [(row.date, int(row.sheet), float(row.hours)) for row in rows(mine)]
        for run in _runs([round(hours, 1) for _, _, hours in listed], _STANDS_STILL):
            some = listed[run]
            if not parked & {sheet for _, sheet, _ in some}:
                sentence = (
                    f"the meter stands at {some[0][2]:.1f} h on {counted(len(some), 'sheet')} in a row, "
                    f"{some[0][0]} to {some[-1][0]}, none of which says parked"
                )
                yield _meter_pattern("meter stands", str(unit), some, sentence)
        steps = [_step(one, other) for one, other in pairwise(listed)]
        for run in _runs(steps, _EQUAL_STEPS):
            if steps[run.start] > 0:
                some = listed[run.start : run.stop + 1]
                sentence = (
                    f"the meter moves by exactly {steps[run.start]:.1f} h a day on {len(some) - 1} days in a row, "
                    f"{some[0][0]} to {some[-1][0]}"
                )
                yield _meter_pattern("equal steps", str(unit), some, sentence)


def _meter_pattern(kind: str, unit: str, some: Sequence[tuple[str, int, float]], sentence: str) -> Pattern:
    first, last = (dt.date.fromisoformat(date) for date in (some[0][0], some[-1][0]))
    return Pattern(kind, unit, first, last, tuple(sheet for _, sheet, _ in some), sentence)


def _step(one: tuple[str, int, float], other: tuple[str, int, float]) -> float:
    """Hours from one day to the next; -1 where the days are not neighbours."""
    apart = (dt.date.fromisoformat(other[0]) - dt.date.fromisoformat(one[0])).days
    return round(other[2] - one[2], 1) if apart == 1 else -1.0


def _runs(values: Sequence[float], fewest: int) -> Iterator[slice]:
    """Stretches of equal values, at least so long."""
    start = 0
    for place in range(1, len(values) + 1):
        if place == len(values) or values[place] != values[start]:
            if place - start >= fewest:
                yield slice(start, place)
            start = place
