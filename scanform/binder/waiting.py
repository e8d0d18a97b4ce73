"""What waits for a person, kept as a table of its own so that the next doubt is found without going through it all.

The table follows from the fields' states and the spot checks drawn; whoever changes a state calls
:func:`note_waiting` in the same transaction. It also carries who is looking at a doubt just now, which is nobody's
history and in no journal.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from sqlalchemy import ColumnElement, Connection, delete, insert, select, true

from scanform.binder.schema import field, page, spot_check, waiting
from scanform.form import parted
from scanform.settle.types import Outcome, State

__all__ = ["fill_waiting", "note_page_waiting", "note_waiting", "sort_of", "waiting_rows"]

# After the safety-critical ones: what a sheet is filed under, since nothing can be looked up without it.
_ORDER = ("unit", "date", "hours", "item", "fit", "defect", "told", "signature", "initials", "workshop", "operator")
_DOUBT, _CHECK = 0, 2  # spot checks come last: they can wait, a doubt cannot


def sort_of(field_id: str) -> str:
    """What fields are settled together as one task: the words of every defect line are one sort, and a week's days."""
    return re.sub(r"\d+", "#", parted(field_id)[0])


def note_waiting(connection: Connection, page_id: int, field_id: str) -> None:
    """Put a field among those that wait, or take it out, as its state now says. Whoever was looking at it loses it."""
    this = (waiting.c.page_id == page_id) & (waiting.c.field_id == field_id)
    connection.execute(delete(waiting).where(this))
    _put(connection, (field.c.page_id == page_id) & (field.c.field_id == field_id))


def note_page_waiting(connection: Connection, page_id: int) -> None:
    """The same for all fields of a page that was just recorded."""
    _put(connection, field.c.page_id == page_id)


def fill_waiting(connection: Connection) -> None:
    """Make the table anew from the states of all fields."""
    connection.execute(delete(waiting))
    _put(connection, true())


def waiting_rows(connection: Connection, which: ColumnElement[bool]) -> Iterator[dict[str, Any]]:
    """What the table should hold by the states of the fields that meet a condition on ``field``."""
    columns = select(field.c.page_id, field.c.field_id, field.c.critical)
    on_sheet = columns.join(page, page.c.id == field.c.page_id).where(page.c.outcome == Outcome.READ.value)
    for row in connection.execute(on_sheet.where(which & (field.c.state == State.DOUBTFUL.value))):
        yield _row(row, _DOUBT)
    # The few spot checks lead to their fields, not the many accepted fields to their spot checks.
    drawn = (spot_check.c.page_id == field.c.page_id) & (spot_check.c.field_id == field.c.field_id)
    for row in connection.execute(on_sheet.join(spot_check, drawn).where(which & _accepted_by_key())):
        yield _row(row, _CHECK)


def _accepted_by_key() -> ColumnElement[bool]:
    # Joined to nothing, so that SQLite does not take the index on the state, under which nearly every field stands.
    return (field.c.state + "") == State.ACCEPTED.value


def _put(connection: Connection, which: ColumnElement[bool]) -> None:
    rows = list(waiting_rows(connection, which))
    if rows:
        connection.execute(insert(waiting), rows)


def _row(found: Any, kind: int) -> dict[str, Any]:
    first = found.field_id.partition(".")[0]
    place = _ORDER.index(first) if first in _ORDER else len(_ORDER)
    sort = sort_of(found.field_id)
    return {
        "page_id": found.page_id,
        "field_id": found.field_id,
        "urgency": f"{kind + (not found.critical)}.{place:02d}.{sort}",
        "sort": sort,
        "critical": found.critical,
        "spot_check": kind == _CHECK,
    }
