"""What the desk says when something does not go as asked: one sentence, and that nothing was lost."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.responses import Response

from scanform.desk.access import LONGEST_BACK, NotAllowed, NotSignedIn, StaleForm
from scanform.desk.pages import page
from scanform.errors import BinderError, FieldTaken, JournalBroken, ScanformError

__all__ = ["ANSWERS", "Said", "add_answers"]


class Said(BaseModel):
    """Why something was refused, in a sentence for the person at the desk."""

    said: str


# A sentence comes as a page where a browser asks for one, and plain where a guard gives it.
_FORMS = {
    "application/json": {"schema": Said.model_json_schema()},
    "text/html": {"schema": {"type": "string"}},
    "text/plain": {"schema": {"type": "string"}},
}
# What every route may answer besides its own; 422 takes the place of the framework's own form.
ANSWERS: dict[int | str, dict[str, Any]] = {
    status: {"description": words, "content": _FORMS}
    for status, words in {
        400: "The desk was called under another name, or what was sent cannot be read.",
        401: "Nobody is signed in.",
        403: "The person may not do this, or the page was an old one.",
        404: "There is no such thing in the binder.",
        409: "Somebody else was first.",
        411: "What is sent does not say how long it is.",
        413: "What is sent is too long.",
        422: "What was sent does not fit.",
        429: "Too many tries have failed.",
        503: "The binder cannot be used at the moment.",
    }.items()
}


def add_answers(app: FastAPI) -> None:
    """Let every error that a person can meet end in a sentence."""

    @app.exception_handler(NotSignedIn)
    def _not_signed_in(request: Request, _problem: NotSignedIn) -> Response:
        if _wants_page(request):
            path, whole = request.url.path, f"{request.url.path}?{request.url.query}"
            back = whole if request.url.query and len(whole) <= LONGEST_BACK else path
            return RedirectResponse(f"/sign-in?back={quote(back)}", 303)
        return _said(request, 401, "You are signed out, and this was not saved. Sign in again; what was saved stays.")

    @app.exception_handler(StaleForm)
    def _stale_form(request: Request, _problem: StaleForm) -> Response:
        return _said(request, 403, "This page was opened before you last signed in; nothing was saved. Load it again.")

    @app.exception_handler(NotAllowed)
    def _not_allowed(request: Request, problem: NotAllowed) -> Response:
        return _said(request, 403, f"Only a {problem} may do this; nothing was changed. Ask one, or sign in as one.")

    @app.exception_handler(RequestValidationError)
    def _does_not_fit(request: Request, problem: RequestValidationError) -> Response:
        where = ", ".join(sorted({str(error["loc"][-1]) for error in problem.errors()}))
        return _said(request, 422, f"What was sent does not fit ({where}); nothing was changed.")

    @app.exception_handler(ScanformError)
    def _refused(request: Request, problem: ScanformError) -> Response:
        if isinstance(problem, FieldTaken):
            return _said(request, 409, str(problem))
        status = 503 if isinstance(problem, BinderError | JournalBroken) else 422
        return _said(request, status, str(problem))

    @app.exception_handler(HTTPException)
    def _plain(request: Request, problem: HTTPException) -> Response:
        sentences = {404: "There is nothing here.", 405: "This cannot be done here."}
        said = (
            problem.detail if problem.detail.endswith(".") else sentences.get(problem.status_code, "This went wrong.")
        )
        response = _said(request, problem.status_code, said)
        response.headers.update(problem.headers or {})
        return response

    @app.exception_handler(Exception)
    def _unforeseen(request: Request, _problem: Exception) -> Response:
        return _said(
            request,
            500,
            "The desk met an error that nobody thought of. What was saved before is safe; this was not saved. "
            "Try again, and tell whoever looks after the desk if it comes back.",
        )


def _wants_page(request: Request) -> bool:
    return request.method == "GET" and "text/html" in request.headers.get("accept", "")


def _said(request: Request, status: int, said: str) -> Response:
    if "text/html" in request.headers.get("accept", ""):
        return page(request, "refused.html", getattr(request.state, "session", None), status, said=said)
    return JSONResponse({"said": said}, status)
