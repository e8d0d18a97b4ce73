"""``scanform void``: a sheet that was crossed out as a whole counts no more."""

from __future__ import annotations

from typing import Annotated

import typer

from scanform.binder import RecordedPage, open_binder
from scanform.cli.options import BinderFolder, Initials, say
from scanform.errors import UsageError
from scanform.settle import SettledField

__all__ = ["void"]


def void(
    sheet: Annotated[int, typer.Argument(min=1, help="The sheet's number, as in 24.hours.")],
    binder: BinderFolder,
    initials: Initials,
    why: Annotated[str | None, typer.Option(help="What is wrong with it, such as 'crossed out'.")] = None,
    take_back: Annotated[bool, typer.Option("--take-back", help="Let it count again.")] = False,
) -> None:
    """Say that a sheet as a whole is void: spoiled, crossed out, filled in for the wrong machine.

    scanform void 24 --why "crossed out, new one written" --binder quarry --initials AB

    Nothing on it counts any more: its doubts wait for nobody, its answers and defects stand in no list, and its day is
    without a sheet unless there is another one. The page stays, and its pad has it back. The journal says who voided it
    and why; scanform void 24 --take-back lets everything count again as it did. A defect on it is no less a defect:
    see that it stands on another sheet.
    """
    if take_back == bool(why):
        raise UsageError("Give one of --why and --take-back.")
    with open_binder(binder) as record:
        if take_back:
            page = record.take_back_void(sheet, initials)
            say(f"Sheet {sheet} counts again ({page.record.unit or '?'}, {page.record.date or '?'}).")
            return
        lost = sum(field.value == "defect" for field in _fields(record.page_numbered(sheet)))
        page = record.void_sheet(sheet, initials, why or "")
    say(f"Sheet {sheet} is void ({page.record.unit or '?'}, {page.record.date or '?'}); nothing on it counts.")
    if lost:
        say(f"It named {lost} defect{'s' if lost > 1 else ''}: see that they stand on another sheet.")


def _fields(page: RecordedPage | None) -> tuple[SettledField, ...]:
    return page.record.fields if page is not None else ()
