"""What people decide about fields: confirming, and taking it back. Nothing is overwritten in the history."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Row, func, insert, select, update

from scanform.binder import journal
from scanform.binder.rows import plain_value, settled_from, stored_value
from scanform.binder.schema import decision, field, page, template_item
from scanform.binder.store import reading, writing
from scanform.binder.types import Decision, is_void
from scanform.binder.values import checked_initials, checked_value
from scanform.binder.waiting import note_waiting
from scanform.errors import FieldTaken, UsageError
from scanform.settle.types import Outcome, SettledField, State

__all__ = [
    "confirm",
    "decisions",
    "last_entries",
    "last_entry_about",
    "newest_decisions",
    "split_ref",
    "undo_last",
    "undo_last_on",
]

_FILED_UNDER = ("unit", "date")  # fields that also say where the sheet is filed


def confirm(
    engine: Engine, folder: Path, ref: str, value: str | bool | None, initials: str, seen: int | None = None
) -> SettledField:
    """Set a field to what a person says is on the paper; the value before stays in the journal.

    Saying the same thing about the same field again writes nothing. ``seen``: the journal entry that had last changed
    the field when the person looked at it (0: none had), None to decide whatever it holds now. UsageError names what is
    wrong with the reference, the value or the initials; FieldTaken says who has decided since.
    """
    who = checked_initials(initials)
    number, field_id = split_ref(ref)
    with writing(engine, folder) as connection:
        row, sheet = _field_row(connection, number, field_id)
        before = settled_from(row)
        new_value = checked_value(before, value, _item_numbers(connection, sheet))
        if not _said_before(connection, row, new_value, who):
            if seen is not None and seen != last_entry_about(connection, number, field_id):
                raise _taken(connection, row)
            body = {
                "page": number,
                "field": field_id,
                "initials": who,
                "old": {"value": before.value, "state": before.state.value},
                "new": {"value": new_value, "state": State.CONFIRMED.value},
                "filed_before": _filed(sheet),
                "filed_after": _filed(sheet) | ({field_id: new_value} if field_id in _FILED_UNDER else {}),
            }
            at = journal.now()
            seq = journal.append(connection, "field-confirmed", body, at)
            connection.execute(insert(decision), _decision_row(seq, at, body))
            _apply(connection, body)
        return settled_from(_field_row(connection, number, field_id)[0])


def undo_last(engine: Engine, folder: Path, initials: str) -> Decision:
    """Take back this person's last decision that still stands; returns that decision.

    UsageError if there is none, or if somebody has decided the same field since.
    """
    return _undo(engine, folder, checked_initials(initials), None)


def undo_last_on(engine: Engine, folder: Path, number: int, initials: str) -> Decision:
    """The same for this person's last decision about one sheet."""
    return _undo(engine, folder, checked_initials(initials), number)


def _undo(engine: Engine, folder: Path, who: str, number: int | None) -> Decision:
    """Take back the last of a person's decisions, or of those about a sheet, that stands."""
    with writing(engine, folder) as connection:
        standing = decision.c.undone_by.is_(None)
        mine = select(decision).where((decision.c.initials == who) & standing).order_by(decision.c.seq.desc())
        if number is not None:
            mine = mine.where(decision.c.page_id == number)
        last = connection.execute(mine.limit(1)).first()
        if last is None:
            where = f" on sheet {number}" if number is not None else ""
            raise UsageError(f"{who} has no decision left to take back{where}.")
        same_field = (decision.c.page_id == last.page_id) & (decision.c.field_id == last.field_id)
        later = connection.execute(
            select(decision.c.initials).where(same_field & standing & (decision.c.seq > last.seq))
        ).scalar()
        ref = f"{last.page_id}.{last.field_id}"
        if later is not None:
            raise UsageError(f"{later} has decided {ref} since; {later} has to take that back first.")
        row, sheet = _field_row(connection, last.page_id, last.field_id)
        body = {
            "undoes": last.seq,
            "page": last.page_id,
            "field": last.field_id,
            "initials": who,
            "old": {"value": plain_value(row.kind, row.value), "state": row.state},
            "new": {"value": plain_value(row.kind, last.old_value), "state": last.old_state},
            "filed_before": _filed(sheet),
            "filed_after": _filed(sheet) | _filed_by(last),
        }
        seq = journal.append(connection, "decision-undone", body)
        connection.execute(update(decision).where(decision.c.seq == last.seq).values(undone_by=seq))
        _apply(connection, body)
        taken = connection.execute(_with_kind().where(decision.c.seq == last.seq)).one()
    return _decision_from(taken)


def decisions(engine: Engine) -> list[Decision]:
    """Every decision in the order it was made, those taken back included."""
    with reading(engine) as connection:
        return [_decision_from(row) for row in connection.execute(_with_kind().order_by(decision.c.seq))]


def newest_decisions(engine: Engine, count: int) -> list[Decision]:
    """The last so many decisions in the order they were made, those taken back included."""
    newest = _with_kind().order_by(decision.c.seq.desc()).limit(count)
    with reading(engine) as connection:
        return [_decision_from(row) for row in connection.execute(newest)][::-1]


def split_ref(ref: str) -> tuple[int, str]:
    """A reference such as ``12.hours`` in its two parts; UsageError if it is none."""
    parts = re.fullmatch(r"\s*(\d{1,9})\.([a-z0-9][a-z0-9.\-]*)\s*", ref.lower())
    if parts is None:
        raise UsageError(
            f"'{ref}' names no field; write the sheet's number, a full stop and the field, as in 12.hours."
        )
    return int(parts[1]), parts[2]


