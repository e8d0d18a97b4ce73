"""The register of defects: reports from all sheets brought together, from the first word of each to its closing.

A defect begins with its first report. Later reports of the same complaint belong to it until it is closed, by the
workshop's block on a sheet or by a person's command; one that comes after is a recurrence. An answer OK on a later
sheet closes nothing, and neither does anything that is doubtful.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from scanform.binder import Binder, Closing
from scanform.report.defects import DefectEntry, Labels, defects_said
from scanform.report.frames import rows
from scanform.report.same_complaint import alike, in_short, same_complaint
from scanform.report.sheet_days import counted_sheets, sheet_days
from scanform.report.wording import doubtful_head
from scanform.settle.types import State

__all__ = ["Closure", "Defect", "defect_register", "still_open"]


_A_DAY = dt.timedelta(days=1)
_date_of = attrgetter("date")


@dataclass(frozen=True)
class Closure:
    """What closed a defect. ``repair``: repaired or not-needed. ``by``: who, as far as it is written down in letters.

    ``where``: the paper or screen, with page. ``initials``: of whoever entered it, None if it was read from paper.
    """

    repair: str
    on: dt.date
    by: str
    where: str
    initials: str | None


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


class _Field(NamedTuple):
    id: str
    value: str | None
    state: State
    critical: bool
    original: str | None


class _DayInUse(NamedTuple):
    date: dt.date
    sheet: int
    said_fit: bool


class _Report(NamedTuple):
    entry: DefectEntry
    closed: Closure | None
    doubts: tuple[str, ...]


@dataclass
class _Life:
    """A defect while the register is drawn up."""

    reports: list[_Report]
    closed: Closure | None = None
    before: _Life | None = None
    doubts: list[str] = field(default_factory=list)

    @property
    def latest(self) -> DefectEntry:
        return self.reports[-1].entry

    def is_about(self, entry: DefectEntry) -> bool:
        """Whether a report speaks of it: it agrees with its first words, or with its latest."""
        worded = [report.entry for report in self.reports if report.entry.words] or [self.latest]
        return same_complaint(worded[0], entry) or same_complaint(worded[-1], entry)

    def take(self, report: _Report) -> None:
        self.reports.append(report)
        self.close(report.closed)

    def close(self, closure: Closure | None) -> None:
        if closure is not None and (self.closed is None or closure.on >= self.closed.on):
            self.closed = closure


def defect_register(binder: Binder, sheets: pd.DataFrame | None = None) -> list[Defect]:
    """Every defect on record: open safety-critical ones in use first, then the other open ones, closed ones last.

    ``sheets``: as from ``counted_sheets``, if they are at hand.
    """
    sheets = counted_sheets(binder) if sheets is None else sheets
    by_unit: dict[str, list[_Report]] = defaultdict(list)
    lost: list[_Report] = []
    for report in _reports(binder, sheets):
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


# From sheets to reports


def _reports(binder: Binder, sheets: pd.DataFrame) -> list[_Report]:
    """Every report on the sheets that count, by unit, day and sheet; sheets without a date come last."""
    said = _fields(binder, set(sheets["sheet"]))
    with_defects = list(rows(sheets[sheets["sheet"].isin(said)]))
    closings = _closings(binder)
    signed = _workshop(binder, said)
    places = binder.places([row.sheet for row in with_defects]).set_index("sheet")
    files = [Path(source).name for source in places["source"]]
    where = dict(zip(places.index, zip(files, places["page"], strict=True), strict=True))
    labels, reports = Labels(binder), []
    for row in with_defects:
        items = labels.of_template(row.template, row.version)
        date = dt.date.fromisoformat(row.date) if row.date else None
        entries = defects_said(row.sheet, row.unit, date, said[row.sheet], items, labels.vocabulary_of(items))
        head = (doubtful_head(row.unsure, row.sheet),) if row.unsure else ()
        for entry in entries:
            paper, doubts = _closed_on_paper(entry, signed.get(row.sheet, {}), where[row.sheet])
            closed = max(filter(None, (paper, closings.get(entry.ref))), key=lambda c: c.on, default=None)
            unsure = (f"the report on sheet {row.sheet} is doubtful",) if entry.state is State.DOUBTFUL else ()
            reports.append(_Report(entry, closed, (*head, *unsure, *doubts)))
    return sorted(reports, key=lambda r: (r.entry.unit or "", r.entry.date or dt.date.max, r.entry.sheet))


def _fields(binder: Binder, counted: set[int]) -> dict[int, list[_Field]]:
    """The answers Defect and the defect lines of each sheet that has any."""
    states = {state.value: state for state in State}
    found: dict[int, list[_Field]] = defaultdict(list)
    for row in rows(binder.defect_columns()):
        if row.sheet in counted:
            found[row.sheet].append(_Field(row.field, row.value, states[row.state], bool(row.critical), None))
    for row in rows(binder.defect_line_columns()):
        if row.sheet in counted:
            found[row.sheet].append(_Field(row.field, row.value, states[row.state], False, row.original))
    return found


def _workshop(binder: Binder, wanted: Container[int]) -> dict[int, dict[str, tuple[str, bool]]]:
    """What stands in the workshop's block of each sheet: date and signature, each with whether it is doubtful."""
    found: dict[int, dict[str, tuple[str, bool]]] = defaultdict(dict)
    for row in rows(binder.written_columns(["workshop."])):
        if row.sheet in wanted:
            found[row.sheet][row.field] = (row.value, row.state == State.DOUBTFUL)
    return found


def _closings(binder: Binder) -> dict[str, Closure]:
    """The last standing closing by a person of each report."""
    return {closing.ref: _by_command(closing) for closing in binder.closings() if closing.undone_by is None}


def _by_command(closing: Closing) -> Closure:
    return Closure(closing.repair, closing.closed_on, closing.closed_by, closing.paper, closing.initials)


def _closed_on_paper(
    entry: DefectEntry, block: Mapping[str, tuple[str, bool]], where: tuple[str, int]
) -> tuple[Closure | None, tuple[str, ...]]:
    """What the workshop's block says of a line, and why it closes nothing if it does not."""
    if entry.repair is None:
        return None, ()
    said = "repaired" if entry.repair == "repaired" else "repair not needed"
    day, day_unsure = block.get("workshop.date", (None, False))
    signature, signature_unsure = block.get("workshop.signature", ("false", False))
    unsure = [
        what
        for what, doubt in (
            ("the mark", entry.repair_state is State.DOUBTFUL),
            ("the workshop's date", day_unsure),
            ("the workshop's signature", signature_unsure),
        )
        if doubt
    ]
    if unsure:
        return None, (f"marked '{said}' on sheet {entry.sheet}, but {' and '.join(unsure)} must be confirmed first",)
    if signature != "true":
        return None, (f"marked '{said}' on sheet {entry.sheet} without a signature, which closes nothing",)
    on = dt.date.fromisoformat(day) if day else entry.date
    if on is None or (entry.date is not None and on < entry.date):
        return None, (f"marked '{said}' on sheet {entry.sheet} with a date before the report's, which closes nothing",)
    paper = f"workshop's block of sheet {entry.sheet} ({where[0]}, page {where[1]})"
    return Closure(entry.repair, on, "signature on the sheet", paper, None), ()


# From reports to defects


def _lives(reports: Sequence[_Report]) -> list[_Life]:
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
            0 if closed or not entry.words else -alike(pair[1].latest, entry),
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
