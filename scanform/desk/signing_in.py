"""Coming to the desk and leaving it: the one-time link, named people with passwords, and signing out."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel

from scanform.binder import Binder, checked_initials, password_fits
from scanform.desk.access import LONGEST_BACK, Reader, Role, Sessions
from scanform.desk.pages import page
from scanform.desk.tries import Tries
from scanform.errors import UsageError

__all__ = ["router"]

router = APIRouter()

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
def sign_in_page(request: Request, back: Annotated[str, Query(max_length=LONGEST_BACK)] = "/") -> Response:
    """Where named people sign in, and what to do for everybody else."""
    return _sign_in_page(request, back)


@router.post("/sign-in", response_class=HTMLResponse)
def sign_in(
    request: Request,
    initials: Annotated[str, Form(max_length=20)] = "",
    password: Annotated[str, Form(max_length=1000)] = "",
    back: Annotated[str, Form(max_length=LONGEST_BACK)] = "/",
) -> Response:
    """Come in by initials and password."""
    binder: Binder = request.app.state.binder
    tries: Tries = request.app.state.tries
    who, address = initials.strip().upper(), request.client.host if request.client else ""
    wait = tries.wait_s(who, address)
    if wait:
        said = f"Too many tries have failed. Wait {wait} seconds, then try again."
        return _sign_in_page(request, back, 429, said, {"Retry-After": str(wait)})
    found = binder.person_with(who)
    if not password_fits(found, password) or found is None or found.role is None:
        tries.failed(who, address)
        return _sign_in_page(request, back, 403, "Initials and password do not belong together. Type both again.")
    tries.succeeded(who, address)
    return _enter(request, found.initials, Role[found.role.upper()], found.password_hash, _own_path(back))


def _sign_in_page(
    request: Request, back: str, status: int = 200, said: str = "", headers: dict[str, str] | None = None
) -> Response:
    named = any(person.role for person in request.app.state.binder.people())
    by_link = request.app.state.by_link
    answer = page(request, "sign_in.html", status=status, said=said, back=_own_path(back), named=named, by_link=by_link)
    answer.headers.update(headers or {})
    return answer


def _own_path(path: str) -> str:
    """A path of this desk; the front door for anything that a browser might take for another site."""
    return path if re.fullmatch(r"/(?![/\\])[\w\-./?=&%+~,:]*", path, re.ASCII) else "/"


class SessionNow(BaseModel):
    """Who is signed in at this browser, and what goes with their changes."""

    initials: str
    token: str


@router.get("/session")
def session_now(session: Reader) -> SessionNow:
    """For a page that was loaded before its person signed in again: it goes on if they are the same."""
    return SessionNow(initials=session.initials, token=session.token)


@router.post("/sign-out", response_class=RedirectResponse, status_code=303)
def sign_out(request: Request, _session: Reader) -> Response:
    """Leave the desk."""
    sessions: Sessions = request.app.state.sessions
    sessions.end(request.cookies.get(sessions.cookie))
    answer = RedirectResponse("/sign-in", 303)
    answer.delete_cookie(sessions.cookie, httponly=True, samesite="strict", secure=request.app.state.tls)
    return answer


def _enter(request: Request, initials: str, role: Role, proof: str | None = None, to: str = "/") -> Response:
    sessions: Sessions = request.app.state.sessions
    sessions.end(request.cookies.get(sessions.cookie))
    answer = RedirectResponse(to, 303)
    key, tls = sessions.begin(initials, role, proof), request.app.state.tls
    answer.set_cookie(sessions.cookie, key, httponly=True, samesite="strict", secure=tls)
    return answer


def _come_in(request: Request, link: str, initials: str) -> Response:
    sessions: Sessions = request.app.state.sessions
    if not sessions.use_link(link):
        return page(request, "refused.html", status=403, said=_USED_UP)
    # Whoever starts the desk holds the binder's folder, and so may do everything.
    return _enter(request, initials, Role.COORDINATOR)
