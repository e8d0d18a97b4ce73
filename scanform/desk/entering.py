"""Entering a sheet by hand: a page that was not read, looked at by a person who can read it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from scanform.batch import templates_for
from scanform.binder import MAY_BE_ENTERED, Binder, RecordedPage, SheetQuery, entered_fields
from scanform.binder.typed import FILED_UNDER, unlikely
from scanform.desk.access import Clerk
from scanform.desk.ink import Number, page_or_404
from scanform.desk.pages import page
from scanform.desk.record_words import OUTCOME_WORDS
from scanform.desk.sheet_view import Group, empty_groups, sheet_view
from scanform.errors import LayoutError, UsageError
from scanform.form import Layout, Paper, Template, lay_out
from scanform.settle import Outcome

__all__ = ["router"]

router = APIRouter()

_LONG_AGO_DAYS = 400  # a sheet older than this is rather a slip in the year
_MOST_NAMED = 3  # sheets of the same unit and day that are named in a question


class Entry(BaseModel):
    """What a person reads on a page. ``form``: a template and version as the page of the form names it.

    ``values``: by field id, null for nothing written. ``sure``: the person has been asked about what is unlikely.
    """

    form: Annotated[str, Field(max_length=60)]
    serial: Annotated[str, Field(max_length=80)] = ""
    values: Annotated[dict[str, Annotated[str, Field(max_length=1000)] | None], Field(max_length=400)]
    sure: bool = False


class Entered(BaseModel):
    """``asks``: what is unlikely, to be looked at once more; empty once the sheet is on record."""

    number: int
    asks: list[str]


@router.get("/sheets/{number}/enter", response_class=HTMLResponse)
def entry_page(
    request: Request, number: Number, session: Clerk, form: Annotated[str, Query(max_length=60)] = ""
) -> HTMLResponse:
    """The picture, and beside it the fields of the sheet that the person says it is."""
    binder: Binder = request.app.state.binder
    recorded = page_or_404(request, number)
    if recorded.void:
        raise UsageError(f"Sheet {number} is void; take that back, and its values count again. Nothing was changed.")
    if recorded.record.outcome not in MAY_BE_ENTERED:
        raise UsageError(
            f"Page {number} is on record as {OUTCOME_WORDS[recorded.record.outcome]}; only a page without values is "
            "entered by hand. Nothing was changed."
        )
    templates = {_key(t): t for t in templates_for(binder, ())}
    groups: tuple[Group, ...] = ()
    if form:
        groups = empty_groups(_layout(templates, form))
    return page(
        request,
        "enter.html",
        session,
        sheet=recorded,
        view=sheet_view(binder, recorded),
        outcome=OUTCOME_WORDS[recorded.record.outcome],
        forms=[(key, f"{t.title} ({t.name}, version {t.version})") for key, t in templates.items()],
        chosen=form,
        groups=groups,
        units=[unit.unit for unit in binder.units()],
    )


@router.post("/sheets/{number}/entry")
def enter(request: Request, number: Number, entry: Entry, session: Clerk) -> Entered:
    """Put what a person reads on record; what is unlikely is asked once before."""
    binder: Binder = request.app.state.binder
    recorded = page_or_404(request, number)
    templates = {_key(t): t for t in templates_for(binder, ())}
    layout = _layout(templates, entry.form)
    if not entry.sure:
        asks = _unlikely(binder, recorded, layout, entry)
        if asks:
            return Entered(number=number, asks=asks)
    binder.remember_template(layout.template)
    binder.enter_by_hand(number, layout, entry.values, session.initials, entry.serial)
    return Entered(number=number, asks=[])


@router.delete("/sheets/{number}/entry")
def take_back(request: Request, number: Number, session: Clerk) -> Entered:
    """Make a page that was entered by hand what it was before."""
    page_or_404(request, number)
    request.app.state.binder.take_back_entry(number, session.initials)
    return Entered(number=number, asks=[])


def _key(template: Template) -> str:
    return f"{template.name}~{template.version}"


def _layout(templates: dict[str, Template], form: str) -> Layout:
    template = templates.get(form)
    if template is None:
        raise UsageError(f"There is no template '{form}' here; choose one from the list.")
    for paper in Paper:
        try:
            return lay_out(template, paper)  # the fields are the same on every paper that it fits on
        except LayoutError:
            continue
    raise UsageError(f"Template '{form}' fits on no paper, so no sheet of it can exist.")


def _unlikely(binder: Binder, recorded: RecordedPage, layout: Layout, entry: Entry) -> list[str]:
    """What a second look would be good for, in sentences. UsageError for a value that cannot be at all."""
    fields = entered_fields(layout, entry.values)
    filed = {field.id: str(field.value) for field in fields if field.id in FILED_UNDER and field.value}
    unit, on = filed.get("unit"), dt.date.fromisoformat(filed["date"]) if "date" in filed else None
    record = replace(recorded.record, outcome=Outcome.READ, fields=fields, unit=unit, date=on)
    would_be = replace(recorded, record=record)
    asks = [said for field in fields if (said := unlikely(binder, would_be, field.id, field.value))]
    if on is not None and (dt.date.today() - on).days > _LONG_AGO_DAYS:
        asks.append(f"{on} is more than a year ago.")
    if unit is not None and on is not None:
        same = SheetQuery(unit=unit, first=on, last=on, template=layout.template.name, outcome=Outcome.READ)
        asks += [
            f"Sheet {sheet.number} is on record for {sheet.unit} on {sheet.date}; make sure that this is another one."
            for sheet in binder.find_sheets(same, 0, _MOST_NAMED).sheets
        ]
    unanswered = [f"item.{item.name}" for item in layout.template.items if not _answered(entry, f"item.{item.name}")]
    if unanswered:
        asks.append(f"{len(unanswered)} of {len(layout.template.items)} items have no answer.")
    return asks


def _answered(entry: Entry, item: str) -> bool:
    return any(value for name, value in entry.values.items() if name == item or name.startswith(f"{item}."))
