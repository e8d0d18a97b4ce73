"""The register of defects: reports from all sheets brought together, from the first word of each to its closing.

A defect begins with its first report. Later reports of the same complaint belong to it until it is closed, by the
workshop's block on a sheet or by a person's command; one that comes after is a recurrence. An answer OK on a later
sheet closes nothing, and neither does anything that is doubtful.
"""

from __future__ import annotations

import datetime as dt
import gc
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

import pandas as pd

from scanform.binder import Binder
from scanform.report.defect_reports import Closure, Report, defect_reports
from scanform.report.defects import DefectEntry
from scanform.report.same_complaint import alike, in_short, refers, same_complaint
from scanform.report.sheet_days import counted_sheets
from scanform.report.used_with_defect import DayInUse, OpenFor, days_in_use, used_with
from scanform.settle.types import State

__all__ = ["Defect", "defect_register", "still_open"]


@dataclass(frozen=True)
class Defect:
    """One defect of one unit, with its life.

    ``name``: its first report, as commands take it. ``critical`` is None where it cannot be told which item is meant.
    ``words``: in the vocabulary's normal words where these say enough, else ``written``: as the latest report has them.
    ``first`` and ``last``: days on which it was reported. ``doubts``: sentences on what of it nobody has confirmed.
    ``recurrence_of``: name of the closed defect that came back, ``times`` how often it had been closed before.
    ``used_on``: days on which the unit was not parked, by its sheets, with a safety-critical defect open;
    ``perhaps_used_on``: days of which that rests on something doubtful. ``waits``: the doubts that may change what is
    said here: whether there is such a defect, about which item, which reports are its, or whether it is closed. What
    waits for them is no fact yet; a doubt about words alone may leave all that as it is.
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
    waits: tuple[str, ...] = ()
    perhaps_used_on: tuple[dt.date, ...] = ()

    @property
    def state(self) -> str:
        """open, repaired or not-needed."""
        return self.closed.repair if self.closed else "open"

    @property
    def is_open(self) -> bool:
        """Whether nothing has closed it."""
        return self.closed is None


@dataclass
class _Life:
    """A defect while the register is drawn up."""

    reports: list[Report]
    closed: Closure | None = None
    before: _Life | None = None
    said: dict[str, DefectEntry] = field(default_factory=dict)  # by words, of reports that do not point back
    unclear: list[str] = field(default_factory=list)  # which reports are its

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
    critical = {life.latest.unit for life in lives if any(report.entry.critical for report in life.reports)}
    days = days_in_use(binder, sheets, critical)
    return sorted((_defect(life, days) for life in lives), key=_danger)


def still_open(register: Iterable[Defect], unit: str | None = None) -> list[Defect]:
    """The open ones among them, in the same order; only of one unit if it is named."""
    return [defect for defect in register if defect.is_open and (unit is None or defect.unit == unit)]


def _danger(defect: Defect) -> tuple[bool, int, bool, str, dt.date, str]:
    grade = {True: 0, None: 1, False: 2}[defect.critical]
    used = defect.is_open and bool(defect.used_on or defect.perhaps_used_on)
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
        rivals = [other for other in by_item[entry.item] if other is not life and _may_be_about(other, entry)]
        if life is not None and not _came_back(life, entry):
            life.take(report)
            _note_unclear(entry, life, rivals)
            if life not in by_item[entry.item]:
                by_item[entry.item].append(life)
            continue
        fresh = _Life([report], report.closed, life)
        _note_unclear(entry, fresh, rivals)
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


def _may_be_about(life: _Life, entry: DefectEntry) -> bool:
    """Whether a report of the same item that is not taken for one of an open defect may be one: for doubtful words."""
    doubtful = State.DOUBTFUL in (entry.words_state, *(said.words_state for said in life.said.values()))
    return doubtful and entry.item is not None and not _came_back(life, entry)


def _note_unclear(entry: DefectEntry, mine: _Life, others: Sequence[_Life]) -> None:
    for other in others:
        about = f"the words of {entry.ref} are doubtful and may be about another defect of the item"
        mine.unclear.append(f"{about}, {other.reports[0].entry.ref}")
        other.unclear.append(f"{about}, {mine.reports[0].entry.ref}")


def _defect(life: _Life, days: Mapping[str, Sequence[DayInUse]]) -> Defect:
    entries = tuple(report.entry for report in life.reports)
    named = next((entry for entry in entries if entry.item is not None), entries[0])
    short = next((s for entry in reversed(entries) if entry.complaint and (s := in_short(entry))), "")
    worded = next((entry for entry in reversed(entries) if entry.words), entries[-1])
    dates = sorted(entry.date for entry in entries if entry.date is not None)
    earlier, before = [], life.before
    while before is not None:
        earlier.append(before)
        before = before.before
    open_for = _open_for(life, dates[0] if dates else None, named.item)
    of_unit = days.get(entries[0].unit or "", ()) if named.critical else ()
    used_on, perhaps = used_with(open_for, of_unit)
    return Defect(
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
        used_on=used_on,
        waits=_waits(life, named.item),
        perhaps_used_on=perhaps,
    )


# What rests on a doubt


def _is_sure(report: Report, item: str | None) -> bool:
    """Whether a report is beyond doubt as one of that item: what is doubtful in its words alone is not asked."""
    if report.head_doubt:
        return False
    entry = report.entry
    by = entry.item_state if item is not None and entry.tied_by != "words" else entry.words_state
    return entry.item == item and by not in (None, State.DOUBTFUL)


def _pending(life: _Life) -> Iterator[Report]:
    """Reports by which the workshop may have closed it, later than what did so surely."""
    for report in life.reports:
        on = report.entry.date
        if report.closing_doubt and (life.closed is None or on is None or on > life.closed.on):
            yield report


def _waits(life: _Life, item: str | None) -> tuple[str, ...]:
    found = [report.head_doubt for report in life.reports if report.head_doubt]
    if not any(_is_sure(report, item) for report in life.reports):
        found.append("no report of it is sure: whether there is such a defect is to be looked at on the sheet")
    found += [report.closing_doubt for report in _pending(life)]
    return tuple(dict.fromkeys((*found, *life.unclear)))


def _open_for(life: _Life, first: dt.date | None, item: str | None) -> OpenFor:
    sure = [r.entry.date for r in life.reports if r.entry.date is not None and _is_sure(r, item)]
    pending = [r.entry.date or dt.date.min for r in _pending(life)]
    return OpenFor(
        first,
        life.closed.on if life.closed else None,
        min(sure, default=None),
        min(pending, default=None),
        {report.entry.sheet for report in life.reports},
    )
