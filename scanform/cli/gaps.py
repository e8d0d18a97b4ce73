"""``scanform gaps`` and ``scanform calendar``: which days have a sheet, which have none, and which need none."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, Initials, console, say
from scanform.cli.outputs import PICTURE, check_file
from scanform.cli.stretch import Since, Until, Week, stretch
from scanform.cli.units import Unit, known_unit
from scanform.report import CAUTION, Coverage, coverage, day_sign, not_filed, unread_pages, unread_sentence
from scanform.report.wording import counted

__all__ = ["calendar", "gaps", "show_gaps"]

_STYLES = {"#": "green", "?": "yellow", "X": "red", "!": "bold white on red", ".": "dim"}
_LETTERS = "MTWTFSS"


def gaps(
    binder: BinderFolder,
    since: Since = None,
    until: Until = None,
    week: Week = None,
    unit: Unit = None,
    picture: Annotated[Path | None, typer.Option(help="Write the calendar as .pdf, .svg or .png too.")] = None,
) -> None:
    """Show for each unit and day: a sheet, no sheet, or not in use. Missing days on which the meter moved come first.

    Without dates it shows the four weeks that end with the last sheet on record.

    A day needs no sheet if a week's sheet leaves it free, if the calendar says so (scanform calendar), or if the meter
    moved no more than the days with sheets around it explain. Hours run without a sheet are what the meter moved beyond
    the unit's usual day: an estimate, given with its arithmetic. A day on which a machine did half a shift before and
    half after cannot be told from one day's work: load a calendar to be sure.
    """
    if picture is not None:
        check_file("--picture", picture, PICTURE, binder)
    with open_binder(binder) as record:
        first, last = stretch(record, since, until, week)
        found = coverage(record, first, last, known_unit(record, unit))
        loose = not_filed(record)
        unread = unread_sentence(unread_pages(record))
    show_gaps(found)
    if unread:
        say(f"{unread}: scanform desk shows what they are.")
    if loose:
        names = ", ".join(map(str, loose[:12])) + (", ..." if len(loose) > 12 else "")
        say(f"Not filed: {counted(len(loose), 'sheet')} without a unit or a date, any of which may fill a gap: {names}")
    if picture is not None:
        # Not at the top: the list alone needs nothing that draws.
        from scanform.report.calendar_picture import calendar_picture
        from scanform.report.look import save_drawing

        say(f"The calendar as a picture: {save_drawing(calendar_picture(found), picture)}")
    console.print(Text(CAUTION, style="bold"))


def show_gaps(found: Coverage) -> None:
    """Print missing days, the calendar, and the coverage."""
    for gap in found.missing:
        if gap.ran_hours is not None:
            say(f"{gap.unit}, {gap.day}: {gap.note}")
    for gap in found.waiting:
        say(f"{gap.unit}, {gap.day}: {gap.status}, but that is no fact yet: {gap.waits}")
    days = [found.since + dt.timedelta(days=n) for n in range((found.until - found.since).days + 1)]
    apart = [" " if day.weekday() == 0 and day != days[0] else "" for day in days]  # between weeks
    by_place = {(day.unit, day.day): day for day in found.days}
    width = max([4, *(len(unit) for unit in found.units)])
    weeks = [f"{day.isocalendar().week:02d}"[day.weekday()] if day.weekday() < 2 else " " for day in days]
    letters = [_LETTERS[day.weekday()] for day in days]
    for head in (weeks, letters):
        say(" " * (width + 2) + "".join(gap + sign for gap, sign in zip(apart, head, strict=True)))
    for unit in found.units:
        line = Text(f"{unit:<{width}}  ")
        for space, on in zip(apart, days, strict=True):
            sign = day_sign(by_place[unit, on]) if (unit, on) in by_place else " "
            line.append(space)
            line.append(sign, style=_STYLES.get(sign, ""))
        line.append(f"  {found.in_words(unit)}")
        console.print(line, soft_wrap=True)
    say("# sheet   ? not sure, a doubt waits   X no sheet   ! no sheet and the meter moved   . not in use")
    say(f"Coverage {found.since} to {found.until}: {found.in_words()}")


def calendar(
    file: Annotated[Path, typer.Argument(help="CSV: unit (or * for all), day, and if wanted until, in_use, note.")],
    binder: BinderFolder,
    initials: Initials,
) -> None:
    """Load the office's calendar: days on which units were not in use, or were.

    Columns unit and day; until makes a row a stretch of days; in_use is yes or no (no if left out); note is free. A day
    not in use needs no sheet; a day in use needs one whatever the meter says. The same day again replaces what was said
    before; every load is in the journal.
    """
    with open_binder(binder) as record:
        report = record.load_calendar(file, initials)
    say(f"{counted(len(report.added), 'day')} added, {len(report.changed)} changed, {len(report.unchanged)} as before.")
