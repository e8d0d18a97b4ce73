"""The register of defects: reports from all sheets brought together, from the first word of each to its closing.

A defect begins with its first report. Later reports of the same complaint belong to it until it is closed, by the
workshop's block on a sheet or by a person's command; one that comes after is a recurrence. An answer OK on a later
sheet closes nothing, and neither does anything that is doubtful.
"""

from __future__ import annotations

import datetime as dt
import gc
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import NamedTuple

import pandas as pd

from scanform.binder import Binder
from scanform.report.defect_reports import Closure, Report, defect_reports
from scanform.report.defects import DefectEntry
from scanform.report.frames import rows
from scanform.report.same_complaint import alike, in_short, refers, same_complaint
from scanform.report.sheet_days import counted_sheets, sheet_days

__all__ = ["Defect", "defect_register", "still_open"]


_A_DAY = dt.timedelta(days=1)
_date_of = attrgetter("date")


@dataclass(frozen=True)
class Defect:
    """One defect of one unit, with its life.

    ``name``: its first report, as commands take it. ``critical`` is None where it cannot be told which item is meant.
    ``words``: in the vocabulary's normal words where these say enough, else ``written``: as the latest report has them.
    ``first`` and ``last``: days on which it was reported. ``doubts``: sentences on what of it nobody has confirmed.
    ``recurrence_of``: name of the closed defect that came back, ``times`` how often it had been closed before.
    ``used_on``: days on which the unit was not parked, by its sheets, with a safety-critical defect open.
    """

    name: str
    unit: str | None
    item_number: int | None
    item: str | None
    item_text: str | None
    critical: bool | None
    words: str
    written: str
    original: str | None
    first: dt.date | None
    last: dt.date | None
    reports: tuple[DefectEntry, ...]
    closed: Closure | None
    doubts: tuple[str, ...]
    recurrence_of: str | None
    times: int
    used_on: tuple[dt.date, ...]

    @property
    def state(self) -> str:
        """open, repaired or not-needed."""
        return self.closed.repair if self.closed else "open"

    @property
    def is_open(self) -> bool:
        """Whether nothing has closed it."""
        return self.closed is None


class _DayInUse(NamedTuple):
    date: dt.date
    sheet: int
    said_fit: bool


@dataclass
class _Life:
    """A defect while the register is drawn up."""

    reports: list[Report]
    closed: Closure | None = None
    before: _Life | None = None
    said: dict[str, DefectEntry] = field(default_factory=dict)  # by words, of reports that do not point back

    def __post_init__(self) -> None:
        self._hear(self.latest)

    @property
    def latest(self) -> DefectEntry:
        return self.reports[-1].entry

    def is_about(self, entry: DefectEntry) -> bool:
        """Whether a report speaks of it: it agrees with words of it that say something themselves, if there are any."""
        return (
            any(same_complaint(said, entry) for said in self.said.values())
            if self.said
            else (same_complaint(self.latest, entry))
        )

    def likeness(self, entry: DefectEntry) -> float:
        """How alike the words of a report are to the likest of its own, 0 to 100."""
        return max((alike(said, entry) for said in self.said.values()), default=alike(self.latest, entry))

    def take(self, report: Report) -> None:
        self.reports.append(report)
        self._hear(report.entry)
        self.close(report.closed)

    def _hear(self, entry: DefectEntry) -> None:
        if entry.words and not refers(entry):
            self.said.setdefault(entry.words.casefold(), entry)

    def close(self, closure: Closure | None) -> None:
        if closure is not None and (self.closed is None or closure.on >= self.closed.on):
            self.closed = closure


def defect_register(binder: Binder, sheets: pd.DataFrame | None = None) -> list[Defect]:
    """Every defect on record: open safety-critical ones in use first, then the other open ones, closed ones last.

    ``sheets``: as from ``counted_sheets``, if they are at hand.
    """
    sheets = counted_sheets(binder) if sheets is None else sheets
    with _collector_paused():
        return _register(binder, sheets)


@contextmanager
def _collector_paused() -> Iterator[None]:
    """Ten thousand reports are many objects and no circles: looking for circles takes a quarter of the time."""
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


def _register(binder: Binder, sheets: pd.DataFrame) -> list[Defect]:
    by_unit: dict[str, list[Report]] = defaultdict(list)
    lost: list[Report] = []
    for report in defect_reports(binder, sheets):
        (by_unit[report.entry.unit] if report.entry.unit else lost).append(report)
    lives = [life for reports in by_unit.values() for life in _lives(reports)]
    # Nobody can say that two sheets without a unit are of one machine.
    lives += [_Life([report], report.closed) for report in lost]
    days = _days_in_use(binder, sheets, lives)
    return sorted((_defect(life, days) for life in lives), key=_danger)


