"""``scanform hours``: what each unit's meter says, what it cannot have said, and when service is due."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import pandas as pd
import typer

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, say
from scanform.cli.outputs import PICTURE, check_file
from scanform.cli.stretch import Since, Until, Week, stretch
from scanform.cli.tables import Column, show_table
from scanform.cli.units import known_unit
from scanform.errors import UsageError
from scanform.report import (
    SERVICE_METHOD,
    ServiceDue,
    counted_sheets,
    daily_use,
    meter_readings,
    service_due,
)
from scanform.report.frames import rows

__all__ = ["hours", "show_due"]

_LOG = (
    Column("date", names=True),
    Column("hours", number=True),
    Column("state"),
    Column("run since", number=True),
    Column("a day", number=True),
    Column("sheet"),
)
_DUE = (
    Column(""),
    Column("unit", names=True),
    Column("meter", number=True),
    Column("h a day", number=True),
    Column("next (step)"),
    Column("left", number=True),
    Column("about"),
    Column("earliest"),
    Column("latest"),
    Column("last step passed", words=True),
)


def hours(
    binder: BinderFolder,
    since: Since = None,
    until: Until = None,
    week: Week = None,
    unit: Annotated[str | None, typer.Option(help="This unit's log, day by day.")] = None,
    picture: Annotated[Path | None, typer.Option(help="Write the unit's log as .pdf, .svg or .png too.")] = None,
) -> None:
    """Show readings that cannot be with their arithmetic, and when service is due; with --unit its whole log.

    A meter runs forward and no faster than the clock. Of a unit's readings the fewest are set aside that make this
    true; three low ones in a row, or one that a person has confirmed, are a new meter.

    Service steps are those of scanform settings (250, 500, 1,000 and 2,000 h if nothing is set, as is common practice).
    """
    if picture is not None and unit is None:
        raise UsageError("--picture draws one unit's log; say which one with --unit.")
    if picture is not None:
        check_file("--picture", picture, PICTURE, binder)
    with open_binder(binder) as record:
        unit = known_unit(record, unit)
        first, last = stretch(record, since, until, week)
        readings = meter_readings(record, counted_sheets(record))
        due = service_due(record, last, readings)
    use = daily_use(readings)
    if unit is not None:
        due = [one for one in due if one.unit == unit]
        readings = readings[readings["unit"] == unit]
        if readings.empty:
            raise UsageError(f"--unit {unit}: no meter reading of it is on record.")
    shown = readings[readings["date"].between(str(first), str(last))]
    wrong = shown[shown["why"] != ""].sort_values("waits", kind="stable")
    for row in rows(wrong):
        paper = f"sheet {row.sheet}" if row.sheet is not None else "the register"
        no_fact = "; no fact yet, a person must look at it" if row.waits else ""
        say(f"{row.unit}, {row.date}: {row.why} ({paper}, {row.state}{no_fact})")
    if not len(wrong):
        say(f"No reading from {first} to {last} is impossible.")
    if unit is not None:
        _show_log(shown, use)
    show_due(due, last)
    if picture is not None and unit is not None:
        # Not at the top: the list alone needs nothing that draws.
        from scanform.report.hours_picture import hours_picture
        from scanform.report.look import save_drawing

        drawn = hours_picture(unit, readings, use, first, last, due[0] if due else None)
        say(f"The log as a picture: {save_drawing(drawn, picture)}")


def _show_log(shown: pd.DataFrame, use: pd.DataFrame) -> None:
    table = []
    since = {(row.unit, row.until): row for row in rows(use)}
    for row in rows(shown):
        step = since.get((row.unit, row.date)) if row.believed else None
        ran = f"{step.hours:.1f} h from {step.since}" if step is not None else ""
        a_day = f"{step.hours / step.days:.1f}" if step is not None and step.days else ""
        state = row.state if row.believed else f"{row.state}, cannot be"
        table.append((row.date, f"{row.hours:.1f}", state, ran, a_day, str(row.sheet or "register")))
    show_table(_LOG, table)


def show_due(due: Sequence[ServiceDue], today: dt.date) -> None:
    """Print when each unit's service is due, the soonest first, and how that is told."""
    table = []
    for one in due:
        passed = f"{one.passed:,} h" + (f" on {one.passed_on}" if one.passed_on else "")
        table.append(
            (
                "SOON" if one.is_near(today) else "",
                one.unit,
                f"{one.hours:,.1f}",
                f"{one.a_day:.1f}" if one.a_day is not None else "?",
                f"{one.due_at:,} h ({one.step:,} h)",
                f"{one.hours_left:.1f} h",
                str(one.about or "?"),
                str(one.earliest or "?"),
                str(one.latest or "?"),
                passed,
            )
        )
    show_table(_DUE, table, f"Service due, as of {today}")
    say(SERVICE_METHOD)
    say("Whether a service was done is not on the sheets; the maker's manual says what each step needs.")
