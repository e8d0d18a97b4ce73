"""Reports of defects on the sheets that count, each with what closed it and what of it is doubtful."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import pandas as pd

from scanform.binder import Binder, split_ref
from scanform.binder.said_at import SheetThen
from scanform.report.closures import (
    Block,
    Closure,
    closed_by_command,
    closed_on_paper,
    not_surely_before,
    standing_closings,
    workshop_blocks,
)
from scanform.report.defects import DefectEntry, Labels, Said, defects_said, marked_again
from scanform.report.frames import rows
from scanform.report.scanned_again import named_now
from scanform.report.wording import doubtful_head, place_in_words
from scanform.settle.types import State

__all__ = ["Report", "defect_reports"]


class _Field(NamedTuple):
    id: str
    value: str | None
    state: State
    critical: bool
    original: str | None


class Report(NamedTuple):
    """One report; ``closed`` is None where nothing that is sure closed it, ``doubts`` are sentences.

    ``unsure``: what of the sheet's unit and date is doubtful, and ``head_doubt`` that in a sentence; ``closing_doubt``:
    that the workshop's block or a person closes it, if what is doubtful there is confirmed; "" where there is no such
    doubt. ``not_before``: closings of its own day, of any defect of its unit, that it was perhaps made after.
    """

    entry: DefectEntry
    closed: Closure | None
    doubts: tuple[str, ...]
    unsure: str
    head_doubt: str
    closing_doubt: str
    not_before: frozenset[Closure] = frozenset()


def defect_reports(binder: Binder, sheets: pd.DataFrame) -> list[Report]:
    """Every report on the sheets that count, by unit, day and sheet; sheets without a date come last.

    Of a day those come last that were perhaps made after something was closed on it.
    """
    said = _fields(binder, set(sheets["sheet"]))
    with_defects = list(rows(sheets[sheets["sheet"].isin(said)]))
    closings = standing_closings(binder)
    # A closing goes on with the sheet when that is scanned again: what was said of the report holds of the same ink.
    closings |= {now: closings[ref] for ref, now in named_now(binder, closings, set(sheets["sheet"])).items()}
    blocks = workshop_blocks(binder, {row.sheet: row.date for row in with_defects})
    places = binder.places([row.sheet for row in with_defects])
    where = {row.sheet: place_in_words(row.source, row.page, row.part, row.parts) for row in rows(places)}
    told = _Told(Labels(binder))
    by_sheet = {row.sheet: told.now(row, said[row.sheet]) for row in with_defects}
    closed_here = [(number, c.seq) for c in closings.values() if (number := split_ref(c.ref)[0]) in by_sheet]
    then = binder.said_at(closed_here)
    reports = []
    for row in with_defects:
        head = doubtful_head(row.unsure, row.sheet) if row.unsure else ""
        for entry in by_sheet[row.sheet]:
            paper = closed_on_paper(entry, blocks.get(row.sheet, Block()), where[row.sheet], bool(head))
            by_person = closed_by_command(entry, closings.get(entry.ref), then, told.then)
            closed = max(filter(None, (paper.closed, by_person.closed)), key=lambda c: c.on, default=None)
            unsure = f"the report on sheet {row.sheet} is doubtful" if entry.state is State.DOUBTFUL else ""
            doubts = tuple(doubt for doubt in (head, unsure, paper.why_not, by_person.why_not) if doubt)
            waits = "; ".join(v.why_not for v in (paper, by_person) if v.waits)
            reports.append(Report(entry, closed, doubts, row.unsure, head, "" if closed else waits))
    return sorted(_with_closings_of_the_day(binder, reports, told), key=_in_order)


def _in_order(report: Report) -> tuple[str, dt.date, bool, int]:
    entry = report.entry
    return entry.unit or "", entry.date or dt.date.max, bool(report.not_before), entry.sheet


class _Told:
    """What sheets report, now and as they stood once."""

    def __init__(self, labels: Labels) -> None:
        self._labels = labels

    def now(self, row: Any, said: Sequence[Said]) -> list[DefectEntry]:
        return self._entries(row.sheet, row.unit, row.date, row.template, row.version, said)

    def then(self, number: int, sheet: SheetThen) -> list[DefectEntry]:
        written = [field for field in sheet.fields if field.value is not None]
        return self._entries(number, sheet.unit, sheet.date, sheet.template, sheet.version, written)

    def _entries(
        self, number: int, unit: str | None, on: str | None, form: str | None, version: int | None, said: Sequence[Said]
    ) -> list[DefectEntry]:
        items = self._labels.of_template(form, version)
        date = dt.date.fromisoformat(on) if on else None
        vocabulary = self._labels.vocabulary_of_template(form, version)
        entries = defects_said(number, unit, date, said, items, vocabulary)
        return entries + marked_again(number, unit, date, said, items, entries, vocabulary)


def _with_closings_of_the_day(binder: Binder, reports: Sequence[Report], told: _Told) -> Iterator[Report]:
    """The reports, each with the closings of its unit and day that are not known to have come after it."""
    closed_on: dict[tuple[str | None, dt.date | None], set[Closure]] = defaultdict(set)
    for report in reports:
        if report.closed is not None:
            closed_on[report.entry.unit, report.closed.on].add(report.closed)
    of_day = [(r, closed_on.get((r.entry.unit, r.entry.date), set())) for r in reports]
    then = binder.said_at((r.entry.sheet, c.entry) for r, closed in of_day for c in closed if c.entry is not None)
    signed = [(r.entry.sheet, c.sheet) for r, closed in of_day for c in closed if c.entry is None]
    others = {number for here, there in signed if here != there for number in (here, there)}
    hours = _sure_hours(
        binder, {r.entry.sheet: r.entry.date for r in reports if r.entry.sheet in others and not r.unsure}
    )
    for report, closed in of_day:
        not_before = not_surely_before(report.entry, closed, hours, then, told.then)
        # What was said of the report itself came after it, whichever scan of its sheet it was said of.
        yield report._replace(not_before=frozenset(c for c in not_before if c != report.closed))


def _sure_hours(binder: Binder, dates: Mapping[int, dt.date | None]) -> dict[tuple[int, dt.date | None], float]:
    """What the meter showed on day's sheets, by sheet and date, as far as nobody doubts it."""
    said = binder.answer_columns("hours", sorted(dates))
    return {
        (row.sheet, dates[row.sheet]): float(row.value)
        for row in rows(said)
        if row.value and row.state != State.DOUBTFUL
    }


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
