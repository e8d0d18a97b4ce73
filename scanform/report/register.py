"""The register of defects: reports from all sheets brought together, from the first word of each to its closing.

A defect begins with its first report. Later reports of the same complaint belong to it until it is closed, by the
workshop's block on a sheet or by a person's command; one that comes after is a recurrence. An answer OK on a later
sheet closes nothing, and neither does anything that is doubtful.
"""

from __future__ import annotations

import datetime as dt
import gc
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import pandas as pd

from scanform.binder import Binder
from scanform.report.closures import Closure
from scanform.report.defect_lives import Life, hangs_on, is_sure, lives_of, note_lost, pending
from scanform.report.defect_reports import Report, defect_reports
from scanform.report.defects import DefectEntry
from scanform.report.loose_sheets import loose_sheets, may_be_of, meters_of
from scanform.report.meter import meter_readings
from scanform.report.same_complaint import in_short
from scanform.report.sheet_days import counted_sheets
from scanform.report.used_with_defect import DayInUse, OpenFor, days_in_use, used_with

__all__ = ["Defect", "defect_register", "still_open"]


@dataclass(frozen=True)
class Defect:
    """One defect of one unit, with its life.

    ``name``: its first report, as commands take it. ``critical`` is None where it cannot be told which item is meant.
    ``words``: in the vocabulary's normal words where these say enough, else ``written``: as the latest report has them.
    ``first`` and ``last``: days on which it was reported, by sheets whose date is sure where there are any.
    ``doubts``: sentences on what of it nobody has confirmed.
    ``recurrence_of``: name of the closed defect that came back, ``times`` how often it had been closed before.
    ``used_on``: days on which the unit was not parked, by its sheets, with a safety-critical defect open;
    ``perhaps_used_on``: days of which that rests on something doubtful. ``sure``: there is such a defect, whatever else
    is doubtful: a report of it is beyond doubt; where none is, it is no fact yet. ``waits``: the doubts that may change
    what is said here: whether there is such a defect, about which item, which reports are its, or whether it is closed;
    a doubt about words alone may leave all that as it is.
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
    sure: bool
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


def defect_register(
    binder: Binder, sheets: pd.DataFrame | None = None, readings: pd.DataFrame | None = None
) -> list[Defect]:
    """Every defect on record: open safety-critical ones in use first, then the other open ones, closed ones last. Those
    that are facts come before those of their kind that wait for a person to look.

    ``sheets``, ``readings``: as from ``counted_sheets`` and ``meter_readings``, if they are at hand.
    """
    sheets = counted_sheets(binder) if sheets is None else sheets
    with _collector_paused():
        return _register(binder, sheets, readings)


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


def _register(binder: Binder, sheets: pd.DataFrame, readings: pd.DataFrame | None) -> list[Defect]:
    by_unit: dict[str, list[Report]] = defaultdict(list)
    lost: list[Report] = []
    for report in defect_reports(binder, sheets):
        (by_unit[report.entry.unit] if report.entry.unit else lost).append(report)
    of_unit = {unit: lives_of(reports) for unit, reports in by_unit.items()}
    unsure = [report for reports in (lost, *by_unit.values()) for report in reports if report.unsure]
    if unsure:
        note_lost(of_unit, unsure, _by_the_meter(binder, sheets, readings))
    # Nobody can say that two sheets without a unit are of one machine.
    lives = [life for mine in of_unit.values() for life in mine] + [Life([report], report.closed) for report in lost]
    critical = {life.latest.unit for life in lives if any(report.entry.critical for report in life.reports)}
    days = days_in_use(binder, sheets, critical)
    return sorted((_defect(life, days) for life in lives), key=_danger)


def _by_the_meter(binder: Binder, sheets: pd.DataFrame, readings: pd.DataFrame | None) -> Callable[[Report, str], bool]:
    """Whether a sheet of doubtful unit may be a unit's, by what its meter showed around the day."""
    loose = {sheet.sheet: sheet for sheet in loose_sheets(binder, sheets)}
    meters = meters_of(meter_readings(binder, sheets) if readings is None else readings)

    def fits(report: Report, unit: str) -> bool:
        sheet = loose.get(report.entry.sheet)
        return sheet is None or sheet.date is None or may_be_of(sheet, unit, sheet.date, meters.get(unit, ()))

    return fits


