"""What people say closed a defect: a repair, or that none is needed. The workshop's block on paper needs no entry."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, insert, select, update

from scanform.binder import journal
from scanform.binder.decisions import split_ref
from scanform.binder.said_at import changed_since
from scanform.binder.schema import closing, field, page
from scanform.binder.store import reading, writing
from scanform.binder.types import Closing, ClosingWish
from scanform.binder.values import DECISION_ANSWERS, checked_initials
from scanform.errors import UsageError
from scanform.settle.types import Outcome

__all__ = ["close_defects", "closing_row", "closings", "put_closing", "withdraw_closing"]

_LONGEST = 200  # characters of a name or of what the paper is called


def close_defects(engine: Engine, folder: Path, wishes: Sequence[ClosingWish], initials: str) -> list[Closing]:
    """Put closings on the record, all of them or none; saying the same again writes nothing, unless the sheet has been
    changed since: then it is about what stands there now.

    UsageError names the reference and what is wrong with it, with the date or with the name.
    """
    who = checked_initials(initials)
    with writing(engine, folder) as connection:
        return [_close(connection, wish, who) for wish in wishes]


def withdraw_closing(engine: Engine, folder: Path, ref: str, initials: str) -> Closing:
    """Take back the last closing of a report that still stands; UsageError if there is none."""
    who = checked_initials(initials)
    number, field_id = split_ref(ref)
    with writing(engine, folder) as connection:
        standing = (closing.c.page_id == number) & (closing.c.field_id == field_id) & closing.c.undone_by.is_(None)
        last = connection.execute(select(closing).where(standing).order_by(closing.c.seq.desc()).limit(1)).first()
        if last is None:
            raise UsageError(f"{ref}: nobody has closed it by a command, so there is nothing to take back.")
        seq = journal.append(connection, "closing-withdrawn", {"undoes": last.seq, "initials": who})
        connection.execute(update(closing).where(closing.c.seq == last.seq).values(undone_by=seq))
        return _closing_from(connection.execute(select(closing).where(closing.c.seq == last.seq)).one())


def closings(engine: Engine) -> list[Closing]:
    """Every closing in the order of the journal, those taken back included."""
    with reading(engine) as connection:
        return [_closing_from(row) for row in connection.execute(select(closing).order_by(closing.c.seq))]


def closing_row(seq: int, at: str, body: dict[str, Any]) -> dict[str, Any]:
    """The row of ``closing`` that follows from a journal entry."""
    plain = {key: body[key] for key in ("initials", "repair", "closed_on", "closed_by", "paper")}
    return {"seq": seq, "page_id": body["page"], "field_id": body["field"], "at": at, **plain, "undone_by": None}


def _close(connection: Connection, wish: ClosingWish, who: str) -> Closing:
    number, field_id = split_ref(wish.ref)
    _check(connection, wish, number, field_id)
    return put_closing(connection, wish, who)


def put_closing(connection: Connection, wish: ClosingWish, who: str) -> Closing:
    """Put a closing that was checked before on the record, inside the caller's transaction."""
    number, field_id = split_ref(wish.ref)
    body = {
        "page": number,
        "field": field_id,
        "initials": who,
        "repair": wish.repair,
        "closed_on": wish.closed_on.isoformat(),
        "closed_by": wish.closed_by,
        "paper": wish.paper,
    }
    same = (closing.c.page_id == number) & (closing.c.field_id == field_id) & closing.c.undone_by.is_(None)
    for row in connection.execute(select(closing).where(same)):
        same_words = all(getattr(row, key) == body[key] for key in ("repair", "closed_on", "closed_by", "paper"))
        if same_words and not changed_since(connection, number, row.seq):
            return _closing_from(row)
    at = journal.now()
    seq = journal.append(connection, "defect-closed", body, at)
    connection.execute(insert(closing), [closing_row(seq, at, body)])
    return _closing_from(connection.execute(select(closing).where(closing.c.seq == seq)).one())


def _check(connection: Connection, wish: ClosingWish, number: int, field_id: str) -> None:
    if wish.repair not in DECISION_ANSWERS["repair"]:
        raise UsageError(f"{wish.ref}: '{wish.repair}' closes nothing; say {' or '.join(DECISION_ANSWERS['repair'])}.")
    for what, text in (("closed_by", wish.closed_by), ("paper", wish.paper)):
        if not text.strip() or not text.isprintable() or len(text) > _LONGEST:
            raise UsageError(
                f"{wish.ref}: {what} '{text}' says nothing; name the competent person, and the paper or screen."
            )
    sheet = connection.execute(select(page.c.outcome, page.c.date).where(page.c.id == number)).first()
    if sheet is None or sheet.outcome != Outcome.READ:
        raise UsageError(f"{wish.ref}: there is no sheet {number} in this binder; take the name from the defect list.")
    known = connection.execute(
        select(field.c.value).where((field.c.page_id == number) & (field.c.field_id == field_id))
    ).first()
    if known is None or not field_id.startswith(("item.", "defect.")):
        raise UsageError(f"{wish.ref}: this is no report of a defect; take the name from the defect list.")
    if sheet.date is not None and wish.closed_on.isoformat() < sheet.date:
        raise UsageError(
            f"{wish.ref}: it was reported on {sheet.date}, so it cannot have been closed on {wish.closed_on}; "
            "check the date."
        )
    if wish.closed_on > dt.date.today():
        raise UsageError(f"{wish.ref}: {wish.closed_on} is still to come; close a defect once it is closed.")


def _closing_from(row: Any) -> Closing:
    return Closing(
        seq=row.seq,
        ref=f"{row.page_id}.{row.field_id}",
        at=dt.datetime.fromisoformat(row.at),
        initials=row.initials,
        repair=row.repair,
        closed_on=dt.date.fromisoformat(row.closed_on),
        closed_by=row.closed_by,
        paper=row.paper,
        undone_by=row.undone_by,
    )
