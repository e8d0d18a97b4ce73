"""Finding pages by what they are filed under and by how far they are settled, without loading their fields."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from sqlalchemy import ColumnElement, Connection, Engine, and_, func, select, true

from scanform.binder.pages import NOT_READ
from scanform.binder.schema import batch, field, page
from scanform.binder.store import reading
from scanform.binder.types import VOID, is_void
from scanform.errors import UsageError
from scanform.form import unit_characters
from scanform.settle.types import Outcome, State

__all__ = [
    "MOST_AT_ONCE",
    "Filing",
    "FoundSheet",
    "FoundSheets",
    "SheetQuery",
    "SheetState",
    "filings",
    "find_sheets",
    "serial_begins",
    "sheets_of_batch",
]

MOST_AT_ONCE = 500  # pages in one answer: more than a person scrolls through, little enough to draw at once
_AFTER_ANY_SIGN = "\x7f"  # sorts behind every sign that a serial has


class SheetState(StrEnum):
    """How far a sheet is settled; every sheet that was read is in exactly one.

    ``doubtful``: at least one field waits for a person. ``confirmed``: none does, and a person has said at least one.
    ``accepted``: the machine was sure of all, and nobody had to say anything.
    """

    DOUBTFUL = "doubtful"
    CONFIRMED = "confirmed"
    ACCEPTED = "accepted"


@dataclass(frozen=True)
class SheetQuery:
    """What is looked for; whatever is None does not matter.

    ``unit``: as people type it, with or without its hyphen, or its beginning. ``first`` and ``last``: dates, both
    included. ``serial``: a sheet's, or its beginning, such as a pad's name. ``batch``: pages that it recorded.
    A ``state`` is one of sheets that were read, so it leaves out pages of every other outcome. ``unread``: only pages
    from which no sheet was read and none was entered by hand; void ones are none of them.
    """

    unit: str | None = None
    first: dt.date | None = None
    last: dt.date | None = None
    template: str | None = None
    state: SheetState | None = None
    outcome: Outcome | None = None
    serial: str | None = None
    batch: int | None = None
    unread: bool = False


@dataclass(frozen=True)
class FoundSheet:
    """A page without its fields; ``doubtful`` and ``confirmed`` count those in these states. ``part`` of ``parts``:
    which sheet of its picture it is.
    """

    number: int
    source: str
    page_number: int
    sha256: str
    outcome: Outcome
    reason: str | None
    template: str | None
    version: int | None
    serial: str | None
    unit: str | None
    date: dt.date | None
    doubtful: int
    confirmed: int
    part: int
    parts: int

    @property
    def void(self) -> bool:
        """Whether somebody has said that the sheet as a whole is void."""
        return is_void(self.outcome, self.reason)

    @property
    def state(self) -> SheetState | None:
        """How far it is settled; None if it was not read as a sheet."""
        if self.outcome is not Outcome.READ:
            return None
        return SheetState.DOUBTFUL if self.doubtful else SheetState.CONFIRMED if self.confirmed else SheetState.ACCEPTED


@dataclass(frozen=True)
class FoundSheets:
    """Some of the pages found, the newest date first, and how many there are in all."""

    sheets: tuple[FoundSheet, ...]
    total: int


@dataclass(frozen=True)
class Filing:
    """What the record's sheets can be looked for by: unit numbers and templates on record, each in order."""

    units: tuple[str, ...]
    templates: tuple[str, ...]


def find_sheets(engine: Engine, query: SheetQuery, start: int = 0, at_most: int = 50) -> FoundSheets:
    """Pages ``start`` and following of those that a query finds, newest first, undated ones last.

    UsageError if ``start`` or ``at_most`` cannot be.
    """
    if start < 0 or not 1 <= at_most <= MOST_AT_ONCE:
        raise UsageError(f"Pages {start} and {at_most} following cannot be asked for; ask for 1 to {MOST_AT_ONCE}.")
    with reading(engine) as connection:
        condition = _condition(connection, query)
        # All pages in a state are counted in one go; those shown are tried one after the other until there are enough.
        counted = select(func.count()).select_from(page).where(condition & _in_state(query.state, _among_all))
        total = connection.execute(counted).scalar_one()
        shown = select(page.c.id).where(condition & _in_state(query.state, _has_field))
        wanted = shown.order_by(page.c.date.desc(), page.c.id.desc())
        numbers = connection.execute(wanted.limit(at_most).offset(start)).scalars().all()
        return FoundSheets(_found(connection, numbers), total)


def sheets_of_batch(engine: Engine, batch_id: int) -> tuple[FoundSheet, ...]:
    """The pages fed in a batch, in input order; of an open batch those recorded so far, of one that is none nothing."""
    with reading(engine) as connection:
        stored = connection.execute(select(batch.c.ended_at, batch.c.pages).where(batch.c.id == batch_id)).first()
        if stored is not None and stored.ended_at is not None:
            numbers = list(stored.pages)
        else:
            numbers = list(connection.execute(select(page.c.id).where(page.c.batch_id == batch_id)).scalars())
        found: dict[int, FoundSheet] = {}
        for start in range(0, len(numbers), MOST_AT_ONCE):
            found |= {sheet.number: sheet for sheet in _found(connection, numbers[start : start + MOST_AT_ONCE])}
        return tuple(found[number] for number in numbers)


