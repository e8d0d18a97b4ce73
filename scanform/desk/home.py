"""The desk's front door: on to whatever the person can do."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import RedirectResponse

from scanform.desk.access import Reader
from scanform.desk.pages import NAVIGATION

router = APIRouter()


@router.get("/", response_class=RedirectResponse, status_code=303)
def front_door(session: Reader) -> RedirectResponse:
    """To the first page of those that the person may see."""
    first = next(path for path, _, role in NAVIGATION if session.may(role))
    return RedirectResponse(first, 303)
