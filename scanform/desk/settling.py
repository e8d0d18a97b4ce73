"""Settling: what waits, and one doubt after the other with its ink, by keyboard alone if one likes."""

from __future__ import annotations

import datetime as dt
import secrets
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from scanform.binder import Binder, RecordedPage, SheetQuery, checked_value, split_ref
from scanform.binder.typed import unlikely
from scanform.desk.access import Clerk, Session
from scanform.desk.doubt_view import DoubtView, doubt_view
from scanform.desk.pages import page
from scanform.desk.wording import check_note, field_title, sort_title, value_words
from scanform.errors import UsageError
from scanform.report import unread_pages, unread_sentence
from scanform.settle import SettledField, State

__all__ = ["router"]

router = APIRouter()

CROSSED_OUT = "crossed out as a whole"
AT_ONCE = 8  # doubts before one person: the one on the screen, and those whose ink is on its way

Seat = Annotated[str, Field(pattern=r"^[0-9a-f]{8}$", description="The browser window, as its page was given it.")]
Ref = Annotated[str, Field(max_length=200, description="A field, such as 12.hours.")]
Sort = Annotated[str, Field(max_length=200, description="Only fields of this sort.")]


class AtSeat(BaseModel):
    """Who asks: one window of a person."""

    seat: Seat


class WantsDoubts(AtSeat):
    """Asks for the next doubts. ``put_off``: those that were put off come again as well. ``instead_of``: the seat of
    the page that this one takes the place of, which may not have handed its doubts back yet.
    """

    sort: Sort | None = None
    put_off: bool = False
    instead_of: Seat | None = None


class Lent(BaseModel):
    """The next doubts; ``left`` wait in all, ``with_others`` of them on loan elsewhere, ``put_off`` by this person."""

    doubts: list[DoubtView]
    left: int
    with_others: int
    put_off: int


class Decides(AtSeat):
    """What a person says about a field. ``how``: the machine's reading is right, or ``value`` is what the paper says.

    ``seen``: as the doubt gave it. ``sure``: the person was asked about this value and stays with it.
    """

    ref: Ref
    seen: Annotated[int, Field(ge=0, le=2**62)]
    how: Literal["as-read", "said"]
    value: Annotated[str, Field(max_length=1000)] | bool | None = None
    sure: bool = False


class Decided(BaseModel):
    """``saved`` with what it is now in ``words``; or not saved, and ``asks`` whether an unlikely value is meant."""

    saved: bool
    words: str = ""
    asks: str | None = None
    left: int
    note: str | None = None


class Voided(BaseModel):
    """What became of the sheet; ``left`` wait in all."""

    said: str
    left: int


class TakenBack(BaseModel):
    """What was taken back, and the doubt as it waits again (None if somebody else has it already)."""

    said: str
    doubt: DoubtView | None
    left: int


class Names(AtSeat):
    """Names a field on loan."""

    ref: Ref


@router.get("/settle", response_class=HTMLResponse)
def what_waits(request: Request, session: Clerk) -> HTMLResponse:
    """What waits for a person, sort by sort."""
    binder: Binder = request.app.state.binder
    sorts = binder.waiting_sorts()
    doubts = [sort for sort in sorts if not sort.spot_check]
    return page(
        request,
        "waiting.html",
        session,
        critical=[(sort.sort, sort_title(sort.sort), sort.fields) for sort in doubts if sort.critical],
        rest=[(sort.sort, sort_title(sort.sort), sort.fields) for sort in doubts if not sort.critical],
        checks=sum(sort.fields for sort in sorts if sort.spot_check),
        doubts=sum(sort.fields for sort in doubts),
        put_off=len(session.later),
        unread=unread_sentence(unread_pages(binder)),
        anything=bool(sorts or binder.find_sheets(SheetQuery(), 0, 1).total),
    )


@router.get("/settle/doubts", response_class=HTMLResponse)
def settling_page(
    request: Request, session: Clerk, sort: Annotated[str | None, Query(max_length=200)] = None
) -> HTMLResponse:
    """The page on which doubts are settled, with the first of them in it."""
    binder: Binder = request.app.state.binder
    seat = secrets.token_hex(4)
    first = _lent(binder, session, seat, sort)
    data = {
        "seat": seat,
        "sort": sort,
        "today": dt.date.today().isoformat(),
        "units": [unit.unit for unit in binder.units()],
        "unread": unread_sentence(unread_pages(binder)),
        "first": first.model_dump(),
    }
    return page(request, "settle.html", session, data=data, sort=sort)


@router.post("/settle/lend")
def lend(request: Request, session: Clerk, wants: WantsDoubts) -> Lent:
    """The next doubts for this window; what it has on loan is lent for longer."""
    binder: Binder = request.app.state.binder
    if wants.put_off:
        session.later.clear()
    if wants.instead_of is not None:  # its own as well: those before them in line come first now
        for seat in (wants.instead_of, wants.seat):
            binder.hand_back(_holder(session, seat))
    return _lent(binder, session, wants.seat, wants.sort)


