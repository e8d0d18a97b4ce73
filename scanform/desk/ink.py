"""Pictures for the desk's pages: whole sheets and the ink of single fields, only for people who are signed in."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Path, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel

from scanform.binder import RecordedPage
from scanform.desk.access import Reader
from scanform.desk.page_pictures import field_places

__all__ = ["Number", "Place", "page_or_404", "router"]

router = APIRouter()

Number = Annotated[int, Path(ge=1, le=2**31 - 1, description="A page's number in the record.")]
_JPEG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/jpeg": {}}}}
# The browser keeps a picture but has to ask each time, so that nothing shows after signing out.
_ASK_EACH_TIME = {"Cache-Control": "private, no-cache"}


class Place(BaseModel):
    """A field's four corners (x, y) on the upright page, as shares of its width and height."""

    field_id: str
    corners: list[tuple[float, float]]


@router.get("/pages/{number}/picture", response_class=Response, responses=_JPEG)
def page_picture(
    request: Request, number: Number, _session: Reader, high: Annotated[int, Query(ge=100, le=5000)] = 1400
) -> Response:
    """The whole page upright, at most ``high`` pixels high."""
    picture = request.app.state.pictures.whole(page_or_404(request, number), high)
    return Response(picture, media_type="image/jpeg", headers=_ASK_EACH_TIME)


@router.get("/pages/{number}/ink/{field_id}", response_class=Response, responses=_JPEG)
def ink_picture(request: Request, number: Number, field_id: str, _session: Reader) -> Response:
    """The ink of one field, large, with what stands around it."""
    picture = request.app.state.pictures.ink(page_or_404(request, number), field_id)
    return Response(picture, media_type="image/jpeg", headers=_ASK_EACH_TIME)


@router.get("/pages/{number}/places")
def places(request: Request, number: Number, _session: Reader) -> list[Place]:
    """Where the page's fields lie on its upright picture."""
    found = field_places(page_or_404(request, number))
    return [Place(field_id=place.field_id, corners=list(place.corners)) for place in found]


def page_or_404(request: Request, number: int) -> RecordedPage:
    """A page of the binder by its number; 404 in a sentence if there is none."""
    found: RecordedPage | None = request.app.state.binder.page_numbered(number)
    if found is None:
        raise HTTPException(404, f"There is no page {number} in this binder.")
    return found
