"""Settling: one doubt after the other."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from scanform.desk.access import Clerk
from scanform.desk.pages import page

__all__ = ["router"]

router = APIRouter()


@router.get("/settle", response_class=HTMLResponse)
def settle_page(request: Request, session: Clerk) -> HTMLResponse:
    """The page on which doubts are settled."""
    return page(request, "settle.html", session)
