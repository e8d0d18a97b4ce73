"""``scanform confirm`` and ``scanform undo``: a person has said."""

from __future__ import annotations

from typing import Annotated

import typer

from scanform.binder import Binder, checked_value, open_binder, split_ref
from scanform.binder.typed import unlikely
from scanform.cli.options import BinderFolder, Initials, say
from scanform.errors import UsageError
from scanform.report import value_in_words
from scanform.settle import same_value

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
    sure: Annotated[
        bool, typer.Option("--sure", help="The paper says so, although it is unlikely; asked for where it is.")
    ] = False,
) -> None:
    """Confirm or correct one field, or answer a spot check. The old value stays in the journal.

    Dates as 2026-11-25, hours as 4521.3, answers as ok, defect or na, signatures as signed or unsigned. What is
    unlikely (a day that is yet to come, a unit that the register lacks, hours that its meter cannot show) is kept only
    with --sure.
    """
    if (value is not None) + blank + as_read != 1:
        raise UsageError("Give one of: a value, --blank, --as-read.")
    with open_binder(binder) as record:
        said: str | bool | None = None if blank else _SIGNED.get(value or "", value)
        check = next((check for check in record.spot_checks() if check.ref == name.strip().lower()), None)
        if as_read and check is not None:
            raise UsageError(f"'{name}' is a spot check; say what the paper says instead of taking what was read.")
        if as_read:
            waiting = {doubt.ref: doubt for doubt in record.queue()}
            if name not in waiting:
                raise UsageError(
                    f"'{name}' is not among the doubts; see the list with: scanform doubts --binder {binder}"
                )
            said = waiting[name].field.value
        elif not sure:
            _refuse_unlikely(record, name, said)
        read = _as_read(record, check.ref) if check is not None else None
        field = record.confirm(name, said, initials)
        left, checks_left = len(record.queue()), len(record.spot_checks())
    shown = value_in_words(field.value)
    more = f", {checks_left} spot checks" if checks_left else ""
    say(f"{name} is {shown}, confirmed by {initials.upper()}. {left} doubts left{more}.")
    if check is not None and same_value(field.id, read, field.value):
        say("This was a spot check: the machine had read the same.")
    elif check is not None:
        say(f"This was a spot check: the machine had read '{value_in_words(read)}'. It is corrected, and counted.")


def _as_read(record: Binder, ref: str) -> str | bool | None:
    number, _, field_id = ref.partition(".")
    page = record.page_numbered(int(number))
    field = page.record.field(field_id) if page is not None else None
    return field.value if field is not None else None


def _refuse_unlikely(record: Binder, ref: str, said: str | bool | None) -> None:
    """UsageError with what speaks against a value that was typed; one slip would move every list's dates."""
    number, field_id = split_ref(ref)
    page = record.page_numbered(number)
    field = page.record.field(field_id) if page is not None else None
    if page is None or field is None:
        return  # whoever keeps the value says that there is no such field
    numbers = [item.number for item in record.items(page.record.template or "", page.record.version or 0)]
    asks = unlikely(record, page, field_id, checked_value(field, said, numbers))
    if asks is not None:
        raise UsageError(f"{ref}: {asks} Nothing was saved; if the paper says so, add --sure.")


def undo(binder: BinderFolder, initials: Initials) -> None:
    """Take back your last confirmation; run again to go further back. The journal keeps both."""
    with open_binder(binder) as record:
        decision = record.undo_last(initials)
    say(f"{decision.ref} is as it was before: {value_in_words(decision.old_value)} ({decision.old_state.value}).")
