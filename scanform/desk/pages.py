"""Pages from templates. Everything put into one is escaped; a template can ask for nothing that was not given."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from scanform.desk.access import TOKEN_FIELD, Role, Session
from scanform.desk.record_words import file_name, local_time
from scanform.desk.wording import STATE_WORDS
from scanform.report import CAUTION, value_in_words
from scanform.report.wording import dates_in_words, days_in_short, doubt_in_short, repair_in_words

__all__ = ["NAVIGATION", "page"]

_FOLDER = Path(__file__).parent / "templates"

# What stands in the head of each page: path, words, and the least role that sees it.
NAVIGATION: list[tuple[str, str, Role]] = [
    ("/settle", "Settle", Role.CLERK),
    ("/sheets", "Sheets", Role.READER),
    ("/batches", "Batches", Role.READER),
    ("/defects", "Defects", Role.READER),
    ("/missing", "Missing", Role.READER),
    ("/hours", "Hours", Role.READER),
    ("/patterns", "Patterns", Role.READER),
    ("/letter", "Letter", Role.READER),
    ("/evidence", "Evidence", Role.READER),
    ("/forms", "Forms", Role.READER),
]

_environment = Environment(loader=FileSystemLoader(_FOLDER), autoescape=True, undefined=StrictUndefined)
_environment.trim_blocks = _environment.lstrip_blocks = True
_environment.filters["in_words"] = value_in_words
_environment.filters["file_name"] = file_name
_environment.filters["local_time"] = local_time
_environment.filters["dates_in_words"] = dates_in_words
_environment.filters["days_in_short"] = days_in_short
_environment.filters["repair_in_words"] = repair_in_words
_environment.filters["doubt_in_short"] = doubt_in_short
_environment.globals.update(caution=CAUTION, state_words=STATE_WORDS, token_field=TOKEN_FIELD)


def page(
    request: Request, template: str, session: Session | None = None, status: int = 200, **given: Any
) -> HTMLResponse:
    """A page for whoever is signed in, or for nobody."""
    navigation = [(path, words) for path, words, role in NAVIGATION if session is not None and session.may(role)]
    context: Mapping[str, Any] = {
        "session": session,
        "navigation": navigation,
        "here": "/" + request.url.path.split("/")[1],
        "binder_name": request.app.state.binder.folder.name,
        **given,
    }
    return HTMLResponse(_environment.get_template(template).render(context), status)
