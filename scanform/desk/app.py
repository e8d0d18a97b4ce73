"""The desk's application: one binder, its guards, and the routes of each of its pages."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from scanform.binder import Binder, open_binder
from scanform.desk import (
    batches,
    defects,
    entering,
    evidence,
    forms,
    home,
    ink,
    lists,
    lists_api,
    settling,
    sheets,
    signing_in,
)
from scanform.desk.access import Role, Session, Sessions
from scanform.desk.answers import ANSWERS, add_answers
from scanform.desk.asked import Registers
from scanform.desk.guards import LOOPBACK, Guards
from scanform.desk.page_pictures import PagePictures
from scanform.desk.stack_reader import StackReader
from scanform.desk.tries import Tries

__all__ = ["create_app"]

_STATIC = Path(__file__).parent / "static"

# Each page of the desk is a module with a ``router``; add a new one here and its place in ``pages.NAVIGATION``.
_ROUTERS = (
    *(signing_in.router, home.router, settling.router, ink.router, sheets.router, entering.router, batches.router),
    *(defects.router, lists.router, evidence.router, forms.router, lists_api.router),
)


def create_app(
    binder_folder: Path,
    *,
    hosts: Sequence[str] = LOOPBACK,
    tls: bool = False,
    by_link: bool = True,
    initials: str | None = None,
) -> FastAPI:
    """The desk over a binder that exists; BinderError if it cannot be opened.

    ``hosts``: the names it answers to. ``tls``: it stands behind a proxy that speaks TLS. ``by_link``: whoever
    has a one-time link may come in, besides named people with a password. ``initials``: who opens it by the link; asked
    for if None. A one-time link is ``app.state.sessions.new_link()``, opened at
    ``/open/LINK``.
    """
    binder = open_binder(binder_folder)

    @asynccontextmanager
    async def closing(_app: FastAPI) -> AsyncIterator[None]:
        app.state.reader.begin()
        yield
        app.state.reader.end()
        binder.close()

    # No documentation pages: they would load scripts from elsewhere.
    app = FastAPI(title="scanform desk", lifespan=closing, openapi_url=None, responses=ANSWERS)
    app.state.binder = binder
    app.state.pictures = PagePictures(binder)
    app.state.reader = StackReader(binder)
    app.state.registers = Registers(binder)
    app.state.sessions = Sessions(partial(_still_allowed, binder), tls)
    app.state.tries = Tries()
    app.state.tls = tls
    app.state.by_link = by_link
    app.state.initials = initials
    add_answers(app)
    for router in _ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=_STATIC), name="static")
    app.add_middleware(Guards, hosts=hosts, tls=tls)
    return app


def _still_allowed(binder: Binder, session: Session) -> bool:
    """Whether the person of a session begun with a password has that password and role still."""
    if session.proof is None:
        return True
    found = binder.person_with(session.initials)
    return (
        found is not None
        and found.role is not None
        and Role[found.role.upper()] is session.role
        and found.password_hash == session.proof
    )