def still_open(register: Iterable[Defect], unit: str | None = None) -> list[Defect]:
    """The open ones among them, in the same order; only of one unit if it is named."""
    return [defect for defect in register if defect.is_open and (unit is None or defect.unit == unit)]


def _danger(defect: Defect) -> tuple[bool, int, bool, bool, str, dt.date, str]:
    grade = {True: 0, None: 1, False: 2}[defect.critical]
    used = defect.is_open and bool(defect.used_on or defect.perhaps_used_on)
    found = defect.unit or "", defect.first or dt.date.min, defect.name
    return (not defect.is_open, grade, not defect.sure, not used, *found)


def _defect(life: Life, days: Mapping[str, Sequence[DayInUse]]) -> Defect:
    entries = tuple(report.entry for report in life.reports)
    named = next((entry for entry in entries if entry.item is not None), entries[0])
    short = next((s for entry in reversed(entries) if entry.complaint and (s := in_short(entry))), "")
    worded = next((entry for entry in reversed(entries) if entry.words), entries[-1])
    # A day that was perhaps misread must not say that it was reported again after its repair.
    dated = [report for report in life.reports if report.entry.date is not None]
    sure = [report for report in dated if "date" not in report.unsure]
    dates = sorted(report.entry.date for report in sure or dated if report.entry.date is not None)
    earlier = life.earlier
    open_for = _open_for(life, dates[0] if dates else None, named.item)
    of_unit = days.get(entries[0].unit or "", ()) if named.critical else ()
    used_on, perhaps = used_with(open_for, of_unit)
    beyond_doubt = any(is_sure(report, named.item) for report in life.reports)
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
        closed=life.surely_closed,
        doubts=tuple(dict.fromkeys(doubt for report in life.reports for doubt in report.doubts)),
        recurrence_of=earlier[0].name if earlier else None,
        times=len(earlier),
        used_on=used_on,
        sure=beyond_doubt,
        waits=_waits(life, beyond_doubt),
        perhaps_used_on=perhaps,
    )


def _waits(life: Life, beyond_doubt: bool) -> tuple[str, ...]:
    found = [report.head_doubt for report in life.reports if report.head_doubt]
    if not beyond_doubt:
        found.append("no report of it is sure: a person must look at the sheet before it is a defect or none")
    found += [doubt for report in pending(life) if (doubt := life.closing_doubt(report))]
    if (before := life.perhaps_again) is not None and life.before is not None and not _closed_by_a_person(life):
        found.append(
            f"reported on {before.on}, the day on which {life.before.name} was closed ({before.where}): look whether "
            "that was before or after the repair; if before, close it as well"
        )
    if life.again_unclear:
        found.append("what it came back from, if it did, rests on words that are missing or doubtful")
    found += [f"{ref} reads as another complaint: its words or the others are doubtful" for ref in life.odd]
    found += [
        f"how often it came back hangs on {before.name}, which is no fact yet"
        for before in life.earlier
        if hangs_on(before)
    ]
    found += [f"it may be one with {other}: the words of the one or the other are doubtful" for other in life.unclear]
    found += [f"{ref} may be about it, but its words are doubtful" for ref in life.maybe]
    found += [f"{report.entry.ref} may be about it, but {report.head_doubt}" for report in life.lost]
    return tuple(dict.fromkeys(found))


def _closed_by_a_person(life: Life) -> bool:
    return life.surely_closed is not None and life.surely_closed.initials is not None


def _open_for(life: Life, first: dt.date | None, item: str | None) -> OpenFor:
    before = life.before.closed if life.before is not None else None
    # On the day of that closing itself it was perhaps reported before it.
    since = before.on if before is not None else dt.date.min
    sure = [r.entry.date for r in life.reports if r.entry.date and r.entry.date > since and is_sure(r, item)]
    maybe_closed = [r.entry.date if r.entry.date and not r.unsure else dt.date.min for r in pending(life)]
    return OpenFor(
        first,
        closed.on if (closed := life.surely_closed) else None,
        min(sure, default=None) if not life.unclear else None,
        min(maybe_closed, default=None),
        {report.entry.sheet for report in life.reports},
    )
