"""Dates and hours of old forms that were in doubt when they were read, looked at again once their neighbours are known.

A binder is read in the order in which it was filed, and its first sheets are settled knowing nothing: which of day and
month comes first on this site, what year it is, where the meters stand. At the end of a batch the sheets that were left
with such doubts are settled anew, each beside all others, for as long as that settles anything more. Where a field is
clear then, it is accepted, and the journal says by what.
"""

from __future__ import annotations

import pickle
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from types import TracebackType
from typing import IO, NamedTuple

from scanform.batch.duplicates import another_scan_differs
from scanform.binder import Binder, PageRecord, RecordedPage, Resolution
from scanform.form import Layout, date_of, parted
from scanform.read import Reading
from scanform.settle import Known, MeterReading, SettledField, State, settle_sheet
from scanform.settle.old import (
    MayRead,
    day_either_way,
    hours_by_ink,
    may_be_monthly,
    order_by_row,
    readings_that_go_on,
    written_order,
)

__all__ = ["LeftInDoubt"]

_RECONCILED = ("date", "week", "hours")
_HEAD = ("unit", "date", "week")  # what the meter of a sheet leans on
_ROW_SAYS = 6  # dates that can only be of one order: so much counts what the row of all dates says of it
_FEW_TELL = 3  # dates of one order from which the row is not asked
# Hours a day of machines at work, common practice: a machine checked once a month is idle, or has run for weeks.
_LEAST_WORK, _MOST_WORK = 4, 14
_ROUNDS = 8  # at the most; what one settles may settle more: the order of dates, then days, then the meters of those


class _Kept(NamedTuple):
    """Where one sheet's readings lie in the file, its place in the stack, and which of its fields were in doubt.

    ``hours``: of each meter on it the numbers that it may be by its ink.
    """

    number: int
    place: int
    at: int
    fields: tuple[str, ...]
    hours: dict[str, tuple[tuple[Decimal, float], ...]]


class _Meter(NamedTuple):
    """A doubtful meter: on which sheet, in which field, of which unit, and what it may be."""

    number: int
    field_id: str
    unit: str
    may_read: MayRead


class LeftInDoubt:
    """The readings of old sheets with doubtful dates or hours, kept in a file without a name until the batch ends."""

    def __init__(self) -> None:
        self._file: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - closed by __exit__
        self._kept: list[_Kept] = []
        self._orders: dict[int, str] = {}  # of dates that were settled here, by sheet

    def __enter__(self) -> LeftInDoubt:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def note(self, page: RecordedPage, layout: Layout, readings: tuple[Reading, ...], place: int) -> None:
        """Keep what a sheet just recorded needs to be settled again; nothing if it is none of an old form in doubt.

        ``place``: of the sheet in the stack, as :class:`scanform.settle.Known` has it.
        """
        doubtful = tuple(field.id for field in page.record.fields if _open(field))
        if layout.blank_png and doubtful:
            at = self._file.seek(0, 2)
            pickle.dump(readings, self._file)
            by_id = {reading.field_id: reading for reading in readings}
            meters = [spec for spec in layout.fields if parted(spec.id)[0] == "hours"]
            hours = {spec.id: hours_by_ink(spec, by_id[spec.id]) for spec in meters}
            self._kept.append(_Kept(page.number, place, at, doubtful, hours))

    def settle(self, binder: Binder, known: Known, layout_of: Callable[[PageRecord], Layout]) -> int:
        """Settle them again beside all sheets on record; returns how many fields left the queue."""
        resolved = 0
        known = self._with_order(binder, known, layout_of)
        for _ in range(_ROUNDS):
            meters = self._doubtful_meters(binder)
            found = [r for kept in self._kept for r in self._again(kept, binder, known, layout_of, meters)]
            if not found:
                break
            resolved += binder.resolve_doubts(found)
            known = self._with_dates(known, found)
        return resolved

    def _with_order(self, binder: Binder, known: Known, layout_of: Callable[[PageRecord], Layout]) -> Known:
        """What is known once the dates in doubt have been laid in a row, where few others tell their order."""
        if known.day_first + known.month_first >= _FEW_TELL:
            return known
        day_first, month_first = list(known.filed), list(known.filed)
        records = {page.number: page.record for page in binder.pages_numbered([kept.number for kept in self._kept])}
        for kept in self._kept:
            if "date" in kept.fields and kept.number in records and kept.place < len(known.filed):
                self._file.seek(kept.at)
                readings = pickle.load(self._file)
                either = day_either_way(layout_of(records[kept.number]), readings, known)
                day_first[kept.place], month_first[kept.place] = either
        told = order_by_row(day_first, month_first)
        days, other = (day_first, month_first) if told == "dmy" else (month_first, day_first)
        if may_be_monthly(other) and not self._at_work(records, days):
            return known
        return replace(
            known,
            day_first=known.day_first + _ROW_SAYS * (told == "dmy"),
            month_first=known.month_first + _ROW_SAYS * (told == "mdy"),
        )

    def _at_work(self, records: Mapping[int, PageRecord], days: Sequence[date | None]) -> bool:
        """Whether the meters of every unit, on these days, show a machine that works from one sheet to the next."""
        by_unit: dict[str, list[MayRead]] = {}
        for kept in self._kept:
            record = records.get(kept.number)
            on = days[kept.place] if kept.place < len(days) else None
            if record is not None and record.unit is not None and on is not None and kept.hours.get("hours"):
                by_unit.setdefault(record.unit, []).append(MayRead(on, kept.hours["hours"]))
        chains = [
            readings_that_go_on(unit, reads, min(reads, key=lambda r: r.on).on) for unit, reads in by_unit.items()
        ]
        paces = [(c[-1].hours - c[0].hours) / (c[-1].on - c[0].on).days for c in chains if c and c[-1].on > c[0].on]
        return bool(paces) and all(_LEAST_WORK <= pace <= _MOST_WORK for pace in paces)

    def _with_dates(self, known: Known, found: Sequence[Resolution]) -> Known:
        """What is known once these dates are settled too."""
        days = {r.number: date.fromisoformat(str(r.value)) for r in found if r.field_id == "date" and r.value}
        filed = list(known.filed)
        for kept in self._kept:
            if kept.number in days and kept.place < len(filed):
                filed[kept.place] = days[kept.number]
        orders = [self._orders[number] for number in days]
        return replace(
            known,
            days=(*known.days, *days.values()),
            filed=tuple(filed),
            day_first=known.day_first + orders.count("dmy"),
            month_first=known.month_first + orders.count("mdy"),
        )

    def _doubtful_meters(self, binder: Binder) -> list[_Meter]:
        """Of sheets with a unit and a day, both as they stand; one that is filed wrong goes on with no other. Those
        of sheets of which only the unit or the day is in doubt, too.
        """
        found = []
        by_number = {page.number: page.record for page in binder.pages_numbered([kept.number for kept in self._kept])}
        for kept in self._kept:
            record = by_number.get(kept.number)
            if record is None or record.unit is None or record.date is None:
                continue
            for field_id, values in kept.hours.items():
                field, on = record.field(field_id), date_of(record.date, parted(field_id)[1])
                if field is None or on is None:
                    continue
                if field.state is not State.DOUBTFUL and field.value and _doubtful_head(record):
                    values = ((Decimal(str(field.value)), 1.0),)
                elif not _open(field):
                    continue
                found.append(_Meter(kept.number, field_id, record.unit, MayRead(on, values)))
        return found

    def _again(
        self,
        kept: _Kept,
        binder: Binder,
        known: Known,
        layout_of: Callable[[PageRecord], Layout],
        meters: Sequence[_Meter],
    ) -> Iterator[Resolution]:
        page = binder.page_numbered(kept.number)
        open_now = [f for f in page.record.fields if f.id in kept.fields and _open(f)] if page is not None else []
        if page is None or not open_now:
            return
        self._file.seek(kept.at)
        readings = pickle.load(self._file)
        layout = layout_of(page.record)
        for before in open_now:
            beside = replace(known, place=kept.place)
            if parted(before.id)[0] == "hours":
                recall = _Beside(binder, page, before.id, meters)
                beside = replace(beside, recall=recall)
            wanted = tuple(spec for spec in layout.fields if spec.id in (*_HEAD, before.id))
            settled = {f.id: f for f in settle_sheet(replace(layout, fields=wanted), readings, beside)}
            now = settled[before.id]
            if now.state is State.ACCEPTED:
                if before.id == "date":
                    self._orders[kept.number] = written_order(now)
                yield Resolution(kept.number, before.id, now.value, _why(before, now, len(known.days)))


