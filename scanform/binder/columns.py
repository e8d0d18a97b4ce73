"""What lists are made from, as columns: a hundred thousand sheets must not become millions of Python objects.

Dates stay ISO 8601 text here, which sorts and compares as dates do. Each query meets one of the schema's indexes for
lists, so that the wide rows of ``page`` and ``field`` are hardly touched.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import pandas as pd
from sqlalchemy import Connection, CursorResult, Engine, Executable, bindparam, text

from scanform.binder.schema import DEFECT_SAID, ENTRY_WRITTEN
from scanform.binder.store import reading
from scanform.form import DAYS, DAYS_OF_MONTH
from scanform.settle.types import Outcome, State

__all__ = [
    "answers",
    "defect_lines",
    "defects_said",
    "doubt_counts",
    "fields_of",
    "ink_signatures",
    "marked_days",
    "pages",
    "places",
    "sheets",
    "waiting",
    "written",
]

_LAST_SHEET = 2**31 - 1
_AT_ONCE = 900  # bound values of one query; SQLite allowed 999 in old builds


def sheets(engine: Engine) -> pd.DataFrame:
    """Every sheet that was read, by record number.

    Columns: ``sheet`` (record number), ``unit``, ``date``, ``template``, ``version``, ``serial``, and ``unsure``: what
    of unit and date is doubtful, "" if neither.
    """
    query = "SELECT id, unit, date, template, version, serial FROM page WHERE outcome = :read ORDER BY id"
    doubts = (
        "SELECT page_id, field_id FROM field WHERE state = :doubtful AND field_id IN ('unit', 'date') "
        "ORDER BY page_id, position"
    )
    with reading(engine) as connection:
        rows = _tuples(connection.execute(text(query), {"read": Outcome.READ.value}))
        unsure: dict[int, str] = {}
        for page_id, field_id in connection.execute(text(doubts), {"doubtful": State.DOUBTFUL.value}):
            unsure[page_id] = f"{unsure[page_id]} and {field_id}" if page_id in unsure else field_id
    names = ["sheet", "unit", "date", "template", "version", "serial"]
    frame = pd.DataFrame(rows, columns=names, dtype=object)
    frame["unsure"] = frame["sheet"].map(unsure).fillna("") if unsure else ""
    return frame


def written(engine: Engine, begins: Sequence[str], among: Sequence[int] | None = None) -> pd.DataFrame:
    """What is written in the fields whose ids begin so, answers and marks left out.

    ``among``: at least those of these sheets (and of those between them); all if left out.

    Columns: ``sheet``, ``field``, ``value`` (as stored: a signature is "true" or "false"), ``state``.
    """
    parts = []
    first, last = (min(among, default=0), max(among, default=0)) if among is not None else (0, _LAST_SHEET)
    query = text(
        f"SELECT page_id, field_id, value, state FROM field WHERE {ENTRY_WRITTEN} "
        "AND field_id >= :begin AND field_id < :end AND page_id BETWEEN :first AND :last"
    )
    with reading(engine) as connection:
        for begin in begins:
            given = {"begin": begin, "end": begin + "\x7f", "first": int(first), "last": int(last)}
            parts.append(_frame(connection, query, given))
    return pd.concat(parts, ignore_index=True) if len(parts) > 1 else parts[0]


def defects_said(engine: Engine) -> pd.DataFrame:
    """Every answer Defect. Columns: ``sheet``, ``field``, ``value``, ``state``, ``critical``."""
    query = text(f"SELECT page_id, field_id, 'defect', state, critical FROM field WHERE {DEFECT_SAID}")
    with reading(engine) as connection:
        rows = _tuples(connection.execute(query))
    return pd.DataFrame(rows, columns=["sheet", "field", "value", "state", "critical"], dtype=object)


def fields_of(engine: Engine, sheets: Sequence[int]) -> pd.DataFrame:
    """All fields of some sheets. Columns: ``sheet``, ``field``, ``kind``, ``value``, ``state``, ``critical``."""
    query = text(
        "SELECT page_id, field_id, kind, value, state, critical FROM field WHERE page_id IN :sheets "
        "ORDER BY page_id, position"
    ).bindparams(bindparam("sheets", expanding=True))
    return pd.DataFrame(
        _in_turns(engine, query, sheets), columns=["sheet", "field", "kind", "value", "state", "critical"], dtype=object
    )


def defect_lines(engine: Engine) -> pd.DataFrame:
    """All that is written on defect lines and as an old form's remarks. Columns as for :func:`written`, and
    ``original``: the words as the ink says them letter by letter, None for anything else.
    """
    query = text(
        f"SELECT page_id, field_id, value, state, CASE kind WHEN 'text' THEN details END FROM field "
        f"WHERE {ENTRY_WRITTEN} AND (field_id >= 'defect.' AND field_id < 'defect/' "
        "OR field_id >= 'remarks' AND field_id < 'remarks/' OR field_id >= 'note.' AND field_id < 'note/')"
    )
    with reading(engine) as connection:
        rows = [
            (*row[:4], json.loads(row[4]).get("original") if row[4] else None)
            for row in connection.execute(query).fetchall()
        ]
    return pd.DataFrame(rows, columns=["sheet", "field", "value", "state", "original"], dtype=object)


def marked_days(engine: Engine, sheets: Sequence[int]) -> pd.DataFrame:
    """The days of weeks' and months' sheets on which any sign stands. Columns: ``sheet``, ``day`` (mon to sun, 1 to
    31), ``sure``: whether any of the day's signs is not doubtful.
    """
    sheets = _with_signs(engine, sheets)
    query = text(
        "SELECT page_id, substr(field_id, -3), max(state <> 'doubtful') FROM field "
        "WHERE page_id IN :sheets AND kind = 'mark' AND value IS NOT NULL GROUP BY 1, 2"
    ).bindparams(bindparam("sheets", expanding=True))
    found = ((sheet, end.rpartition(".")[2], bool(sure)) for sheet, end, sure in _in_turns(engine, query, sheets))
    days = [(sheet, day, sure) for sheet, day, sure in found if day in DAYS or day in DAYS_OF_MONTH]
    return pd.DataFrame(days, columns=["sheet", "day", "sure"], dtype=object)


def _with_signs(engine: Engine, sheets: Sequence[int]) -> list[int]:
    """Those of the sheets that have places for signs, as one sheet of each version of a template tells: all its sheets
    have the same fields. Most of a record's sheets have no such place.
    """
    of_page = text("SELECT id, template, version FROM page WHERE id IN :sheets").bindparams(
        bindparam("sheets", expanding=True)
    )
    by_form: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for number, *form in _in_turns(engine, of_page, sheets):
        by_form[tuple(form)].append(number)
    marked = text("SELECT DISTINCT page_id FROM field WHERE page_id IN :sheets AND kind = 'mark'").bindparams(
        bindparam("sheets", expanding=True)
    )
    telling = {number for (number,) in _in_turns(engine, marked, [numbers[0] for numbers in by_form.values()])}
    return [number for numbers in by_form.values() if numbers[0] in telling for number in numbers]


def pages(engine: Engine) -> pd.DataFrame:
    """Every page, whatever became of it, by record number.

    Columns: ``page_id``, ``sha256``, ``source``, ``page``, ``outcome``, ``reason``, ``template``, ``version``,
    ``unit``, ``date``.
    """
    names = ["page_id", "sha256", "source", "page", "outcome", "reason", "template", "version", "unit", "date"]
    query = (
        "SELECT id, sha256, source, page_number, outcome, reason, template, version, unit, date FROM page ORDER BY id"
    )
    with reading(engine) as connection:
        rows = _tuples(connection.execute(text(query)))
    return pd.DataFrame(rows, columns=names, dtype=object)


def waiting(engine: Engine) -> set[int]:
    """The sheets that have a doubt or an unanswered spot check."""
    query = (
        "SELECT page_id FROM field WHERE state = :doubtful UNION SELECT field.page_id FROM field JOIN spot_check "
        "ON spot_check.page_id = field.page_id AND spot_check.field_id = field.field_id WHERE field.state = :accepted"
    )
    with reading(engine) as connection:
        states = {"doubtful": State.DOUBTFUL.value, "accepted": State.ACCEPTED.value}
        return {int(number) for (number,) in connection.execute(text(query), states)}


def answers(engine: Engine, field_id: str, sheets: Sequence[int]) -> pd.DataFrame:
    """What some sheets answer in one field. Columns: ``sheet``, ``value``, ``state``; sheets without the field lack."""
    query = text(
        "SELECT page_id, value, state FROM field WHERE page_id IN :sheets AND field_id = :field_id"
    ).bindparams(bindparam("sheets", expanding=True), field_id=field_id)
    return pd.DataFrame(_in_turns(engine, query, sheets), columns=["sheet", "value", "state"], dtype=object)


def doubt_counts(engine: Engine) -> tuple[int, int]:
    """How many fields are doubtful on sheets that were read, and how many of these are safety-critical."""
    query = text(
        "SELECT count(*), coalesce(sum(CASE WHEN field.critical THEN 1 ELSE 0 END), 0) FROM field "
        "JOIN page ON page.id = field.page_id WHERE field.state = :doubtful AND page.outcome = :read"
    )
    with reading(engine) as connection:
        row = connection.execute(query, {"doubtful": State.DOUBTFUL.value, "read": Outcome.READ.value}).one()
    return int(row[0]), int(row[1])


def ink_signatures(engine: Engine, sheets: Sequence[int]) -> dict[int, bytes]:
    """The ink signatures of some sheets, as far as they have one."""
    query = text("SELECT id, ink_signature FROM page WHERE id IN :sheets AND ink_signature IS NOT NULL").bindparams(
        bindparam("sheets", expanding=True)
    )
    return {number: bytes(ink) for number, ink in _in_turns(engine, query, sheets)}


def places(engine: Engine, sheets: Sequence[int]) -> pd.DataFrame:
    """Where some sheets came from, by record number. Columns: ``sheet``, ``source``, ``page``, ``part`` and ``parts``:
    which sheet of the picture it is, and of how many.
    """
    query = text("SELECT id, source, page_number, part, parts FROM page WHERE id IN :sheets ORDER BY id").bindparams(
        bindparam("sheets", expanding=True)
    )
    names = ["sheet", "source", "page", "part", "parts"]
    return pd.DataFrame(_in_turns(engine, query, sorted(set(sheets))), columns=names, dtype=object)


def _in_turns(engine: Engine, query: Executable, sheets: Sequence[int]) -> list[tuple[Any, ...]]:
    rows: list[tuple[Any, ...]] = []
    with reading(engine) as connection:
        for start in range(0, len(sheets), _AT_ONCE):
            some = [int(number) for number in sheets[start : start + _AT_ONCE]]
            rows += _tuples(connection.execute(query, {"sheets": some}))
    return rows


def _frame(connection: Connection, query: Executable, given: dict[str, object]) -> pd.DataFrame:
    rows = _tuples(connection.execute(query, given))
    return pd.DataFrame(rows, columns=["sheet", "field", "value", "state"], dtype=object)


def _tuples(result: CursorResult[Any]) -> list[tuple[Any, ...]]:
    """Its rows as plain tuples. pandas asks each row for attributes that the library's own rows are slow to deny.

    All are fetched at once: one by one takes longer than the database does.
    """
    return [tuple(row) for row in result.fetchall()]
