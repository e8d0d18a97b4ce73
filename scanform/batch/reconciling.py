"""Dates and hours of old forms that were in doubt when they were read, looked at again once their neighbours are known.

A binder is read in the order in which it was filed, and its first sheets are settled knowing nothing: which of day and
month comes first on this site, what year it is, where the meters stand. At the end of a batch the sheets that were left
with such doubts are settled anew, each beside all others. Where a field is clear then, it is accepted, and the journal
says by what.
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

from scanform.binder import Binder, PageRecord, RecordedPage, Resolution
from scanform.form import Layout, date_of, parted
from scanform.read import Reading
from scanform.settle import Known, MeterReading, SettledField, State, settle_sheet
from scanform.settle.old import readings_that_go_on, written_order

__all__ = ["LeftInDoubt"]

_RECONCILED = ("date", "week", "hours")
_ROUNDS = 4  # what one round settles may settle more: the order of dates, then days, then the meters of those days


class _Kept(NamedTuple):
    """Where one sheet's readings lie in the file, its place in the stack, and which of its fields were in doubt."""

    number: int
    place: int
    at: int
    fields: tuple[str, ...]


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
            self._kept.append(_Kept(page.number, place, at, doubtful))

    def settle(self, binder: Binder, known: Known, layout_of: Callable[[PageRecord], Layout]) -> int:
        """Settle them again beside all sheets on record; returns how many fields left the queue."""
        resolved = 0
        for _ in range(_ROUNDS):
            unsure = self._unsure_readings(binder)
            found = [r for kept in self._kept for r in self._again(kept, binder, known, layout_of, unsure)]
            if not found:
                break
            resolved += binder.resolve_doubts(found)
            known = self._with_dates(known, found)
        return resolved

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

    def _unsure_readings(self, binder: Binder) -> dict[int, list[MeterReading]]:
        """By sheet, the doubtful meter readings; one that is filed wrong does not go on with the others of its unit."""
        found: dict[int, list[MeterReading]] = {}
        for page in binder.pages_numbered([kept.number for kept in self._kept]):
            record = page.record
            if record.unit is None or record.date is None:
                continue
            for field in record.fields:
                stem, day = parted(field.id)
                on = date_of(record.date, day)
                if stem == "hours" and _open(field) and field.value is not None and on is not None:
                    found.setdefault(page.number, []).append(MeterReading(record.unit, on, Decimal(str(field.value))))
        return found

    def _again(
        self,
        kept: _Kept,
        binder: Binder,
        known: Known,
        layout_of: Callable[[PageRecord], Layout],
        unsure: Mapping[int, Sequence[MeterReading]],
    ) -> Iterator[Resolution]:
        page = binder.page_numbered(kept.number)
        if page is None or not any(_open(field) for field in page.record.fields):
            return
        self._file.seek(kept.at)
        readings = pickle.load(self._file)
        layout = layout_of(page.record)
        beside = replace(
            known, recall=lambda unit: _readings_beside(binder, unit, kept.number, unsure), place=kept.place
        )
        settled = {field.id: field for field in settle_sheet(layout, readings, beside)}
        for before in page.record.fields:
            now = settled.get(before.id)
            if before.id in kept.fields and _open(before) and now is not None and now.state is State.ACCEPTED:
                if before.id == "date":
                    self._orders[kept.number] = written_order(now)
                yield Resolution(kept.number, before.id, now.value, _why(before, now, len(known.days)))


def _readings_beside(
    binder: Binder, unit: str, number: int, unsure: Mapping[int, Sequence[MeterReading]]
) -> Sequence[MeterReading]:
    """A unit's readings on other sheets that nobody doubts, and the doubtful ones that go on as a meter does."""
    sure = binder.readings_beside(unit, number)
    others = [r for sheet, readings in unsure.items() if sheet != number for r in readings if r.unit == unit]
    chain = readings_that_go_on([*sure, *others])
    return [*sure, *(reading for reading in chain if reading not in sure)]


def _open(field: SettledField) -> bool:
    return parted(field.id)[0] in _RECONCILED and field.state is State.DOUBTFUL


def _why(before: SettledField, now: SettledField, days: int) -> str:
    changed = "" if before.value == now.value else f", where '{before.value}' had been read"
    if parted(before.id)[0] == "hours":
        return f"settled by the unit's readings on other sheets{changed}"
    return f"settled by the dates of {days} other sheets{changed}"
