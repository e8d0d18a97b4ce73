"""What closed a report, the workshop's block on its sheet or a person's command, and why either may not do so."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from scanform.binder import Binder, Closing, split_ref
from scanform.binder.said_at import SheetThen
from scanform.report.defects import DefectEntry
from scanform.report.frames import rows
from scanform.report.same_complaint import same_complaint
from scanform.settle.types import State

__all__ = [
    *("Block", "Closure", "closed_by_command", "closed_on_paper", "not_surely_before", "standing_closings"),
    "workshop_blocks",
]

# The reports of a sheet as it stood once.
ReportsThen = Callable[[int, SheetThen], list[DefectEntry]]


@dataclass(frozen=True)
class Closure:
    """What closed a defect. ``repair``: repaired or not-needed. ``by``: who, as far as it is written down in letters.

    ``where``: the paper or screen, with page. ``initials``: of whoever entered it, None if it was read from paper.
    ``ref``: the report that it was said of. ``entry``: its journal entry, None if it was read from paper.
    """

    repair: str
    on: dt.date
    by: str
    where: str
    initials: str | None
    ref: str
    entry: int | None = None

    @property
    def sheet(self) -> int:
        """The sheet of the report that it was said of, perhaps an earlier scan, which counts no more; what was read
        from paper stands in that sheet's own block.
        """
        return split_ref(self.ref)[0]


class Verdict(NamedTuple):
    """What closes a report, None if nothing does; why not, "" if nothing was tried; and whether it may yet."""

    closed: Closure | None
    why_not: str = ""
    waits: bool = False


class Block(NamedTuple):
    """The workshop's block of a sheet, each part with whether it is doubtful. ``came_in``: the day on which the sheet
    came into the record, None where that does not matter.
    """

    date: str | None = None
    date_unsure: bool = False
    signed: bool = False
    signature_unsure: bool = False
    came_in: dt.date | None = None


# The workshop's block


def workshop_blocks(binder: Binder, dates: Mapping[int, str | None]) -> dict[int, Block]:
    """The workshop's block of those sheets on which anything stands in it. ``dates``: of the sheets, ISO 8601."""
    found: dict[int, Block] = defaultdict(Block)
    for row in rows(binder.written_columns(["workshop."])):
        if row.sheet in dates:
            unsure = row.state == State.DOUBTFUL
            if row.field == "workshop.date":
                found[row.sheet] = found[row.sheet]._replace(date=row.value, date_unsure=unsure)
            elif row.field == "workshop.signature":
                found[row.sheet] = found[row.sheet]._replace(signed=row.value == "true", signature_unsure=unsure)
    # Nobody repairs after the sheet that says so was scanned; only a day of its own can be so late.
    later = [sheet for sheet, block in found.items() if block.date and block.date > (dates[sheet] or "")]
    for sheet, at in binder.first_recorded(later).items():
        found[sheet] = found[sheet]._replace(came_in=dt.datetime.fromisoformat(at).astimezone().date())
    return found


def closed_on_paper(entry: DefectEntry, block: Block, where: str, head_unsure: bool) -> Verdict:
    """What the workshop's block says of a line. ``head_unsure``: the sheet's unit or date is doubtful."""
    if entry.repair is None:
        if block.signed and block.signature_unsure:
            return Verdict(
                None, f"the workshop signed sheet {entry.sheet}, and it is not clear what it closed there", True
            )
        return Verdict(None)
    said = f"marked '{'repaired' if entry.repair == 'repaired' else 'repair not needed'}' on sheet {entry.sheet}"
    unsure = [
        what
        for what, doubt in (
            ("the mark", entry.repair_state is State.DOUBTFUL),
            ("the workshop's date", block.date_unsure),
            ("the workshop's signature", block.signature_unsure),
        )
        if doubt
    ]
    if unsure:
        return Verdict(None, f"{said}, but {' and '.join(unsure)} must be confirmed first", True)
    if not block.signed:
        return Verdict(None, f"{said} without a signature, which closes nothing")
    on = dt.date.fromisoformat(block.date) if block.date else entry.date
    if on is None or (entry.date is not None and on < entry.date):
        return Verdict(None, f"{said} with a date before the report's, which closes nothing", head_unsure)
    if block.came_in is not None and on > block.came_in:
        why = f"{said} with the date {on}, but the sheet came in on {block.came_in}: correct the workshop's date first"
        return Verdict(None, why, True)
    paper = f"workshop's block of sheet {entry.sheet} ({where})"
    return Verdict(Closure(entry.repair, on, "signature on the sheet", paper, None, entry.ref))


