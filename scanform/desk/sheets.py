"""Sheets: finding them, one sheet with its picture and its fields side by side, correcting a value, its history."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse
from pydantic import BaseModel, Field

from scanform.batch import repeated_sheet
from scanform.binder import MAY_BE_ENTERED, NOT_READ, Binder, RecordedPage, SheetQuery, SheetState, checked_value
from scanform.binder.typed import FILED_UNDER, unlikely
from scanform.desk.access import Clerk, Reader, Role
from scanform.desk.asked import day_typed
from scanform.desk.inbox import without_folders
from scanform.desk.ink import Number, page_or_404
from scanform.desk.pages import page
from scanform.desk.record_words import (
    OUTCOME_WORDS,
    SHEET_STATE_WORDS,
    event_in_words,
    event_without_values,
    file_name,
)
from scanform.desk.sheet_view import FieldLine, Filed, SheetView, field_line, filed, heading, sheet_view
from scanform.desk.wording import check_note, value_words
from scanform.errors import FieldTaken, UsageError
from scanform.settle import Outcome

__all__ = ["router"]

router = APIRouter()

_A_PAGE = 50
_UNREAD = "unread"  # beside the outcomes: whatever a person has to look at because no machine could
_MOST_PAGES = 1_000_000  # further on lies nothing that anybody has on record
_Typed = Annotated[str, Query(max_length=40)]
FieldId = Annotated[str, Path(max_length=60, pattern=r"^[a-z0-9][a-z0-9.\-]*$")]


@dataclass(frozen=True)
class _Wanted:
    """What somebody looks for, as typed."""

    unit: str
    first: str
    last: str
    template: str
    state: str
    outcome: str
    serial: str
    batch: str

    def query(self) -> SheetQuery:
        """The same as the binder takes it; UsageError in a sentence if it cannot be."""
        return SheetQuery(
            unit=self.unit.strip() or None,
            first=day_typed("from", self.first),
            last=day_typed("to", self.last),
            template=self.template or None,
            state=SheetState(self.state) if self.state in set(SheetState) else None,
            outcome=Outcome(self.outcome) if self.outcome in set(Outcome) else None,
            unread=self.outcome == _UNREAD,
            serial=self.serial.strip() or None,
            batch=int(self.batch) if self.batch.isascii() and self.batch.isdecimal() else None,
        )

    def link(self, at: int) -> str:
        """The address of a page of what was found."""
        said = {name: value for name, value in vars(self).items() if value}
        return "/sheets?" + urlencode(said | {"at": at})


@router.get("/sheets", response_class=HTMLResponse)
def find_sheets(
    request: Request,
    session: Reader,
    unit: _Typed = "",
    first: _Typed = "",
    last: _Typed = "",
    template: _Typed = "",
    state: _Typed = "",
    outcome: _Typed = "read",
    serial: _Typed = "",
    batch: Annotated[str, Query(max_length=9)] = "",
    at: Annotated[int, Query(ge=1, le=_MOST_PAGES)] = 1,
) -> HTMLResponse:
    """Sheets by what they are filed under and how far they are settled, the newest first."""
    binder: Binder = request.app.state.binder
    wanted = _Wanted(unit, first, last, template, state, outcome, serial, batch)
    said, found = "", None
    try:
        found = binder.find_sheets(wanted.query(), (at - 1) * _A_PAGE, _A_PAGE)
    except UsageError as problem:
        said = str(problem)
    pages = -(-found.total // _A_PAGE) if found else 0
    return page(
        request,
        "sheets.html",
        session,
        422 if said else 200,
        wanted=wanted,
        filed=binder.filings(),
        states=SHEET_STATE_WORDS,
        outcomes=OUTCOME_WORDS,
        found=found,
        said=said,
        at=at,
        pages=pages,
        earlier=wanted.link(at - 1) if 1 < at <= pages + 1 else "",
        later=wanted.link(at + 1) if at < pages else "",
        anything=bool(found and (found.total or binder.find_sheets(SheetQuery(), 0, 1).total)),
        may_feed=session.may(Role.CLERK),
    )


@router.get("/sheets/{number}", response_class=HTMLResponse)
def one_sheet(request: Request, number: Number, session: Reader) -> HTMLResponse:
    """A sheet's picture with every field outlined, and what they say beside it."""
    recorded = page_or_404(request, number)
    binder: Binder = request.app.state.binder
    return page(
        request,
        "sheet.html",
        session,
        sheet=recorded,
        view=sheet_view(binder, recorded),
        twin=_twin(binder, recorded),
        outcome=OUTCOME_WORDS[recorded.record.outcome],
        reason=without_folders(binder.folder, recorded.record.reason or ""),
        may_correct=session.may(Role.CLERK),
        is_unread=recorded.record.outcome in NOT_READ,
        may_enter=session.may(Role.CLERK) and recorded.record.outcome in MAY_BE_ENTERED and not recorded.void,
    )


@dataclass(frozen=True)
class _Twin:
    """The sheet that a page was taken to repeat, for looking at both side by side."""

    number: int
    heading: str
    place: str
    view: SheetView


def _twin(binder: Binder, recorded: RecordedPage) -> _Twin | None:
    head = repeated_sheet(binder, recorded)
    other = binder.page_numbered(head.number) if head is not None else None
    if other is None:
        return None
    place = f"page {other.record.page_number} of {file_name(other.record.source)}"
    return _Twin(other.number, heading(binder, other), place, sheet_view(binder, other))


