"""``scanform retention`` and ``scanform discard``: how long sheets are kept, and what may go."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from pathlib import Path
from typing import Annotated

import typer

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, Initials, say
from scanform.report import (
    RETENTION_RULES,
    closings_that_go_on,
    defect_register,
    files_that_may_go,
    keeping,
    rule_in_words,
)
from scanform.report.wording import counted

__all__ = ["discard", "retention"]

_SHOWN = 20


def retention(
    binder: BinderFolder,
    every: Annotated[bool, typer.Option("--all", help="Every page with its rule, not only what may go.")] = False,
) -> None:
    """List which files may go and by which rule; nothing is deleted.

    A file goes when every page of it has had its time. Whatever is open stays: defects until they are closed, doubts,
    spot checks, pages that were never read, sheets without unit or date. Set a longer time for everything with scanform
    settings --keep-months; kinds of sheet that no rule gives a time stay until there is one.
    """
    today = dt.date.today()
    with open_binder(binder) as record:
        kept = keeping(record)
    going = files_that_may_go(kept, today)
    if every:
        for page in kept:
            until = "may go" if page.until == dt.date.min else f"until {page.until or 'further notice'}"
            say(f"{page.page} {page.unit or '?'} {page.date or '?'}: {until} ({page.rule})")
    for sha256, pages in list(going.items())[:_SHOWN]:
        say(f"May go: {Path(pages[0].source).name}, {counted(len(pages), 'page')} ({rule_in_words(pages)}); {sha256}")
    if len(going) > _SHOWN:
        say(f"... and {len(going) - _SHOWN} more")
    staying = Counter(page.rule.partition(";")[0] for page in kept if page.sha256 not in going and page.until is None)
    for why, count in staying.most_common():
        say(f"Stay: {counted(count, 'page')}, {why}")
    say(
        f"{counted(len(going), 'file')} with {counted(sum(map(len, going.values())), 'page')} may go. {RETENTION_RULES}"
    )


def discard(
    binder: BinderFolder,
    initials: Initials,
    yes: Annotated[bool, typer.Option("--yes", help="Delete; without it, only the list.")] = False,
) -> None:
    """Delete the files whose time is over, with all their pages. There is no way back but a backup.

    Each file leaves a journal entry with its SHA-256, its pages, the hashes of their entries and the rule that let it
    go. What was read from it stays in the journal, since the chain of hashes hangs on it; its ink does not. Where a
    closed defect was also reported on a sheet that stays, its closing is put on record there, so that it stays closed.
    """
    if not yes:
        retention(binder)
        say("Nothing was deleted. Add --yes to delete what may go.")
        return
    with open_binder(binder) as record:
        register = defect_register(record)
        going = files_that_may_go(keeping(record, register), dt.date.today())
        carried = closings_that_go_on(register, {page.page for pages in going.values() for page in pages})
        gone = record.delete_files({sha: rule_in_words(pages) for sha, pages in going.items()}, initials, carried)
    say(f"{counted(len(going), 'file')} with {counted(len(gone), 'page')} deleted; the journal says which and why.")