class _Beside:
    """What is known of a unit's meter but for one field of one sheet: asked for as :class:`scanform.settle.Known` has
    it.
    """

    def __init__(self, binder: Binder, page: RecordedPage, field_id: str, meters: Sequence[_Meter]) -> None:
        self._binder, self._page, self._field_id, self._meters = binder, page, field_id, meters

    def __call__(self, unit: str) -> Sequence[MeterReading]:
        record = self._page.record
        sure = [*self._binder.readings_beside(unit, self._page.number), *self._own(unit)]
        on = date_of(record.date, parted(self._field_id)[1]) if record.date is not None else None
        if on is None:
            return sure
        others = [
            meter.may_read
            for meter in self._meters
            if meter.unit == unit and (meter.number, meter.field_id) != (self._page.number, self._field_id)
        ]
        chain = readings_that_go_on(unit, [*(MayRead.accepted(reading) for reading in sure), *others], on)
        return [*sure, *(reading for reading in chain if reading not in sure)]

    def _own(self, unit: str) -> Iterator[MeterReading]:
        """The other days of a sheet that has several, as far as they are settled."""
        record = self._page.record
        for field in record.fields:
            stem, day = parted(field.id)
            if stem != "hours" or field.id == self._field_id or field.state is State.DOUBTFUL or not field.value:
                continue
            on = date_of(record.date, day) if record.date is not None else None
            if on is not None and record.unit == unit:
                yield MeterReading(unit, on, Decimal(str(field.value)))


def _open(field: SettledField) -> bool:
    """Whether the dates and hours of other sheets may settle it: a second scan that says otherwise they do not."""
    reconciled = parted(field.id)[0] in _RECONCILED and field.state is State.DOUBTFUL
    return reconciled and not another_scan_differs(field)


def _doubtful_head(record: PageRecord) -> bool:
    return any(field.id in _HEAD and field.state is State.DOUBTFUL for field in record.fields)


def _why(before: SettledField, now: SettledField, days: int) -> str:
    changed = "" if before.value == now.value else f", where '{before.value}' had been read"
    if parted(before.id)[0] == "hours":
        return f"settled by the unit's readings on other sheets{changed}"
    return f"settled by the dates of {days} other sheets{changed}"
