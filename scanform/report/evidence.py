"""What an inspector asks for, gathered: one unit or all, between two days, with all that the record knows."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from scanform.binder import Binder, Decision, JournalEntry, VerifyReport, is_void, split_ref
from scanform.errors import UsageError
from scanform.form import DAYS_OF_MONTH
from scanform.report.assurance import Assurance, assurance
from scanform.report.coverage import coverage
from scanform.report.deleted_days import deleted_days
from scanform.report.frames import rows
from scanform.report.meter import daily_use, meter_readings
from scanform.report.register import Defect, defect_register
from scanform.report.retention import keeping
from scanform.report.sheet_days import counted_sheets, sheet_days
from scanform.report.unit_days import Coverage
from scanform.settle.types import Outcome, State

__all__ = ["Evidence", "gather_evidence"]


@dataclass(frozen=True)
class Evidence:
    """Everything but the sheets themselves, which are fetched in turns by their record numbers in ``sheets``.

    ``defects``: those with a report in the stretch, or open in it. ``decisions`` by record number. ``unread``: pages
    that were scanned and never became a sheet; whose they are nobody knows, so they stand in every pack. ``void``:
    sheets of these units and days that a person has said are void. ``loose``: record numbers of sheets without a unit
    or a date that may be of these units and days; they are fetched like the others. ``keep``: how many of the
    sheets each rule keeps. ``doubtful`` counts the fields of all these sheets that wait for a person.
    """

    unit: str | None
    since: dt.date
    until: dt.date
    made_on: dt.date
    sheets: tuple[int, ...]
    coverage: Coverage
    defects: tuple[Defect, ...]
    readings: pd.DataFrame
    use: pd.DataFrame
    decisions: Mapping[int, Sequence[Decision]]
    unread: pd.DataFrame
    void: pd.DataFrame
    loose: tuple[int, ...]
    trust: Assurance
    verified: VerifyReport
    journal: Sequence[JournalEntry]
    keep: Mapping[str, int]
    doubtful: int

    @property
    def title(self) -> str:
        """What it is about."""
        return f"{f'Unit {self.unit}' if self.unit else 'All units'}, {self.since} to {self.until}"


def gather_evidence(binder: Binder, unit: str | None, since: dt.date, until: dt.date, today: dt.date) -> Evidence:
    """The evidence on one unit, or on all, from ``since`` to ``until``.

    UsageError if no sheet is on record there: an empty pack would look like proof that there is nothing to prove.
    """
    counted = counted_sheets(binder)
    mine = counted if unit is None else counted[counted["unit"] == unit]
    days = sheet_days(binder, mine, since, until)
    sheets = tuple(int(number) for number in dict.fromkeys(days["sheet"]))
    if not sheets:
        gone = [day for (of, on), day in deleted_days(binder).items() if unit in (None, of) and since <= on <= until]
        why = f"the journal tells of {gone[0].note}" if gone else "check unit and dates"
        raise UsageError(f"No sheet of {unit or 'any unit'} from {since} to {until} is on record; {why}.")
    loose = _loose(counted, unit, since, until)
    readings = meter_readings(binder, mine)
    if unit is not None:  # the register's readings are every unit's
        readings = readings[readings["unit"] == unit]
    decisions: dict[int, list[Decision]] = defaultdict(list)
    for decision in binder.decisions():
        decisions[split_ref(decision.ref)[0]].append(decision)
    pages = binder.page_columns()
    void = pd.Series([is_void(row.outcome, row.reason) for row in rows(pages)], index=pages.index, dtype=bool)
    unread = pages["outcome"].isin((Outcome.UNREADABLE.value, Outcome.UNKNOWN_FORM.value)) & ~void
    kept: dict[str, int] = defaultdict(int)
    in_pack = {*sheets, *loose}
    register = defect_register(binder, counted)
    defects = tuple(d for d in register if _of(d, unit, loose) and _in(d, since, until))
    for page in keeping(binder, register):
        if page.page in in_pack:
            until_when = f"until {page.until}" if page.until else "until further notice"
            kept[f"{page.rule} ({until_when})" if page.until else page.rule] += 1
    return Evidence(
        unit=unit,
        since=since,
        until=until,
        made_on=today,
        sheets=sheets,
        coverage=coverage(binder, since, until, unit, counted, today=today),
        defects=defects,
        readings=readings[readings["date"].between(str(since), str(until))],
        use=daily_use(readings),
        decisions={number: decisions[number] for number in (*sheets, *loose) if number in decisions},
        unread=pages[unread],
        void=pages[void & _may_be_of(pages, unit, since, until)],
        loose=loose,
        trust=assurance(binder),
        verified=binder.verify_sheets([*in_pack, *(report.sheet for defect in defects for report in defect.reports)]),
        journal=binder.journal_heads(),
        keep=dict(kept),
        doubtful=int((binder.field_columns([*sheets, *loose])["state"] == State.DOUBTFUL.value).sum()),
    )


def _loose(counted: pd.DataFrame, unit: str | None, since: dt.date, until: dt.date) -> tuple[int, ...]:
    without = counted[counted["unit"].isna() | counted["date"].isna()]
    return tuple(int(row.sheet) for row in rows(without[_may_be_of(without, unit, since, until)]))


def _may_be_of(pages: pd.DataFrame, unit: str | None, since: dt.date, until: dt.date) -> pd.Series:
    """Which pages may be of the unit and speak of the days, so far as they are filed under any."""
    first = since - dt.timedelta(days=len(DAYS_OF_MONTH) - 1)  # of a month that goes on until then
    in_time = pages["date"].isna() | pages["date"].between(str(first), str(until))
    return in_time if unit is None else in_time & (pages["unit"].isna() | (pages["unit"] == unit))


def _of(defect: Defect, unit: str | None, loose: Sequence[int]) -> bool:
    """Whether a defect is the unit's, or stands on a sheet without a unit that may be."""
    return unit in (None, defect.unit) or any(report.sheet in loose for report in defect.reports)


def _in(defect: Defect, since: dt.date, until: dt.date) -> bool:
    """Whether a defect was alive in the stretch of days; one without a date may have been."""
    begun = defect.first is None or defect.first <= until
    return begun and (defect.closed is None or defect.closed.on >= since)
