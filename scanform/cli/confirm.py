"""``scanform confirm`` and ``scanform undo``: a person has said."""

from __future__ import annotations

from typing import Annotated

import typer

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, Initials, say
from scanform.errors import UsageError
from scanform.report import value_in_words

__all__ = ["confirm", "undo"]

_SIGNED = {"signed": True, "unsigned": False}


def confirm(
    name: Annotated[str, typer.Argument(help="The field's name as the list of doubts gives it, such as 12.hours.")],
    binder: BinderFolder,
    initials: Initials,
    value: Annotated[
        str | None, typer.Argument(help="What the paper says; leave out with --blank or --as-read.", show_default=False)
    ] = None,
    blank: Annotated[bool, typer.Option("--blank", help="Nothing is written there.")] = False,
    as_read: Annotated[bool, typer.Option("--as-read", help="The machine's reading is right.")] = False,
) -> None:
    """Confirm or correct one field. The old value stays in the journal.

    Dates as 2026-11-25, hours as 4521.3, answers as ok, defect or na, signatures as signed or unsigned.
    """
    if (value is not None) + blank + as_read != 1:
        raise UsageError("Give one of: a value, --blank, --as-read.")
    with open_binder(binder) as record:
        said: str | bool | None = None if blank else _SIGNED.get(value or "", value)
        if as_read:
            waiting = {doubt.ref: doubt for doubt in record.queue()}
            if name not in waiting:
                raise UsageError(
                    f"'{name}' is not among the doubts; see the list with: scanform doubts --binder {binder}"
                )
            said = waiting[name].field.value
        field = record.confirm(name, said, initials)
        left = len(record.queue())
    shown = value_in_words(field.value)
    say(f"{name} is {shown}, confirmed by {initials.upper()}. {left} doubts left.")


def undo(binder: BinderFolder, initials: Initials) -> None:
    """Take back your last confirmation; run again to go further back. The journal keeps both."""
    with open_binder(binder) as record:
        decision = record.undo_last(initials)
    say(f"{decision.ref} is as it was before: {decision.old_value} ({decision.old_state.value}).")
