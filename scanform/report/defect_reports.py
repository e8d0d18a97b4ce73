"""Reports of defects on the sheets that count, each with what closed it and what of it is doubtful."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Container, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from scanform.binder import Binder, Closing
from scanform.report.defects import DefectEntry, Labels, defects_said
from scanform.report.frames import rows
from scanform.report.wording import doubtful_head, place_in_words
from scanform.settle.types import State

__all__ = ["Closure", "Report", "defect_reports"]


@dataclass(frozen=True)
class Closure:
    """What closed a defect. ``repair``: repaired or not-needed. ``by``: who, as far as it is written down in letters.

    ``where``: the paper or screen, with page. ``initials``: of whoever entered it, None if it was read from paper.
    ``ref``: the report that it was said of.
    """

    repair: str
    on: dt.date
    by: str
    where: str
    initials: str | None
    ref: str


class _Field(NamedTuple):
    id: str
    value: str | None
    state: State
    critical: bool
    original: str | None


class Report(NamedTuple):
    """One report; ``closed`` is None where nothing that is sure closed it, ``doubts`` are sentences.

    ``unsure``: what of the sheet's unit and date is doubtful, and ``head_doubt`` that in a sentence; ``closing_doubt``:
    that the workshop's block closes it, if what is doubtful there is confirmed; "" where there is no such doubt.
    """

    entry: DefectEntry
    closed: Closure | None
    doubts: tuple[str, ...]
    unsure: str
    head_doubt: str
    closing_doubt: str


def defect_reports(binder: Binder, sheets: pd.DataFrame) -> list[Report]:
    """Every report on the sheets that count, by unit, day and sheet; sheets without a date come last."""
    said = _fields(binder, set(sheets["sheet"]))
    with_defects = list(rows(sheets[sheets["sheet"].isin(said)]))
    closings = _closings(binder)
    signed = _workshop(binder, said)
    places = binder.places([row.sheet for row in with_defects])
    where = {row.sheet: place_in_words(row.source, row.page, row.part, row.parts) for row in rows(places)}
    labels, reports = Labels(binder), []
    for row in with_defects:
        items = labels.of_template(row.template, row.version)
        date = dt.date.fromisoformat(row.date) if row.date else None
        vocabulary = labels.vocabulary_of_template(row.template, row.version)
        entries = defects_said(row.sheet, row.unit, date, said[row.sheet], items, vocabulary)
        head = doubtful_head(row.unsure, row.sheet) if row.unsure else ""
        for entry in entries:
            paper, not_closed, waits = _closed_on_paper(entry, signed.get(row.sheet, {}), where[row.sheet], bool(head))
            closed = max(filter(None, (paper, closings.get(entry.ref))), key=lambda c: c.on, default=None)
            unsure = f"the report on sheet {row.sheet} is doubtful" if entry.state is State.DOUBTFUL else ""
            doubts = tuple(doubt for doubt in (head, unsure, not_closed) if doubt)
            reports.append(Report(entry, closed, doubts, row.unsure, head, not_closed if waits else ""))
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
    return Closure(closing.repair, closing.closed_on, closing.closed_by, closing.paper, closing.initials, closing.ref)


def _closed_on_paper(
    entry: DefectEntry, block: Mapping[str, tuple[str, bool]], where: str, head_unsure: bool
) -> tuple[Closure | None, str, bool]:
    """What the workshop's block says of a line; why it closes nothing if it does not, and whether it may yet.

    ``head_unsure``: the sheet's unit or date is doubtful.
    """
    day, day_unsure = block.get("workshop.date", (None, False))
    signature, signature_unsure = block.get("workshop.signature", ("false", False))
    if entry.repair is None:
        if signature == "true" and signature_unsure:
            return None, f"the workshop signed sheet {entry.sheet}, and it is not clear what it closed there", True
        return None, "", False
    said = "repaired" if entry.repair == "repaired" else "repair not needed"
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
        return None, f"marked '{said}' on sheet {entry.sheet}, but {' and '.join(unsure)} must be confirmed first", True
    if signature != "true":
        return None, f"marked '{said}' on sheet {entry.sheet} without a signature, which closes nothing", False
    on = dt.date.fromisoformat(day) if day else entry.date
    if on is None or (entry.date is not None and on < entry.date):
        why = f"marked '{said}' on sheet {entry.sheet} with a date before the report's, which closes nothing"
        return None, why, head_unsure
    paper = f"workshop's block of sheet {entry.sheet} ({where})"
    return Closure(entry.repair, on, "signature on the sheet", paper, None, entry.ref), "", False
