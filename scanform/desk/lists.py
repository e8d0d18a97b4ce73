"""Lists on the desk that people rather look at than read: missing sheets, hours, patterns, the weekly letter."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import urlencode

import pandas as pd
from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response
from reportlab.graphics.shapes import Drawing

from scanform.binder import Binder
from scanform.desk.access import Reader, Session
from scanform.desk.asked import Asked, AskedFor, Day, UnitTyped, Week, asked, register_of, units_on_record, week_typed
from scanform.desk.pages import page
from scanform.errors import UsageError
from scanform.report import (
    PATTERNS_CAUTION,
    SERVICE_METHOD,
    Letter,
    ServiceDue,
    counted_sheets,
    coverage,
    daily_use,
    defect_line,
    defects_picture,
    drawing_svg,
    hours_bars,
    last_day,
    meter_readings,
    not_filed,
    patterns,
    service_due,
    tiles,
    unread_pages,
    unread_sentence,
    week_of,
    weekly_letter,
)
from scanform.report.calendar_picture import calendar_picture
from scanform.report.hours_picture import hours_picture
from scanform.report.letter_html import letter_html
from scanform.report.letter_pdf import letter_pdf

__all__ = ["router"]

router = APIRouter()

_SVG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/svg+xml": {}}}}
_FILE: dict[int | str, dict[str, Any]] = {200: {"content": {"application/pdf": {}, "text/html": {}}}}
_CHART_WIDTH, _MOST_BARS = 460.0, 40
_Chart = Annotated[str, Query(pattern="^(calendar|defects|hours)$", description="Which of the letter's pictures.")]
_Ending = Annotated[str, Query(pattern="^(pdf|html)$")]


@dataclass(frozen=True)
class _Form:
    """What stands in the fields of a list's question, and what was wrong with it."""

    unit: str
    since: str
    until: str
    said: str = ""


@router.get("/missing", response_class=HTMLResponse)
def missing(request: Request, session: Reader, unit: UnitTyped = "", since: Day = "", until: Day = "") -> HTMLResponse:
    """The calendar of sheets, and the days that have none, those on which the meter moved first."""
    binder: Binder = request.app.state.binder
    wanted, form = _asked(binder, unit, since, until)
    found = coverage(binder, wanted.since, wanted.until, wanted.unit) if wanted else None
    return _list(
        request,
        "missing.html",
        session,
        form,
        wanted=wanted,
        found=found,
        loose=not_filed(binder) if found else [],
        unread=unread_sentence(unread_pages(binder)),
    )


@router.get("/missing/picture", response_class=Response, responses=_SVG)
def missing_picture(request: Request, _session: Reader, wanted: AskedFor) -> Response:
    """The calendar: a row a unit, a cell a day."""
    binder: Binder = request.app.state.binder
    return _picture(calendar_picture(coverage(binder, wanted.since, wanted.until, wanted.unit)))


@router.get("/hours", response_class=HTMLResponse)
def hours(request: Request, session: Reader, unit: UnitTyped = "", since: Day = "", until: Day = "") -> HTMLResponse:
    """Service due, readings that cannot be, and one unit's log as a picture."""
    binder: Binder = request.app.state.binder
    wanted, form = _asked(binder, unit, since, until)
    strange: list[Any] = []
    due: list[ServiceDue] = []
    if wanted is not None:
        readings, due = _hours(binder, wanted)
        shown = readings[(readings["why"] != "") & readings["date"].between(str(wanted.since), str(wanted.until))]
        strange = list(shown.itertuples(index=False))
    return _list(
        request,
        "hours.html",
        session,
        form,
        wanted=wanted,
        strange=[row for row in strange if wanted is not None and wanted.fits(row.unit)],
        due=[one for one in due if wanted is not None and wanted.fits(one.unit)],
        method=SERVICE_METHOD,
    )


