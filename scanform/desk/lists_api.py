"""The lists for other programs: JSON over HTTP, read-only, for people who are signed in.

Columns are those of ``scanform export``. What the interface takes and gives is described as OpenAPI at
``/api/openapi.json``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Annotated, Any

import pandas as pd
from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field, create_model

from scanform.binder import Binder
from scanform.desk.access import Reader
from scanform.desk.asked import AskedFor, Day, UnitTyped, asked, register_of
from scanform.report import (
    CAUTION,
    DOUBTS_CAUTION,
    LIST_COLUMNS,
    PATTERNS_CAUTION,
    closings_table,
    counted_sheets,
    coverage,
    gaps_table,
    known_unit,
    meter_readings,
    meters_table,
    patterns,
    register_table,
    service_due,
    service_table,
    still_open,
)

__all__ = ["router"]

router = APIRouter(prefix="/api")

_KINDS: Mapping[str, Any] = {"text": str | None, "number": float | None, "date": dt.date | None, "flag": bool | None}
_DAY_COLUMNS = {
    "unit": "text",
    "day": "date",
    "status": "text",
    "basis": "text",
    "sheets": "text",
    "unsure": "text",
    "ran_hours": "number",
    "note": "text",
    "waits": "text",
}
_PATTERN_COLUMNS = {
    "kind": "text",
    "unit": "text",
    "first": "date",
    "last": "date",
    "sheets": "text",
    "sentence": "text",
}
Start = Annotated[int, Query(ge=0, le=10_000_000, description="Rows to leave out from the beginning.")]
Most = Annotated[int, Query(ge=1, le=5_000, description="Rows to give at most.")]


def _listed(name: str, columns: Mapping[str, str]) -> type[BaseModel]:
    """The answer's form: the cautions, how many rows there are, and some of them."""
    cells: dict[str, Any] = {column: (_KINDS[kind], ...) for column, kind in columns.items()}
    row: Any = create_model(f"{name}Row", **cells)
    cautions = Annotated[list[str], Field(description="To be shown with the list, wherever it goes.")]
    total = Annotated[int, Field(description="Rows of the whole list.")]
    parts: dict[str, Any] = {"cautions": (cautions, ...), "total": (total, ...), "rows": (list[row], ...)}
    made: type[BaseModel] = create_model(f"{name}List", **parts)
    return made


_Defects = _listed("Defect", LIST_COLUMNS["register"])
_Gaps = _listed("Gap", LIST_COLUMNS["gaps"])
_Days = _listed("UnitDay", _DAY_COLUMNS)
_Meters = _listed("MeterReading", LIST_COLUMNS["meters"])
_Services = _listed("Service", LIST_COLUMNS["service"])
_Closings = _listed("Closing", LIST_COLUMNS["closings"])
_Patterns = _listed("Pattern", _PATTERN_COLUMNS)


@router.get("/openapi.json")
def description(request: Request, _session: Reader) -> dict[str, Any]:
    """What this interface takes and gives, as OpenAPI 3.1."""
    described: dict[str, Any] = request.app.openapi()
    return described


@router.get("/defects", response_model=_Defects)
def defects(
    request: Request,
    _session: Reader,
    unit: UnitTyped = "",
    closed: Annotated[bool, Query(description="Closed ones too, after the open ones.")] = False,
    start: Start = 0,
    most: Most = 1_000,
) -> dict[str, Any]:
    """The register of defects, safety-critical ones on units in use first."""
    name = _unit(request, unit)
    register = [defect for defect in register_of(request) if name in (None, defect.unit)]
    return _rows(register_table(register if closed else still_open(register)), start, most)


@router.get("/gaps", response_model=_Gaps)
def gaps(
    request: Request,
    _session: Reader,
    wanted: AskedFor,
    start: Start = 0,
    most: Most = 1_000,
) -> dict[str, Any]:
    """Days without a sheet, those on which the meter moved first. Without days: the last four weeks."""
    found = coverage(request.app.state.binder, wanted.since, wanted.until, wanted.unit)
    return _rows(gaps_table(found), start, most)


@router.get("/days", response_model=_Days)
def days(
    request: Request,
    _session: Reader,
    wanted: AskedFor,
    start: Start = 0,
    most: Most = 5_000,
) -> dict[str, Any]:
    """For each unit and day: sheet, no sheet, or not in use, and what says so; ``sheets`` are record numbers."""
    found = coverage(request.app.state.binder, wanted.since, wanted.until, wanted.unit)
    return _rows(_frame(_DAY_COLUMNS, found.days), start, most)


@router.get("/meters", response_model=_Meters)
def meters(
    request: Request,
    _session: Reader,
    wanted: AskedFor,
    start: Start = 0,
    most: Most = 5_000,
) -> dict[str, Any]:
    """Hour-meter readings, each with whether it can be and why not."""
    readings = _readings(request)
    shown = readings[readings["date"].between(str(wanted.since), str(wanted.until))]
    shown = shown if wanted.unit is None else shown[shown["unit"] == wanted.unit]
    return _rows(meters_table(shown), start, most)


@router.get("/service", response_model=_Services)
def service(
    request: Request, _session: Reader, unit: UnitTyped = "", until: Day = "", start: Start = 0, most: Most = 1_000
) -> dict[str, Any]:
    """When service is due by meter hours, by what was read up to a day; projected, with a range."""
    wanted = asked(request.app.state.binder, unit, "", until)
    due = service_due(request.app.state.binder, wanted.until, _readings(request))
    return _rows(service_table([one for one in due if wanted.fits(one.unit)]), start, most)


@router.get("/closings", response_model=_Closings)
def closings(request: Request, _session: Reader, start: Start = 0, most: Most = 1_000) -> dict[str, Any]:
    """What people said closed a defect, at the desk or by a command, those taken back included."""
    return _rows(closings_table(request.app.state.binder), start, most)


@router.get("/patterns", response_model=_Patterns)
def worth_a_talk(
    request: Request,
    _session: Reader,
    wanted: AskedFor,
    start: Start = 0,
    most: Most = 1_000,
) -> dict[str, Any]:
    """Facts about sheets that are worth a talk."""
    found = patterns(request.app.state.binder, wanted.since, wanted.until, register_of(request))
    told = _rows(_frame(_PATTERN_COLUMNS, [one for one in found if wanted.fits(one.unit)]), start, most)
    return told | {"cautions": [PATTERNS_CAUTION, *told["cautions"]]}


def _rows(table: pd.DataFrame, start: int, most: int) -> dict[str, Any]:
    some = table.iloc[start : start + most]
    return {"cautions": [CAUTION, DOUBTS_CAUTION], "total": len(table), "rows": some.to_dict("records")}


def _frame(columns: Mapping[str, str], found: Any) -> pd.DataFrame:
    """Objects as rows, blanks as None, several sheets in one cell."""
    body = [[_cell(getattr(one, column)) for column in columns] for one in found]
    return pd.DataFrame(body, columns=list(columns), dtype=object)


def _cell(value: Any) -> Any:
    if isinstance(value, tuple):
        return " ".join(map(str, value)) or None
    return None if value == "" else value


def _unit(request: Request, typed: str) -> str | None:
    return known_unit(request.app.state.binder, typed) if typed.strip() else None


def _readings(request: Request) -> pd.DataFrame:
    binder: Binder = request.app.state.binder
    return meter_readings(binder, counted_sheets(binder))