def still_open(register: Iterable[Defect], unit: str | None = None) -> list[Defect]:
    """The open ones among them, in the same order; only of one unit if it is named."""
    return [defect for defect in register if defect.is_open and (unit is None or defect.unit == unit)]


def _danger(defect: Defect) -> tuple[bool, int, bool, str, dt.date, str]:
    grade = {True: 0, None: 1, False: 2}[defect.critical]
    used = defect.is_open and bool(defect.used_on)
    return (not defect.is_open, grade, not used, defect.unit or "", defect.first or dt.date.min, defect.name)


# From reports to defects


def _lives(reports: Sequence[Report]) -> list[_Life]:
    """The defects of one unit from its reports in order of days."""
    lives: list[_Life] = []
    by_item: dict[str | None, list[_Life]] = defaultdict(list)
    for report in reports:
        entry = report.entry
        # A line whose words tie it to an item may belong to any other, and so may a line without one.
        near = by_item[entry.item] + by_item[None] if entry.item and entry.tied_by != "words" else lives
        life = _best([life for life in near if life.is_about(entry)], entry)
        if life is not None and not _came_back(life, entry):
            life.take(report)
            if life not in by_item[entry.item]:
                by_item[entry.item].append(life)
            continue
        fresh = _Life([report], report.closed, life)
        lives.append(fresh)
        by_item[entry.item].append(fresh)
    return lives


def _best(lives: Sequence[_Life], entry: DefectEntry) -> _Life | None:
    """Among several that may be meant: an open one before a closed one, open ones by words, else the latest."""
    ranked = sorted(
        enumerate(lives),
        key=lambda pair: (
            closed := _came_back(pair[1], entry),
            0 if closed or not entry.words else -pair[1].likeness(entry),
            -pair[0],
        ),
    )
    return ranked[0][1] if ranked else None


def _came_back(life: _Life, entry: DefectEntry) -> bool:
    """Whether a report comes after the closing. On the day of the closing itself the sheet was filled in before it."""
    return life.closed is not None and (entry.date is None or entry.date > life.closed.on)


def _defect(life: _Life, days: Mapping[str, list[_DayInUse]]) -> Defect:
    entries = tuple(report.entry for report in life.reports)
    named = next((entry for entry in entries if entry.item is not None), entries[0])
    short = next((s for entry in reversed(entries) if entry.complaint and (s := in_short(entry))), "")
    worded = next((entry for entry in reversed(entries) if entry.words), entries[-1])
    dates = sorted(entry.date for entry in entries if entry.date is not None)
    earlier, before = [], life.before
    while before is not None:
        earlier.append(before)
        before = before.before
    defect = Defect(
        name=entries[0].ref,
        unit=entries[0].unit,
        item_number=named.item_number,
        item=named.item,
        item_text=named.item_text,
        critical=named.critical,
        words=short or worded.words,
        written=worded.words,
        original=worded.original,
        first=dates[0] if dates else None,
        last=dates[-1] if dates else None,
        reports=entries,
        closed=life.closed,
        doubts=tuple(dict.fromkeys(doubt for report in life.reports for doubt in report.doubts)),
        recurrence_of=earlier[0].reports[0].entry.ref if earlier else None,
        times=len(earlier),
        used_on=(),
    )
    return replace(defect, used_on=_used_on(defect, days.get(defect.unit or "", []))) if defect.critical else defect


# Days in use with an open safety defect


def _days_in_use(binder: Binder, sheets: pd.DataFrame, lives: Iterable[_Life]) -> dict[str, list[_DayInUse]]:
    """Days with a sheet that does not say parked, in order, of the units that have safety-critical defects: with
    whether the sheet says outright that the machine is fit to use.
    """
    critical = {life.latest.unit for life in lives if any(report.entry.critical for report in life.reports)}
    some = sheets[sheets["unit"].isin(critical)]
    found: dict[str, list[_DayInUse]] = defaultdict(list)
    if some.empty:
        return found
    days = sheet_days(binder, some)
    for row in rows(days[days["filled"] & (days["fit"] != "parked")]):
        found[row.unit].append(_DayInUse(dt.date.fromisoformat(row.date), row.sheet, row.fit == "fit"))
    return found


def _used_on(defect: Defect, days: Sequence[_DayInUse]) -> tuple[dt.date, ...]:
    """After the day of the first report, and on that day itself if the sheet says fit to use in spite of it."""
    if defect.first is None:
        return ()
    end = defect.closed.on if defect.closed else dt.date.max
    begin, next_day = (bisect_left(days, day, key=_date_of) for day in (defect.first, defect.first + _A_DAY))
    sheets = {entry.sheet for entry in defect.reports}
    found = [day.date for day in days[begin:next_day] if day.sheet in sheets and day.said_fit and day.date < end]
    found += [day.date for day in days[next_day : bisect_left(days, end, key=_date_of)]]
    return tuple(dict.fromkeys(found))
