"""Evidence on the desk: one unit or all, two dates, as one file to take away."""

from __future__ import annotations

import datetime as dt
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, HTMLResponse
from starlette.background import BackgroundTask

from scanform.binder import Binder
from scanform.desk.access import Reader
from scanform.desk.asked import AskedFor, Day, UnitTyped, asked, units_on_record
from scanform.desk.pages import page
from scanform.errors import UsageError
from scanform.report import coverage, gather_evidence, last_day, write_evidence

__all__ = ["router"]

router = APIRouter()

_QUARTER_DAYS = 91
_ZIP: dict[int | str, dict[str, Any]] = {200: {"content": {"application/zip": {}}}}


@router.get("/evidence", response_class=HTMLResponse)
def evidence(request: Request, session: Reader, unit: UnitTyped = "", since: Day = "", until: Day = "") -> HTMLResponse:
    """What a pack would be about, before it is made."""
    binder: Binder = request.app.state.binder
    said, found, latest = "", None, last_day(binder)
    if not (since or until) and latest is not None:
        since, until = str(latest - dt.timedelta(days=_QUARTER_DAYS)), str(latest)
    try:
        wanted = asked(binder, unit, since, until)
        unit, since, until = wanted.unit or "", str(wanted.since), str(wanted.until)
        found = coverage(binder, wanted.since, wanted.until, wanted.unit)
    except UsageError as problem:
        said = str(problem)
    return page(
        request,
        "evidence.html",
        session,
        422 if said else 200,
        said=said,
        unit=unit,
        since=since,
        until=until,
        units=units_on_record(binder),
        found=found,
    )


@router.get("/evidence/pack", response_class=FileResponse, responses=_ZIP)
def pack(request: Request, _session: Reader, wanted: AskedFor) -> FileResponse:
    """The pack as one ZIP file: PDF, tables, pictures, and the manifest that anybody can check."""
    binder: Binder = request.app.state.binder
    gathered = gather_evidence(binder, wanted.unit, wanted.since, wanted.until, dt.date.today())
    room = tempfile.TemporaryDirectory(prefix="scanform-evidence-")
    try:
        folder = Path(room.name) / "evidence"
        files = write_evidence(binder, gathered, folder)
        packed = Path(room.name) / "evidence.zip"
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as out:
            for path in files:
                out.write(path, Path(_name(wanted.unit, wanted.since, wanted.until)) / path.relative_to(folder))
    except BaseException:
        room.cleanup()
        raise
    name = f"{_name(wanted.unit, wanted.since, wanted.until)}.zip"
    return FileResponse(packed, media_type="application/zip", filename=name, background=BackgroundTask(room.cleanup))


def _name(unit: str | None, since: dt.date, until: dt.date) -> str:
    of = "".join(sign if sign.isalnum() else "-" for sign in unit) if unit else "all-units"
    return f"evidence-{of}-{since}-{until}"
