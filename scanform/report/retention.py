"""How long sheets are kept, by which rule, and which files may go.

A road driver's vehicle report and the certification of its repairs are kept three months (49 CFR 396.11(a)(4)).
Records of defects are kept until the defect is corrected (30 CFR 56.14100(d)); here that holds for every kind of
sheet. The site may set a longer rule for everything. A sheet of a kind that no rule gives a time stays, and so does
whatever is open: defects, doubts, spot checks, pages that were never read, sheets without unit or date.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from scanform.binder import Binder, ClosingWish, is_void
from scanform.form import DAYS, DAYS_OF_MONTH, built_in_templates, date_of
from scanform.report.frames import rows
from scanform.report.register import Defect, defect_register
from scanform.report.wording import counted
from scanform.settle.types import Outcome

__all__ = ["RULES", "Keeping", "closings_that_go_on", "files_that_may_go", "keeping", "months_after", "rule_in_words"]

ROAD_MONTHS = 3
ROAD_RULE = "49 CFR 396.11(a)(4): three months"
DEFECT_RULE = "30 CFR 56.14100(d): defects until they are corrected"
RULES = (
    f"{ROAD_RULE} for road-vehicle reports, counted from the report (the last day of a week's or a month's sheet) or "
    f"from the repair of what stands on it. {DEFECT_RULE}, here for every kind of sheet. The site's own rule, if it is "
    "longer, for everything."
)
_ROAD_RULES = "49 CFR 396.11"
_LONGEST_PAPER = 150  # characters of what a closing names, so that there is room for whose it was
_NEVER = "no rule gives a time; it stays"


@dataclass(frozen=True)
class Keeping:
    """How long one page is kept. ``until``: the last day, None for no end in sight. ``rule``: what says so, or what is
    still open.
    """

    page: int
    sha256: str
    source: str
    unit: str | None
    date: dt.date | None
    until: dt.date | None
    rule: str

    def may_go(self, today: dt.date) -> bool:
        """Whether its time is over."""
        return self.until is not None and self.until < today


def keeping(binder: Binder, register: Sequence[Defect] | None = None) -> list[Keeping]:
    """Every page on record with its rule, by record number; ``register`` as from ``defect_register``, if at hand."""
    months = binder.settings().keep_months
    by_sheet: dict[int, list[Defect]] = defaultdict(list)
    for defect in defect_register(binder) if register is None else register:
        for entry in defect.reports:
            by_sheet[entry.sheet].append(defect)
    waiting = binder.waiting_sheets()
    pages = binder.page_columns()
    periods = _periods(binder, list(pages["page_id"][pages["outcome"] == Outcome.READ.value]))
    found = []
    for row in rows(pages):
        date = dt.date.fromisoformat(row.date) if row.date else None
        reported = _last_day(date, periods.get(row.page_id, ()))
        until, rule = _until(row, reported, months, by_sheet.get(row.page_id, ()), row.page_id in waiting)
        found.append(Keeping(row.page_id, row.sha256, row.source, row.unit, date, until, rule))
    return found


def files_that_may_go(kept: Sequence[Keeping], today: dt.date) -> dict[str, list[Keeping]]:
    """By SHA-256, the files all of whose pages have had their time. The file of the newest page is never among them."""
    by_file: dict[str, list[Keeping]] = defaultdict(list)
    for page in kept:
        by_file[page.sha256].append(page)
    newest = max((page.page for page in kept), default=0)
    return {
        sha256: pages
        for sha256, pages in by_file.items()
        if all(page.may_go(today) for page in pages) and all(page.page != newest for page in pages)
    }


def rule_in_words(pages: Sequence[Keeping]) -> str:
    """The rules that a file's pages went by, for the journal."""
    return "; ".join(sorted({page.rule for page in pages if page.date is not None})) or "holds no sheet"


def closings_that_go_on(register: Sequence[Defect], pages: Collection[int]) -> list[ClosingWish]:
    """What closed a defect, to be said of its reports that stay when these pages go.

    Where only some of a defect's reports go, what closed it may go with them: the others would tell of an open defect,
    or would no longer be known as one.
    """
    found = []
    for defect in register:
        stay = [entry for entry in defect.reports if entry.sheet not in pages]
        closed = defect.closed
        if closed is not None and (len(stay) < len(defect.reports) or closed.sheet in pages):
            said = f" (said of {closed.ref} by {closed.initials})" if closed.initials else ""
            where = f"{closed.where[:_LONGEST_PAPER]}{said}"
            found += [
                ClosingWish(entry.ref, closed.repair, closed.on, closed.by, where)
                for entry in stay
                if entry.ref != closed.ref
            ]
    return found


def months_after(day: dt.date, months: int) -> dt.date:
    """The same day of the month so many months later, or the month's last if it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    last = (dt.date(year + (month == 11), (month + 1) % 12 + 1, 1) - dt.timedelta(days=1)).day
    return dt.date(year, month + 1, min(day.day, last))


def _periods(binder: Binder, sheets: Sequence[int]) -> Mapping[int, Sequence[str]]:
    """The days of a week or of a month, for the sheets that speak of single days of one."""
    by_the_day = binder.written_columns(["initials.", "hours."])
    marked = binder.marked_day_columns(sheets)
    days = [(sheet, name.rpartition(".")[2]) for sheet, name in by_the_day[["sheet", "field"]].to_numpy()]
    days += [(sheet, day) for sheet, day in marked[["sheet", "day"]].to_numpy()]
    return {sheet: DAYS if day in DAYS else DAYS_OF_MONTH for sheet, day in days}


def _last_day(date: dt.date | None, period: Sequence[str]) -> dt.date | None:
    """The last day that a sheet may speak of: its date, or the end of the week or month that begins then."""
    days = [day for name in period if (day := date_of(date, name)) is not None]
    return max(days, default=date)


def _until(
    row: Any, reported: dt.date | None, months: int | None, defects: Sequence[Defect], waits: bool
) -> tuple[dt.date | None, str]:
    """``reported``: the last day that the sheet may speak of."""
    outcome, template = row.outcome, row.template
    if is_void(outcome, row.reason):
        return None, "void, and no rule says when such a sheet may go; it stays"
    if outcome in (Outcome.BLANK.value, Outcome.DUPLICATE.value):
        return dt.date.min, f"a {outcome} page, kept with the rest of its file"
    if outcome != Outcome.READ.value:
        return None, f"{outcome}: nobody knows what stands on it"
    if reported is None or row.unit is None:
        return None, "without unit or date"
    if waits:
        return None, "a doubt or spot check waits for a person"
    opened = next((defect for defect in defects if defect.is_open), None)
    if opened is not None:
        return None, f"{DEFECT_RULE}; {opened.name} is open"
    since = max([reported, *(defect.closed.on for defect in defects if defect.closed is not None)])
    times: Mapping[str, int] = {
        **({ROAD_RULE: ROAD_MONTHS} if template in _road_templates() else {}),
        **({f"the site's rule: {counted(months, 'month')}": months} if months else {}),
    }
    if not times:
        return None, _NEVER
    rule, longest = max(times.items(), key=lambda pair: pair[1])
    return months_after(since, longest), rule


@lru_cache(maxsize=1)
def _road_templates() -> frozenset[str]:
    """The built-in templates that are meant for road vehicles, by the rules that they name."""
    return frozenset(t.name for t in built_in_templates() if any(_ROAD_RULES in rule for rule in t.rules))
