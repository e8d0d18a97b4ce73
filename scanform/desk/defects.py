"""Defects on the desk: what is broken, with its ink and its life, and closing it with who, when and on what paper."""

from __future__ import annotations

import datetime as dt
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Form, HTTPException, Path, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from scanform.binder import Binder, ClosingWish
from scanform.desk.access import Clerk, Reader, Role
from scanform.desk.asked import UnitTyped, day_typed, register_of, units_on_record
from scanform.desk.pages import page
from scanform.errors import UsageError
from scanform.report import Defect, close_by_name, known_unit, still_open, unread_pages, unread_sentence

__all__ = ["router"]

router = APIRouter()

_A_PAGE = 40
_MOST_PAGES = 1_000_000
Ref = Annotated[
    str,
    Path(
        max_length=80,
        pattern=r"^[1-9][0-9]{0,8}\.(item|defect)\.[a-z0-9.\-]+$",
        description="A report of the defect: the sheet's number and the field's name.",
    ),
]
_Said = Annotated[str, Form(max_length=200)]


@router.get("/defects", response_class=HTMLResponse)
def defects(
    request: Request,
    session: Reader,
    unit: UnitTyped = "",
    closed: Annotated[bool, Query(description="Closed ones too.")] = False,
    at: Annotated[int, Query(ge=1, le=_MOST_PAGES)] = 1,
) -> HTMLResponse:
    """The register, dangerous ones first."""
    binder: Binder = request.app.state.binder
    said, chosen = "", None
    try:
        chosen = known_unit(binder, unit) if unit.strip() else None
    except UsageError as problem:
        said = str(problem)
    register = [] if said else [d for d in register_of(request) if chosen in (None, d.unit)]
    shown = register if closed else still_open(register)
    pages = max(1, -(-len(shown) // _A_PAGE))
    at = min(at, pages)

    def link(turn: int) -> str:
        given = {"unit": chosen or "", "closed": "true" if closed else "", "at": turn}
        return "/defects?" + urlencode({name: value for name, value in given.items() if value})

    return page(
        request,
        "defects.html",
        session,
        422 if said else 200,
        said=said,
        unread=unread_sentence(unread_pages(binder)),
        unit=chosen or unit,
        units=units_on_record(binder),
        closed=closed,
        shown=shown[(at - 1) * _A_PAGE : at * _A_PAGE],
        total=len(shown),
        open_count=len(still_open(register)),
        in_use=sum(bool(d.used_on) for d in still_open(register)),
        waiting=sum(not d.sure for d in still_open(register)),
        at=at,
        pages=pages,
        earlier=link(at - 1) if at > 1 else "",
        later=link(at + 1) if at < pages else "",
    )


@router.get("/defects/{ref}", response_class=HTMLResponse)
def one_defect(request: Request, ref: Ref, session: Reader) -> HTMLResponse:
    """A defect's life, report by report with its ink, and what closed it."""
    register = register_of(request)
    defect = _found(register, ref)
    family = [d for d in register if d.name == defect.recurrence_of or d.recurrence_of == defect.name]
    return page(
        request,
        "defect.html",
        session,
        defect=defect,
        family=family,
        may_close=session.may(Role.CLERK),
        today=dt.date.today().isoformat(),
    )


@router.post("/defects/{ref}/closing", response_class=RedirectResponse, status_code=303)
def close(
    request: Request,
    ref: Ref,
    session: Clerk,
    repair: _Said = "",
    closed_on: _Said = "",
    closed_by: _Said = "",
    paper: _Said = "",
) -> RedirectResponse:
    """Close a defect, as a competent person has said on some paper."""
    binder: Binder = request.app.state.binder
    defect = _found(register_of(request), ref)
    on = day_typed("closed on", closed_on)
    if on is None:
        raise UsageError("A closing says when; give the day. Nothing was changed.")
    if defect.closed is not None:
        raise UsageError(
            f"{defect.name} was closed on {defect.closed.on} ({defect.closed.where}); nothing was changed."
        )
    close_by_name(binder, [ClosingWish(defect.name, repair, on, closed_by.strip(), paper.strip())], session.initials)
    return RedirectResponse(f"/defects/{defect.name}", 303)


@router.post("/defects/{ref}/reopening", response_class=RedirectResponse, status_code=303)
def reopen(request: Request, ref: Ref, session: Clerk) -> RedirectResponse:
    """Take back a closing that was entered at the desk or by a command."""
    binder: Binder = request.app.state.binder
    defect = _found(register_of(request), ref)
    standing = {closing.ref for closing in binder.closings() if closing.undone_by is None}
    closed = next((entry.ref for entry in defect.reports if entry.ref in standing), None)
    if closed is None:
        raise UsageError(f"Nobody has closed {defect.name} at the desk or by a command; nothing was changed.")
    binder.withdraw_closing(closed, session.initials)
    return RedirectResponse(f"/defects/{defect.name}", 303)


def _found(register: list[Defect], ref: str) -> Defect:
    found = next((d for d in register if any(entry.ref == ref for entry in d.reports)), None)
    if found is None:
        raise HTTPException(404, f"No defect has the name {ref}; take it from the list.")
    return found
