"""From reports to defects: which reports of a unit are of one, from its first word to what closed it.

Reports stay apart where it cannot be told, and so does what may be no report at all. What hangs on words, numbers or
units that nobody has confirmed is noted with every defect that it may change.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from scanform.report.closures import Closure
from scanform.report.defect_reports import Report
from scanform.report.defects import DefectEntry
from scanform.report.same_complaint import alike, reads_apart, refers, same_complaint
from scanform.settle.types import State

__all__ = ["Life", "hangs_on", "is_sure", "lives_of", "note_lost", "pending"]

_LOST_BEFORE_DAYS = 14  # a report whose unit is doubtful may have been a defect's first so long before what is now


@dataclass
class Life:
    """A defect while the register is drawn up. ``unclear``: names of defects of the same item that it may be one with,
    for doubtful words; ``lost``: reports on sheets of a doubtful unit or date that may be its;
    ``odd``: names of reports that were joined to it though their doubtful words read as something else;
    ``maybe``: names of such reports of other defects that may be its;
    ``again_unclear``: that it is ``before`` come back, or nothing come back, rests on missing or doubtful words.
    """

    reports: list[Report]
    closed: Closure | None = None
    before: Life | None = None
    said: dict[str, DefectEntry] = field(default_factory=dict)  # by words, of reports that do not point back
    doubtful: list[DefectEntry] = field(default_factory=list)  # all those of them whose words are doubtful
    unclear: dict[str, None] = field(default_factory=dict)
    lost: list[Report] = field(default_factory=list)
    odd: dict[str, None] = field(default_factory=dict)
    maybe: dict[str, None] = field(default_factory=dict)
    again_unclear: bool = False

    def __post_init__(self) -> None:
        self._hear(self.latest)

    @property
    def name(self) -> str:
        """Its first report, as commands take it."""
        return self.reports[0].entry.ref

    @property
    def latest(self) -> DefectEntry:
        """Its last report."""
        return self.reports[-1].entry

    def is_about(self, entry: DefectEntry) -> bool:
        """Whether a report speaks of it: it agrees with words of it that say something themselves, if there are any.

        Where nobody doubts the words of either, those that were perhaps misread do not bring the two together.
        """
        if self.sure_words and _says_surely(entry):
            return self.surely_about(entry)
        return (
            any(same_complaint(said, entry) for said in self.said.values())
            if self.said
            else (same_complaint(self.latest, entry))
        )

    def reads_apart(self, entry: DefectEntry) -> bool:
        """Whether a report would be another defect if the words of both were what was read: by words of it that nobody
        doubts, or by any of them where all are doubtful.
        """
        if self.sure_words:
            return all(reads_apart(said, entry) for said in self.sure_words)
        return any(reads_apart(said, entry) for said in self.said.values() if said.ref not in self.odd)

    def surely_about(self, entry: DefectEntry) -> bool:
        """The same by words that nobody doubts."""
        return _says_surely(entry) and any(same_complaint(said, entry) for said in self.sure_words)

    @property
    def earlier(self) -> list[Life]:
        """What it came back from, and what that came back from, the last first."""
        return [] if self.before is None else [self.before, *self.before.earlier]

    @property
    def sure_words(self) -> list[DefectEntry]:
        """Reports that say what is wrong in words that nobody doubts, one for each wording."""
        return [said for said in self.said.values() if said.words_state is not State.DOUBTFUL]

    def is_unclear(self, entry: DefectEntry) -> bool:
        """Whether words of its own or of a report are doubtful."""
        return State.DOUBTFUL in (entry.state, *(said.words_state for said in self.said.values()))

    def likeness(self, entry: DefectEntry) -> float:
        """How alike the words of a report are to the likest of its own, 0 to 100."""
        return max((alike(said, entry) for said in self.said.values()), default=alike(self.latest, entry))

    def take(self, report: Report) -> None:
        """One more report is of it."""
        self.reports.append(report)
        self._hear(report.entry)
        self.close(report.closed)

    def _hear(self, entry: DefectEntry) -> None:
        if entry.words and not refers(entry):
            words, sure = entry.words.casefold(), entry.words_state is not State.DOUBTFUL
            self.doubtful += [] if sure else [entry]
            if sure or words not in self.said:
                self.said[words] = entry

    def close(self, closure: Closure | None) -> None:
        """It was closed, if it was; the last closing counts."""
        if closure is not None and (self.closed is None or closure.on >= self.closed.on):
            self.closed = closure

    @property
    def perhaps_again(self) -> Closure | None:
        """What closed the defect that it came back from, if all its reports are of that very day and may be older."""
        closed = None if self.before is None else self.before.closed
        days = [report.entry.date for report in self.reports]
        return closed if closed is not None and all(day == closed.on for day in days) else None

    @property
    def surely_closed(self) -> Closure | None:
        """The last closing that surely closes all of it. After any other a report is one of a defect that came back,
        and this one may be open still.
        """
        sure = [report.closed for report in self.reports if report.closed and not self.closing_doubt(report)]
        return max(reversed(sure), key=lambda closure: closure.on, default=None)

    def closing_doubt(self, report: Report) -> str:
        """Why what may close it by a report does not do so, in a sentence; "" where there is no such doubt.

        A person's command closes what it names. The workshop signs for a line, and that may be about another defect.
        """
        after = [other.entry.ref for other in self.reports if report.closed in other.not_before]
        if report.closed is not None and after:
            closed = f"closed on {report.closed.on} ({report.closed.where})"
            return f"{closed}, perhaps before {' and '.join(after)} was reported on that day"
        if report.closed is None or report.closed.initials is not None or not self.odd:
            return report.closing_doubt
        return f"closed by the {report.closed.where}, but the words of {' and '.join(self.odd)} must be confirmed first"


def lives_of(reports: Sequence[Report]) -> list[Life]:
    """The defects of one unit from its reports in order of days."""
    lives: list[Life] = []
    apart: list[Life] = []
    by_item: dict[str | None, list[Life]] = defaultdict(list)
    for report in reports:
        entry = report.entry
        if entry.may_be_dirt:
            apart.append(Life([report], report.closed))
            continue
        # A line whose words tie it to an item may belong to any other, and so may a line without one.
        near = by_item[entry.item] + by_item[None] if entry.item and entry.tied_by != "words" else lives
        life = _best([life for life in near if life.is_about(entry)], report)
        rivals = [other for other in by_item[entry.item] if other is not life and _may_be_about(other, report)]
        if life is not None and not _came_back(life, report):
            if life.reads_apart(entry):
                life.odd[entry.ref] = None
            life.take(report)
            _look_back(life, by_item[entry.item])
            _note_unclear(life, rivals)
            _note_maybe(life, by_item[entry.item])
            if life not in by_item[entry.item]:
                by_item[entry.item].append(life)
            continue
        fresh = Life([report], report.closed, life)
        fresh.again_unclear = any(
            other.closed is not None and (not entry.words or other.is_unclear(entry)) and not other.surely_about(entry)
            for other in ([life] if life is not None else by_item[entry.item])
        )
        _note_unclear(fresh, rivals)
        _note_maybe(fresh, by_item[entry.item])
        lives.append(fresh)
        by_item[entry.item].append(fresh)
    return lives + apart


def _best(lives: Sequence[Life], report: Report) -> Life | None:
    """Among several that may be meant: an open one before a closed one, open ones by words, else the latest."""
    entry = report.entry
    ranked = sorted(
        enumerate(lives),
        key=lambda pair: (
            closed := _came_back(pair[1], report),
            0 if closed or not entry.words else -pair[1].likeness(entry),
            -pair[0],
        ),
    )
    return ranked[0][1] if ranked else None


def _look_back(life: Life, of_item: Sequence[Life]) -> None:
    """Clear what a defect came back from, once a report says in words that nobody doubts what is wrong."""
    entry, first = life.latest, life.reports[0].entry.date
    if not life.again_unclear or entry.words_state in (None, State.DOUBTFUL) or refers(entry) or first is None:
        return
    closed = [o for o in of_item if o.closed is not None and (o.closed.on < first or o is life.before)]
    about = [other for other in closed if all(other.surely_about(said) for said in life.sure_words)]
    if any(before.surely_about(entry) for before in life.earlier):
        life.again_unclear = False
    elif all(other.sure_words for other in closed) and (about or not any(o.surely_about(entry) for o in closed)):
        life.before, life.again_unclear = about[-1] if about else None, False


def _came_back(life: Life, report: Report) -> bool:
    """Whether a report comes after the closing, or on its day and perhaps after it."""
    closed, on = life.closed, report.entry.date
    return closed is not None and (on is None or on > closed.on or (on == closed.on and closed in report.not_before))


def _may_be_about(life: Life, report: Report) -> bool:
    """Whether a report of the same item that is not taken for one of an open defect may be one: for doubtful words."""
    entry = report.entry
    doubtful = State.DOUBTFUL in (entry.words_state, *(said.words_state for said in life.said.values()))
    apart = bool(life.sure_words) and _says_surely(entry) and not life.surely_about(entry)
    return doubtful and not apart and entry.item is not None and not _came_back(life, report)


def _note_maybe(mine: Life, others: Iterable[Life]) -> None:
    """Note reports that were taken for another defect's by doubtful words, now that sure ones tell of one they fit."""
    entry = mine.latest
    for other in others if _says_surely(entry) else ():
        if other.doubtful and other.sure_words and not other.surely_about(entry):
            for doubtful in other.doubtful:
                if same_complaint(doubtful, entry) and _likelier(doubtful, mine, other):
                    other.odd[doubtful.ref] = mine.maybe[doubtful.ref] = None