class Voids(BaseModel):
    """Why nothing on a sheet counts: what is wrong with the paper, in a few words."""

    why: Annotated[str, Field(max_length=200)]


class SheetNow(BaseModel):
    """A sheet by its number, and whether it is void."""

    number: int
    void: bool


@router.post("/sheets/{number}/void")
def void(request: Request, number: Number, said: Voids, session: Clerk) -> SheetNow:
    """Let nothing on a sheet count any more."""
    page_or_404(request, number)
    voided = request.app.state.binder.void_sheet(number, session.initials, said.why)
    return SheetNow(number=number, void=voided.void)


@router.delete("/sheets/{number}/void")
def count_again(request: Request, number: Number, session: Clerk) -> SheetNow:
    """Let a void sheet count again."""
    page_or_404(request, number)
    back = request.app.state.binder.take_back_void(number, session.initials)
    return SheetNow(number=number, void=back.void)


class Correction(BaseModel):
    """What a person says a field is: ``value`` as typed, null for nothing written.

    ``seen``: as the field's line gave it, so that nobody overrules what they never saw. ``sure``: the person was asked
    about this value and stays with it.
    """

    value: Annotated[str, Field(max_length=1000)] | None
    seen: Annotated[int, Field(ge=0, le=2**62)]
    sure: bool = False


class Corrected(BaseModel):
    """The field as it is now, and what the sheet is filed under; or nothing was changed, and ``asks`` whether an
    unlikely value is meant. ``note``: what an answered spot check came to.
    """

    now: FieldLine | None
    filed: Filed | None = None
    asks: str | None = None
    note: str = ""


class TakenBackHere(BaseModel):
    """What was taken back, in a sentence, and the field as it is now."""

    said: str
    now: FieldLine
    filed: Filed


class SomebodyWasFirst(BaseModel):
    """Why nothing was changed, in a sentence, and the field as somebody else has left it."""

    said: str
    now: FieldLine
    filed: Filed


class Past(BaseModel):
    """One thing that happened to a field. ``at``: ISO 8601, UTC. ``stands``: nobody has taken it back."""

    at: dt.datetime
    who: str
    what: str
    stands: bool


@router.post(
    "/sheets/{number}/fields/{field_id}", response_model=Corrected, responses={409: {"model": SomebodyWasFirst}}
)
def correct(
    request: Request, number: Number, field_id: FieldId, said: Correction, session: Clerk
) -> Corrected | JSONResponse:
    """Set a field to what the paper says; the value before stays in its history. What is unlikely is asked once."""
    binder: Binder = request.app.state.binder
    recorded = page_or_404(request, number)
    field = recorded.record.field(field_id)
    if field is None:
        raise UsageError(f"Sheet {number} has no field '{field_id}'; nothing was changed.")
    items = binder.items(recorded.record.template or "", recorded.record.version or 0)
    value = checked_value(field, said.value, [item.number for item in items])
    is_check = field_id in binder.checks_on(number)
    if is_check and field_id in FILED_UNDER:
        # Whoever has found this sheet has seen what it is filed under, and cannot read it as if they had not.
        raise UsageError("This field is a spot check and waits under Settle, where its reading is not shown.")
    # What a spot check asks about must not depend on what was read.
    in_question = is_check or value != field.value
    if not said.sure and in_question and (asks := unlikely(binder, recorded, field_id, value)):
        return Corrected(now=None, asks=asks)
    try:
        settled = binder.confirm(f"{number}.{field_id}", value, session.initials, said.seen)
    except FieldTaken as problem:
        after = page_or_404(request, number)
        now = after.record.field(field_id) or field
        taken = SomebodyWasFirst(said=str(problem), now=field_line(binder, after, now), filed=filed(binder, after))
        return JSONResponse(taken.model_dump(), 409)
    after = page_or_404(request, number)
    note = check_note(field, settled.value) if is_check else ""
    return Corrected(now=field_line(binder, after, settled), filed=filed(binder, after), note=note)


@router.post("/sheets/{number}/undo")
def undo(request: Request, number: Number, session: Clerk) -> TakenBackHere:
    """Take back this person's last decision about this sheet, wherever it was made; once more for the one before."""
    binder: Binder = request.app.state.binder
    page_or_404(request, number)
    taken = binder.undo_last_on(number, session.initials)
    after = page_or_404(request, number)
    field = after.record.field(taken.ref.partition(".")[2])
    assert field is not None  # it was decided about just now
    now = field_line(binder, after, field)
    said = f"Taken back: {now.title} is no longer {value_words(field.kind, taken.new_value)}."
    return TakenBackHere(said=said, now=now, filed=filed(binder, after))


@router.get("/sheets/{number}/fields/{field_id}/history")
def history(request: Request, number: Number, field_id: FieldId, _session: Reader) -> list[Past]:
    """What happened to a field, the newest first."""
    binder: Binder = request.app.state.binder
    page_or_404(request, number)
    in_words = event_without_values if field_id in binder.checks_on(number) else event_in_words
    return [
        Past(at=event.at, who=event.initials or "the machine", what=in_words(event), stands=event.undone_by is None)
        for event in reversed(binder.field_history(number, field_id))
    ]