def filings(engine: Engine) -> Filing:
    """The units and templates of all pages on record."""
    with reading(engine) as connection:
        units = connection.execute(select(page.c.unit).where(page.c.unit.is_not(None)).distinct()).scalars()
        templates = connection.execute(select(page.c.template).where(page.c.template.is_not(None)).distinct()).scalars()
        return Filing(tuple(sorted(units)), tuple(sorted(templates)))


def serial_begins(beginning: str) -> ColumnElement[bool]:
    """Pages whose serial begins so, as that of every sheet of a pad begins with the pad's name."""
    # A range and not LIKE, which SQLite serves from no index.
    return (page.c.serial >= beginning) & (page.c.serial < beginning + _AFTER_ANY_SIGN)


def _condition(connection: Connection, query: SheetQuery) -> ColumnElement[bool]:
    wanted: list[ColumnElement[bool]] = []
    outcomes = {query.outcome, Outcome.READ if query.state is not None else None} - {None}
    for outcome in outcomes:
        # Nearly every page is a sheet: where no unit narrows them down, they are best gone through as they are shown.
        most = outcome is Outcome.READ and query.unit is None
        wanted.append((page.c.outcome + "" if most else page.c.outcome) == outcome)
    if query.unread:
        void = page.c.reason.startswith(VOID, autoescape=True)
        wanted.append(page.c.outcome.in_(NOT_READ) & (page.c.reason.is_(None) | ~void))
    if query.unit is not None:
        wanted.append(page.c.unit.in_(_units_meant(connection, query.unit)))
    if query.first is not None:
        wanted.append(page.c.date >= query.first.isoformat())
    if query.last is not None:
        wanted.append(page.c.date <= query.last.isoformat())
    if query.template is not None:
        wanted.append(page.c.template == query.template)
    if query.serial is not None:
        wanted.append(serial_begins(query.serial.strip().upper()))
    if query.batch is not None:
        wanted.append(page.c.batch_id == query.batch)
    return and_(true(), *wanted)


def _in_state(state: SheetState | None, has: Callable[[State], ColumnElement[bool]]) -> ColumnElement[bool]:
    if state is None:
        return true()
    doubtful, confirmed = has(State.DOUBTFUL), has(State.CONFIRMED)
    if state is SheetState.DOUBTFUL:
        return doubtful
    return ~doubtful & (confirmed if state is SheetState.CONFIRMED else ~confirmed)


def _among_all(state: State) -> ColumnElement[bool]:
    return page.c.id.in_(select(field.c.page_id).where(field.c.state == state.value))


def _has_field(state: State) -> ColumnElement[bool]:
    # One column, so that the index alone answers.
    return select(field.c.page_id).where((field.c.page_id == page.c.id) & (field.c.state == state.value)).exists()


def _units_meant(connection: Connection, typed: str) -> Sequence[str]:
    """The unit whose signs were typed; where there is none, all that begin with them."""
    signs = unit_characters(typed)
    units = connection.execute(select(page.c.unit).where(page.c.unit.is_not(None)).distinct()).scalars().all()
    exact = [unit for unit in units if unit_characters(unit) == signs]
    return exact or [unit for unit in units if signs and unit_characters(unit).startswith(signs)]


def _found(connection: Connection, numbers: Sequence[int]) -> tuple[FoundSheet, ...]:
    """The pages in the order of their numbers."""
    counted = (
        select(field.c.page_id, field.c.state, func.count().label("fields"))
        .join(page, (page.c.id == field.c.page_id) & (page.c.outcome == Outcome.READ.value))
        .where(field.c.page_id.in_(numbers) & field.c.state.in_((State.DOUBTFUL.value, State.CONFIRMED.value)))
        .group_by(field.c.page_id, field.c.state)
    )
    fields = {(row.page_id, row.state): row.fields for row in connection.execute(counted)}
    rows = {row.id: row for row in connection.execute(select(page).where(page.c.id.in_(numbers)))}
    return tuple(
        FoundSheet(
            number=number,
            source=rows[number].source,
            page_number=rows[number].page_number,
            sha256=rows[number].sha256,
            outcome=Outcome(rows[number].outcome),
            reason=rows[number].reason,
            template=rows[number].template,
            version=rows[number].version,
            serial=rows[number].serial,
            unit=rows[number].unit,
            date=dt.date.fromisoformat(rows[number].date) if rows[number].date else None,
            doubtful=fields.get((number, State.DOUBTFUL.value), 0),
            confirmed=fields.get((number, State.CONFIRMED.value), 0),
            part=rows[number].part,
            parts=rows[number].parts,
        )
        for number in numbers
    )