def _likelier(entry: DefectEntry, one: Life, other: Life) -> bool:
    """Whether a report's words are more like those that nobody doubts of the one defect than of the other."""
    nearest = [max(alike(said, entry) for said in life.sure_words) for life in (one, other)]
    return nearest[0] > nearest[1]


def _says_surely(entry: DefectEntry) -> bool:
    """Whether a report says what is wrong in words that nobody doubts."""
    return bool(entry.words) and entry.words_state is not State.DOUBTFUL and not refers(entry)


def _note_unclear(mine: Life, others: Iterable[Life]) -> None:
    for other in others:
        mine.unclear[other.name] = other.unclear[mine.name] = None


def note_lost(
    lives: Mapping[str, Sequence[Life]], reports: Iterable[Report], fits: Callable[[Report, str], bool]
) -> None:
    """Note with each defect the reports on sheets of doubtful unit or date that may be of it: about its item, in words
    that agree, of its unit or on a day on which it was open, whichever is sure.

    ``lives``: of all units, by unit. ``fits``: whether a unit's hour meter allows that a report's sheet is of it.
    """
    for report in reports:
        if report.unsure:
            for unit, mine in lives.items():
                if unit == report.entry.unit or ("unit" in report.unsure and fits(report, unit)):
                    for life in mine:
                        life.lost += [report] if _may_be_of(life, report) else []


