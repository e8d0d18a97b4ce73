"""What Monday's meeting has to know of one week, gathered: dangerous, open, missing, due, and how sure that is."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from scanform.binder import Binder
from scanform.report.assurance import Assurance, assurance
from scanform.report.coverage import Coverage, coverage
from scanform.report.meter import daily_use, meter_readings
from scanform.report.register import Defect, defect_register, still_open
from scanform.report.service import ServiceDue, service_due
from scanform.report.sheet_days import counted_sheets
from scanform.report.unread_pages import unread_pages, unread_sentence
from scanform.report.wording import counted, doubt_in_short

__all__ = ["Letter", "defect_line", "weekly_letter"]

_WEEKS_OF_DEFECTS = 8


@dataclass(frozen=True)
class Letter:
    """One week's letter. ``written`` is the day it was made: what is open is open then.

    ``dangerous``: open defects that are safety-critical or may be; ``open_others``: the other open ones; of both those
    that are no facts yet come last (``Defect.sure``).
    ``closed_in_week``. ``unread``: pages of the whole record that were not read. ``ran_hours`` by unit: what was run in
    the week, as far as its sheets say. ``by_item``: defects first reported in the last eight weeks by item text, with
    how many of them are open.
    """

    monday: dt.date
    written: dt.date
    dangerous: tuple[Defect, ...]
    open_others: tuple[Defect, ...]
    closed_in_week: tuple[Defect, ...]
    coverage: Coverage
    not_filed: int
    unread: int
    due: tuple[ServiceDue, ...]
    ran_hours: dict[str, float]
    by_item: dict[str, tuple[int, int]]
    doubts: int
    critical_doubts: int
    trust: Assurance

    @property
    def sunday(self) -> dt.date:
        """The week's last day."""
        return self.monday + dt.timedelta(days=6)

    @property
    def week(self) -> str:
        """The ISO 8601 week, such as 2026-W48."""
        year, number, _ = self.monday.isocalendar()
        return f"{year}-W{number:02d}"

    @property
    def due_soon(self) -> tuple[ServiceDue, ...]:
        """Services that may be due within a fortnight of the week's end."""
        return tuple(one for one in self.due if one.is_near(self.sunday))

    @property
    def doubts_sentence(self) -> str:
        """What the safety-critical doubts of the record may hide, and the pages that were not read."""
        said = "No safety-critical field waits for a person."
        if self.critical_doubts:
            said = f"{counted(self.critical_doubts, 'safety-critical doubt')} may each hide a defect: scanform doubts."
        return f"{said} {self.unread_sentence}." if self.unread else said

    @property
    def unread_sentence(self) -> str:
        """What pages that were not read may hide; "" if there are none."""
        return unread_sentence(self.unread)

    @property
    def missing_hours(self) -> float:
        """About how many hours were run without a sheet."""
        return sum(day.ran_hours or 0.0 for day in self.coverage.missing)


def weekly_letter(binder: Binder, monday: dt.date, today: dt.date) -> Letter:
    """The letter on the week that begins on ``monday``, as the record stands."""
    sunday = monday + dt.timedelta(days=6)
    sheets = counted_sheets(binder)
    readings = meter_readings(binder, sheets)
    register = defect_register(binder, sheets, readings)
    known = [defect for defect in register if defect.first is None or defect.first <= sunday]
    open_ones = still_open(known)
    doubts, critical = binder.doubt_counts()
    # A day that is still to come was misread, and its hours were not run since the day before it.
    use = daily_use(readings[readings["date"] <= today.isoformat()])
    in_week = use[(use["since"] >= monday.isoformat()) & (use["since"] <= sunday.isoformat())]
    return Letter(
        monday=monday,
        written=today,
        dangerous=_facts_first(defect for defect in open_ones if defect.critical is not False),
        open_others=_facts_first(defect for defect in open_ones if defect.critical is False),
        closed_in_week=tuple(d for d in known if d.closed is not None and monday <= d.closed.on <= sunday),
        coverage=coverage(binder, monday, sunday, sheets=sheets, readings=readings),
        not_filed=int((sheets["unit"].isna() | sheets["date"].isna()).sum()),
        unread=unread_pages(binder),
        due=tuple(service_due(binder, sunday, readings)),
        ran_hours={str(unit): float(hours) for unit, hours in in_week.groupby("unit")["hours"].sum().items()},
        by_item=_by_item(known, sunday - dt.timedelta(weeks=_WEEKS_OF_DEFECTS)),
        doubts=doubts,
        critical_doubts=critical,
        trust=assurance(binder),
    )


def _facts_first(defects: Iterable[Defect]) -> tuple[Defect, ...]:
    return tuple(sorted(defects, key=lambda defect: not defect.sure))


def defect_line(defect: Defect) -> str:
    """What is wrong, in one line: the words, with the item where it is known, and a sign if it is doubtful."""
    words = defect.words or "no words"
    item = f"{words} ({defect.item_text})" if defect.item_text else f"{words} (item unclear)"
    again = ", came back" if defect.times else ""
    return item + again + (f" [{doubt}]" if (doubt := doubt_in_short(defect)) else "")


def _by_item(register: list[Defect], since: dt.date) -> dict[str, tuple[int, int]]:
    """Defects first reported since then, by item: how many, and how many of them open; the most first."""
    every: Counter[str] = Counter()
    unclosed: Counter[str] = Counter()
    for defect in register:
        if defect.first is not None and defect.first > since:
            name = defect.item_text or "item unclear"
            every[name] += 1
            unclosed[name] += defect.is_open
    return {name: (count, unclosed[name]) for name, count in every.most_common()}
