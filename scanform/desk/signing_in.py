"""Coming to the desk and leaving it: the one-time link, and signing out."""

from __future__ import annotations

import logging
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from scanform.binder import checked_initials
from scanform.desk.access import Reader, Role, Sessions
from scanform.desk.pages import page
from scanform.errors import UsageError

__all__ = ["enter", "router"]

router = APIRouter()
_log = logging.getLogger(__name__)

_USED_UP = (
    "This link has been used, or belongs to a desk that was closed. Take the newest one from the window in which "
    "scanform desk runs."
)


@router.get("/open/{link}", response_class=HTMLResponse)
def open_by_link(request: Request, link: str) -> Response:
    """Come in by the one-time link; asks for initials if the desk was not told them."""
    sessions: Sessions = request.app.state.sessions
    if request.app.state.initials is not None:
        return _come_in(request, link, request.app.state.initials)
    if not sessions.link_is_good(link):
        return page(request, "refused.html", status=403, said=_USED_UP)
    return page(request, "initials.html", link=link, said="")


@router.post("/open/{link}", response_class=HTMLResponse)
def open_with_initials(request: Request, link: str, initials: Annotated[str, Form(max_length=20)] = "") -> Response:
    """The same with the initials that will stand beside each decision."""
    try:
        who = checked_initials(initials)
    except UsageError as problem:
        return page(request, "initials.html", status=422, link=link, said=str(problem))
    return _come_in(request, link, who)


@router.get("/sign-in", response_class=HTMLResponse)
def sign_in(request: Request) -> Response:
    """What to do for whoever is not signed in."""
    return page(request, "sign_in.html")


@router.post("/sign-out", response_class=RedirectResponse, status_code=303)
def sign_out(request: Request, _session: Reader) -> Response:
    """Leave the desk."""
    sessions: Sessions = request.app.state.sessions
    sessions.end(request.cookies.get(sessions.cookie))
    answer = RedirectResponse("/sign-in", 303)
    answer.delete_cookie(sessions.cookie)
    return answer


def enter(request: Request, initials: str, role: Role, to: str = "/") -> Response:
    """Begin a session and go to a page of the desk."""
    sessions: Sessions = request.app.state.sessions
    answer = RedirectResponse(to, 303)
    answer.set_cookie(
        sessions.cookie, sessions.begin(initials, role), httponly=True, samesite="strict", secure=request.app.state.tls
    )
    return answer


def _come_in(request: Request, link: str, initials: str) -> Response:
    sessions: Sessions = request.app.state.sessions
    if not sessions.use_link(link):
        return page(request, "refused.html", status=403, said=_USED_UP)
    # Whoever starts the desk holds the binder's folder, and so may do everything.
    return enter(request, initials, Role.COORDINATOR)
