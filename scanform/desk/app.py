"""The desk's application: one binder, its guards, and the routes of each of its pages."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from scanform.binder import open_binder
from scanform.desk import home, ink, settling, signing_in
from scanform.desk.access import Sessions
from scanform.desk.answers import ANSWERS, add_answers
from scanform.desk.guards import LOOPBACK, Guards
from scanform.desk.page_pictures import PagePictures

__all__ = ["create_app"]

_STATIC = Path(__file__).parent / "static"

# Each page of the desk is a module with a ``router``; add a new one here and its place in ``pages.NAVIGATION``.
_ROUTERS = (signing_in.router, home.router, settling.router, ink.router)


def create_app(
    binder_folder: Path, *, hosts: Sequence[str] = LOOPBACK, tls: bool = False, initials: str | None = None
) -> FastAPI:
    """The desk over a binder that exists; BinderError if it cannot be opened.

    ``hosts``: the names it answers to. ``tls``: it stands behind a proxy that speaks TLS. ``initials``: who opens it
    by the one-time link; asked for if None. A one-time link is ``app.state.sessions.new_link()``, opened at
    ``/open/LINK``.
    """
    binder = open_binder(binder_folder)

    @asynccontextmanager
    async def closing(_app: FastAPI) -> AsyncIterator[None]:
        yield
        binder.close()

    # No documentation pages: they would load scripts from elsewhere.
    app = FastAPI(title="scanform desk", lifespan=closing, openapi_url=None, responses=ANSWERS)
    app.state.binder = binder
    app.state.pictures = PagePictures(binder)
    app.state.sessions = Sessions()
    app.state.tls = tls
    app.state.initials = initials
    add_answers(app)
    for router in _ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=_STATIC), name="static")
    app.add_middleware(Guards, hosts=hosts, tls=tls)
    return app