@router.get("/hours/picture", response_class=Response, responses=_SVG)
def hours_of_unit(request: Request, _session: Reader, wanted: AskedFor) -> Response:
    """One unit's meter and its hours a day."""
    binder: Binder = request.app.state.binder
    if wanted.unit is None:
        raise UsageError("A log is one unit's; say which.")
    readings, due = _hours(binder, wanted)
    use = daily_use(readings)
    of_unit = next((one for one in due if one.unit == wanted.unit), None)
    return _picture(hours_picture(wanted.unit, readings, use, wanted.since, wanted.until, of_unit))


@router.get("/patterns", response_class=HTMLResponse)
def worth_a_talk(
    request: Request, session: Reader, unit: UnitTyped = "", since: Day = "", until: Day = ""
) -> HTMLResponse:
    """What on the sheets is worth a talk, as facts about sheets."""
    binder: Binder = request.app.state.binder
    wanted, form = _asked(binder, unit, since, until)
    found = patterns(binder, wanted.since, wanted.until, register_of(request)) if wanted else []
    return _list(
        request,
        "patterns.html",
        session,
        form,
        wanted=wanted,
        found=[one for one in found if wanted is not None and wanted.fits(one.unit)],
        patterns_caution=PATTERNS_CAUTION,
    )


@router.get("/letter", response_class=HTMLResponse)
def letter(request: Request, session: Reader, week: Week = "") -> HTMLResponse:
    """Monday's letter on the screen; as a page to print it is one click away."""
    binder: Binder = request.app.state.binder
    said, written = "", None
    unread = unread_sentence(unread_pages(binder))
    try:
        written = _letter(binder, week)
    except UsageError as problem:
        said = str(problem)
    return page(
        request,
        "letter.html",
        session,
        422 if said else 200,
        said=said,
        letter=written,
        unread=unread,
        week=written.week if written else week,
        tiles=tiles(written) if written else [],
        line=defect_line,
        method=SERVICE_METHOD,
    )


@router.get("/letter/file", response_class=Response, responses=_FILE)
def letter_file(request: Request, _session: Reader, week: Week = "", ending: _Ending = "pdf") -> Response:
    """The letter to print or to send."""
    written = _letter(request.app.state.binder, week)
    name = {"Content-Disposition": f'attachment; filename="letter-{written.week}.{ending}"'}
    if ending == "pdf":
        return Response(letter_pdf(written), media_type="application/pdf", headers=name)
    return Response(letter_html(written), media_type="text/html", headers=name)


@router.get("/letter/picture", response_class=Response, responses=_SVG)
def letter_picture(request: Request, _session: Reader, which: _Chart, week: Week = "") -> Response:
    """One of the letter's pictures."""
    written = _letter(request.app.state.binder, week)
    if which == "calendar":
        return _picture(calendar_picture(written.coverage))
    chart = defects_picture if which == "defects" else hours_bars
    return _picture(chart(written, _CHART_WIDTH, _MOST_BARS))


def _asked(binder: Binder, unit: str, since: str, until: str) -> tuple[Asked | None, _Form]:
    try:
        wanted = asked(binder, unit, since, until)
    except UsageError as problem:
        return None, _Form(unit, since, until, str(problem))
    return wanted, _Form(wanted.unit or "", str(wanted.since), str(wanted.until))


def _list(request: Request, template: str, session: Session, form: _Form, **given: Any) -> HTMLResponse:
    units = units_on_record(request.app.state.binder)
    wanted = given["wanted"]
    query = urlencode(wanted.query) if wanted is not None else ""
    return page(request, template, session, 422 if form.said else 200, form=form, units=units, query=query, **given)


def _hours(binder: Binder, wanted: Asked) -> tuple[pd.DataFrame, list[ServiceDue]]:
    readings = meter_readings(binder, counted_sheets(binder))
    return readings, service_due(binder, wanted.until, readings)


def _letter(binder: Binder, week: str) -> Letter:
    monday = week_typed(week)
    if monday is None:
        latest = last_day(binder)
        if latest is None:
            raise UsageError("No sheet with a date is on record yet; there is nothing to write about.")
        monday = week_of(latest)[0]
    return weekly_letter(binder, monday, dt.date.today())


def _picture(drawing: Drawing) -> Response:
    return Response(drawing_svg(drawing), media_type="image/svg+xml")
