"""A sheet that somebody crossed out as a whole: void. Nothing on it counts, and its page is accounted for all the same.
A page that was not read, and of which somebody says that it is no sheet, is laid aside in the same way.

What was read and said stays with the page and in the journal, so that a void can be taken back. Meanwhile the page is
on record as one from which no sheet was read.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Row, delete, func, select, update

from scanform.binder import journal
from scanform.binder.history import VOID_TAKEN_BACK, VOIDED, VOIDS, entries_of_page
from scanform.binder.pages import NOT_READ, page_in
from scanform.binder.schema import decision, page, waiting
from scanform.binder.store import reading, writing
from scanform.binder.types import VOID, RecordedPage, is_void
from scanform.binder.values import checked_initials
from scanform.binder.waiting import note_page_waiting
from scanform.errors import UsageError
from scanform.settle.types import Outcome

__all__ = ["take_back_void", "void_last_said", "void_sheet"]

_LONGEST = 200  # characters of what a person says is wrong with the sheet


def void_sheet(engine: Engine, folder: Path, number: int, initials: str, why: str) -> RecordedPage:
    """Let nothing on a sheet count any more, because the paper as a whole is void; ``why`` in a few words.

    UsageError if there is no such sheet, or nothing is said.
    """
    who, said = checked_initials(initials), " ".join(why.split())
    if not said or not said.isprintable() or len(said) > _LONGEST:
        raise UsageError(f"Say in up to {_LONGEST} characters why sheet {number} is void, such as 'crossed out'.")
    with writing(engine, folder) as connection:
        sheet = _page(connection, number)
        if sheet.outcome not in (Outcome.READ, *NOT_READ) or is_void(sheet.outcome, sheet.reason):
            what = "void" if is_void(sheet.outcome, sheet.reason) else sheet.outcome
            raise UsageError(
                f"Page {number} is on record as {what}; only a sheet that was read or a page that could not be is made "
                "void."
            )
        after = {"outcome": Outcome.UNREADABLE.value, "reason": f"{VOID}{said} ({who})"}
        _change(connection, VOIDED, sheet, after, who)
        connection.execute(delete(waiting).where(waiting.c.page_id == number))
        return page_in(connection, number)


def take_back_void(engine: Engine, folder: Path, number: int, initials: str) -> RecordedPage:
    """Let a sheet count again as it did before somebody said that it is void; UsageError if it is not."""
    who = checked_initials(initials)
    with writing(engine, folder) as connection:
        sheet = _page(connection, number)
        said = [entry for entry in entries_of_page(connection, number) if entry.kind in VOIDS]
        if not said or said[-1].kind != VOIDED:
            raise UsageError(f"Page {number} is not void, so there is nothing to take back.")
        _change(connection, VOID_TAKEN_BACK, sheet, json.loads(said[-1].body)["filed_before"], who)
        note_page_waiting(connection, number)
        return page_in(connection, number)


def void_last_said(engine: Engine, initials: str) -> int | None:
    """The sheet that is void because this person said so, and has decided nothing since that stands; else None."""
    who = checked_initials(initials)
    mine = (decision.c.initials == who) & decision.c.undone_by.is_(None)
    void = (page.c.outcome == Outcome.UNREADABLE.value) & page.c.reason.startswith(VOID)
    with reading(engine) as connection:
        decided = connection.execute(select(func.max(decision.c.seq)).where(mine)).scalar() or 0
        last = [
            next(entry for entry in reversed(entries_of_page(connection, number)) if entry.kind == VOIDED)
            for number in connection.execute(select(page.c.id).where(void)).scalars()
        ]
    own = [entry for entry in last if entry.seq > decided and json.loads(entry.body)["initials"] == who]
    return json.loads(max(own, key=lambda entry: entry.seq).body)["page"] if own else None


def _page(connection: Connection, number: int) -> Row[Any]:
    stored = connection.execute(select(page).where(page.c.id == number)).first()
    if stored is None:
        raise UsageError(f"There is no sheet {number} in this binder.")
    return stored


def _change(connection: Connection, kind: str, sheet: Row[Any], after: dict[str, Any], who: str) -> None:
    before = {"outcome": sheet.outcome, "reason": sheet.reason}
    connection.execute(update(page).where(page.c.id == sheet.id).values(**after))
    body = {"page": sheet.id, "initials": who, "filed_before": before, "filed_after": after}
    journal.append(connection, kind, body)