# A person's command


def standing_closings(binder: Binder) -> dict[str, Closing]:
    """The last standing closing by a person of each report."""
    return {closing.ref: closing for closing in binder.closings() if closing.undone_by is None}


def closed_by_command(
    entry: DefectEntry, closing: Closing | None, then: Mapping[tuple[int, int], SheetThen | None], told: ReportsThen
) -> Verdict:
    """What a person's closing says of a report. It closes what stood there when it was entered, and nothing that the
    report was made into since.

    ``then``: what sheets said when a closing was entered, where it has changed since; ``told``: the reports of that.
    """
    if closing is None:
        return Verdict(None)
    said = f"closed by {closing.initials} on {closing.closed_on} ({closing.paper})"
    again = "close it again if that holds"
    if entry.date is not None and closing.closed_on < entry.date:
        return Verdict(
            None, f"{said}, but sheet {entry.sheet} now says that it was reported on {entry.date}: {again}", True
        )
    if not _stood_there(entry, closing.ref, closing.seq, then, told):
        return Verdict(None, f"{said}, but what {closing.ref} says was changed since: {again}", True)
    who = closing.closed_by, closing.paper, closing.initials
    return Verdict(Closure(closing.repair, closing.closed_on, *who, closing.ref, closing.seq))


def _stood_there(
    entry: DefectEntry, ref: str, seq: int, then: Mapping[tuple[int, int], SheetThen | None], told: ReportsThen
) -> bool:
    moment = entry.sheet, seq
    if moment not in then:
        return True
    sheet = then[moment]
    before = next((e for e in told(entry.sheet, sheet) if e.ref == ref), None) if sheet is not None else None
    return before is not None and _is_same(before, entry)


def _is_same(before: DefectEntry, entry: DefectEntry) -> bool:
    """Whether a report is about the same unit's same complaint as it was before somebody changed its sheet."""
    same_item = before.item in (None, entry.item)
    return before.unit == entry.unit and same_item and same_complaint(before, entry)


# Reports of the very day of a closing


def not_surely_before(
    entry: DefectEntry,
    closures: Iterable[Closure],
    hours: Mapping[tuple[int, dt.date | None], float],
    then: Mapping[tuple[int, int], SheetThen | None],
    told: ReportsThen,
) -> frozenset[Closure]:
    """Those closings of a report's own day of which nothing says that they come after it.

    A repair on that day is as likely before as after what another sheet of the day tells. On paper the hour meter says
    which sheet was first; ``hours``: by sheet and its date, where it is sure. A person knew what was on record then.
    """
    return frozenset(c for c in closures if not _surely_before(entry, c, hours, then, told))


def _surely_before(
    entry: DefectEntry,
    closed: Closure,
    hours: Mapping[tuple[int, dt.date | None], float],
    then: Mapping[tuple[int, int], SheetThen | None],
    told: ReportsThen,
) -> bool:
    if closed.entry is not None:
        moment = entry.sheet, closed.entry
        if moment not in then:
            return True
        sheet = then[moment]
        known = told(entry.sheet, sheet) if sheet is not None else []
        return any(_is_same(before, entry) and before.date == entry.date for before in known)
    if entry.sheet == closed.sheet:
        return True
    here, there = hours.get((entry.sheet, entry.date)), hours.get((closed.sheet, closed.on))
    return here is not None and there is not None and here < there