def _may_be_of(life: Life, report: Report) -> bool:
    entry, first = report.entry, life.reports[0].entry.date
    in_time = "date" in report.unsure or entry.date is None or first is None
    if not in_time and entry.date is not None and first is not None:
        in_time = first - dt.timedelta(days=_LOST_BEFORE_DAYS) <= entry.date and not _came_back(life, report)
    # Items of two units' forms may share a name; one unit's form may word an item anew in a later version.
    same_form = life.latest.unit == entry.unit or life.latest.item_text == entry.item_text
    same_item = life.latest.item == entry.item and same_form and report not in life.reports
    return in_time and same_item and not life.reports[0].entry.may_be_dirt and life.is_about(entry)


# What rests on a doubt


def is_sure(report: Report, item: str | None) -> bool:
    """Whether a report is beyond doubt as one of that item: what is doubtful in its words alone is not asked."""
    entry = report.entry
    if report.head_doubt or entry.may_be_dirt:
        return False
    by = entry.item_state if item is not None and entry.tied_by != "words" else entry.words_state
    return entry.item == item and by not in (None, State.DOUBTFUL)


def pending(life: Life) -> Iterator[Report]:
    """Reports by which the workshop may have closed it on another day than what did so surely."""
    closed = life.surely_closed
    for report in life.reports:
        if life.closing_doubt(report) and (closed is None or report.entry.date != closed.on):
            yield report
    yield from (report for report in life.lost if report.entry.repair is not None)


def hangs_on(life: Life) -> bool:
    """Whether it may be one with another, come back from one, or have been closed otherwise."""
    return bool(life.unclear or life.again_unclear or life.odd) or next(pending(life), None) is not None