def last_entry_about(connection: Connection, page_id: int, field_id: str) -> int:
    """The journal entry that last changed a field; 0 while it is as it was read."""
    latest = func.max(func.max(decision.c.seq, func.coalesce(decision.c.undone_by, 0)))
    query = select(latest).where((decision.c.page_id == page_id) & (decision.c.field_id == field_id))
    return connection.execute(query).scalar() or 0


def last_entries(engine: Engine, number: int) -> dict[str, int]:
    """The journal entry that last changed a field of a page, by field id; fields as they were read are left out."""
    latest = func.max(func.max(decision.c.seq, func.coalesce(decision.c.undone_by, 0)))
    query = select(decision.c.field_id, latest.label("entry")).where(decision.c.page_id == number)
    with reading(engine) as connection:
        return {row.field_id: row.entry for row in connection.execute(query.group_by(decision.c.field_id))}


def _taken(connection: Connection, row: Row[Any]) -> FieldTaken:
    same_field = (decision.c.page_id == row.page_id) & (decision.c.field_id == row.field_id)
    standing = select(decision).where(same_field & decision.c.undone_by.is_(None)).order_by(decision.c.seq.desc())
    last = connection.execute(standing.limit(1)).first()
    name = f"{row.page_id}.{row.field_id}"
    if last is None:
        return FieldTaken(f"Somebody has taken back a decision about {name} meanwhile; look at it again.")
    at = dt.datetime.fromisoformat(last.at).astimezone().strftime("%H:%M")
    value = plain_value(row.kind, row.value)
    said = f"'{value}'" if isinstance(value, str) else {None: "blank", True: "signed", False: "unsigned"}[value]
    return FieldTaken(f"{last.initials} was first: {name} is {said} since {at}. Yours was not saved; look at it again.")


def _field_row(connection: Connection, number: int, field_id: str) -> tuple[Row[Any], Row[Any]]:
    sheet = connection.execute(select(page).where(page.c.id == number)).first()
    if sheet is None:
        raise UsageError(f"There is no sheet {number} in this binder.")
    if is_void(sheet.outcome, sheet.reason):
        raise UsageError(f"Sheet {number} is void; take that back before you change what stands on it.")
    if sheet.outcome != Outcome.READ:
        raise UsageError(f"Page {number} was not read as a sheet ({sheet.outcome}); it has no fields to confirm.")
    fields = connection.execute(select(field).where(field.c.page_id == number).order_by(field.c.position)).all()
    for row in fields:
        if row.field_id == field_id:
            return row, sheet
    raise UsageError(
        f"Sheet {number} has no field '{field_id}'; it has {', '.join(r.field_id for r in fields) or 'none'}."
    )


def _item_numbers(connection: Connection, sheet: Row[Any]) -> list[int]:
    of_sheet = (template_item.c.template == sheet.template) & (template_item.c.version == sheet.version)
    return list(connection.execute(select(template_item.c.number).where(of_sheet)).scalars())


def _said_before(connection: Connection, row: Row[Any], value: str | bool | None, who: str) -> bool:
    if row.state != State.CONFIRMED or plain_value(row.kind, row.value) != value:
        return False
    same_field = (decision.c.page_id == row.page_id) & (decision.c.field_id == row.field_id)
    last = (
        select(decision.c.initials)
        .where(same_field & decision.c.undone_by.is_(None))
        .order_by(decision.c.seq.desc())
        .limit(1)
    )
    return connection.execute(last).scalar() == who


def _filed(sheet: Row[Any]) -> dict[str, Any]:
    return {"unit": sheet.unit, "date": sheet.date}


def _filed_by(row: Row[Any]) -> dict[str, Any]:
    if row.field_id not in _FILED_UNDER:
        return {}
    return {row.field_id: row.old_unit if row.field_id == "unit" else row.old_date}


def _decision_row(seq: int, at: str, body: dict[str, Any]) -> dict[str, Any]:
    return {
        "seq": seq,
        "at": at,
        "page_id": body["page"],
        "field_id": body["field"],
        "initials": body["initials"],
        "old_value": stored_value(body["old"]["value"]),
        "old_state": body["old"]["state"],
        "new_value": stored_value(body["new"]["value"]),
        "new_state": body["new"]["state"],
        "old_unit": body["filed_before"]["unit"],
        "old_date": body["filed_before"]["date"],
    }


def _apply(connection: Connection, body: dict[str, Any]) -> None:
    this = (field.c.page_id == body["page"]) & (field.c.field_id == body["field"])
    new = {"value": stored_value(body["new"]["value"]), "state": body["new"]["state"]}
    connection.execute(update(field).where(this).values(**new))
    note_waiting(connection, body["page"], body["field"])
    if body["filed_after"] != body["filed_before"]:
        connection.execute(update(page).where(page.c.id == body["page"]).values(**body["filed_after"]))


def _with_kind() -> Any:
    same = (field.c.page_id == decision.c.page_id) & (field.c.field_id == decision.c.field_id)
    # Outer: the fields of an entry by hand that was taken back are gone, what was said about them is not.
    return select(decision, field.c.kind).join(field, same, isouter=True)


def _decision_from(row: Row[Any]) -> Decision:
    return Decision(
        seq=row.seq,
        ref=f"{row.page_id}.{row.field_id}",
        at=dt.datetime.fromisoformat(row.at),
        initials=row.initials,
        old_value=plain_value(row.kind, row.old_value),
        old_state=State(row.old_state),
        new_value=plain_value(row.kind, row.new_value),
        new_state=State(row.new_state),
        undone_by=row.undone_by,
    )