@router.post("/settle/decide")
def decide(request: Request, session: Clerk, said: Decides) -> Decided:
    """Confirm or correct one field. An unlikely value is asked about once before it is kept."""
    binder: Binder = request.app.state.binder
    recorded, field = _field(binder, said.ref)
    lent = binder.doubt_at(said.ref)
    is_check = lent is not None and lent.spot_check
    if said.how == "as-read":
        if is_check:
            raise UsageError("This is a spot check: say what the paper says.")
        value = field.value
    else:
        numbers = [item.number for item in binder.items(recorded.record.template or "", recorded.record.version or 0)]
        value = checked_value(field, said.value, numbers)
        asks = None if said.sure else unlikely(binder, recorded, field.id, value)
        if asks is not None:
            return Decided(saved=False, asks=asks, left=binder.count_waiting())
    settled = binder.confirm(said.ref, value, session.initials, seen=said.seen)
    session.later.discard(said.ref)
    note = check_note(field, settled.value) if is_check else None
    words = value_words(field.kind, settled.value)
    return Decided(saved=True, words=words, left=binder.count_waiting(), note=note)


@router.post("/settle/void")
def void(request: Request, session: Clerk, names: Names) -> Voided:
    """Let nothing on a field's sheet count any more: the paper as a whole is crossed out."""
    binder: Binder = request.app.state.binder
    number, _ = split_ref(names.ref)
    binder.void_sheet(number, session.initials, CROSSED_OUT)
    said = f"Sheet {number} is void; nothing on it counts. Its paper stays on record."
    return Voided(said=said, left=binder.count_waiting())


@router.post("/settle/undo")
def undo(request: Request, session: Clerk, at: AtSeat) -> TakenBack:
    """Take back what this person has said last and still stands, and show its doubt again."""
    binder: Binder = request.app.state.binder
    voided = binder.void_last_said(session.initials)
    if voided is not None:
        return _counts_again(binder, session, at.seat, voided)
    taken = binder.undo_last(session.initials)
    session.later.discard(taken.ref)
    again = binder.lend_this(_holder(session, at.seat), taken.ref)
    _, field = _field(binder, taken.ref)
    was = value_words(field.kind, taken.new_value)
    said = f"Taken back: {field_title(field.id)} of sheet {taken.ref.partition('.')[0]} is no longer {was}."
    if again is None:
        said += " It is as it was before, and does not wait for anybody."
    return TakenBack(
        said=said, doubt=doubt_view(binder, again) if again is not None else None, left=binder.count_waiting()
    )


def _counts_again(binder: Binder, session: Session, seat: str, number: int) -> TakenBack:
    back = binder.take_back_void(number, session.initials)
    waiting = next((field.id for field in back.record.fields if field.state is State.DOUBTFUL), None)
    again = binder.lend_this(_holder(session, seat), f"{number}.{waiting}") if waiting else None
    return TakenBack(
        said=f"Taken back: sheet {number} counts again.",
        doubt=doubt_view(binder, again) if again is not None else None,
        left=binder.count_waiting(),
    )


@router.post("/settle/later", status_code=204)
def put_off(request: Request, session: Clerk, names: Names) -> None:
    """Put a doubt off: it comes back to this person at the end, and others may have it meanwhile."""
    binder: Binder = request.app.state.binder
    _field(binder, names.ref)
    session.later.add(names.ref)
    binder.hand_back(_holder(session, names.seat), [names.ref])


@router.post("/settle/hand-back", status_code=204)
def hand_back(request: Request, session: Clerk, at: AtSeat) -> None:
    """Let others have what this window holds; sent when it closes."""
    request.app.state.binder.hand_back(_holder(session, at.seat))


def _holder(session: Session, seat: str) -> str:
    return f"{session.desk_id}.{seat}"


def _lent(binder: Binder, session: Session, seat: str, sort: str | None) -> Lent:
    holder = _holder(session, seat)
    found = binder.lend(holder, AT_ONCE, sort, session.later)
    if not found:  # somebody may have settled meanwhile what this person put off
        session.later = {ref for ref in session.later if binder.doubt_at(ref) is not None}
    return Lent(
        doubts=[doubt_view(binder, lent) for lent in found],
        left=binder.count_waiting(),
        with_others=binder.count_on_loan(holder),
        put_off=len(session.later),
    )


def _field(binder: Binder, ref: str) -> tuple[RecordedPage, SettledField]:
    """A field and its page; UsageError if there is none of that name."""
    number, field_id = split_ref(ref)
    recorded = binder.page_numbered(number)
    field = recorded.record.field(field_id) if recorded is not None else None
    if recorded is None or field is None:
        raise UsageError(f"There is no field '{ref}' in this binder.")
    return recorded, field
