"""How many accepted fields there are that the spot checks speak of, and how many that they cannot.

A field counts while its sheet does: those of void sheets are neither vouched for nor vouch for others. What could never
be drawn as a spot check is counted apart: fields of pages that were recorded while none were drawn, and doubts that
other sheets have settled. A bound from spot checks says nothing of these.
"""

from __future__ import annotations

import json

from sqlalchemy import Connection, Engine, text

from scanform.binder.schema import PAGE_OF_ENTRY
from scanform.binder.settings import SPOT_CHECK_SHARE
from scanform.binder.store import reading
from scanform.settle.types import Outcome, State

__all__ = ["accepted_counts", "accepted_totals", "spot_check_counts"]

_FIRST_WITH_CHECKS = 2  # version of the record
_STATES = {"accepted": State.ACCEPTED.value, "confirmed": State.CONFIRMED.value, "read": Outcome.READ.value}
_COUNTS = "page_id IN (SELECT id FROM page WHERE outcome = :read)"
_COUNTS_NOT = "page_id IN (SELECT id FROM page WHERE outcome <> :read)"
# What the machine has accepted, and a person has perhaps confirmed since. Two queries, each by an index.
_ACCEPTED = (
    "SELECT (SELECT count(*) FROM field WHERE state = :accepted AND {which}) + (SELECT count(*) FROM (SELECT DISTINCT "
    "page_id, field_id FROM decision WHERE old_state = :accepted AND undone_by IS NULL AND {which}) AS looked_at)"
)
_IS_ACCEPTED = (
    "(field.state = :accepted OR EXISTS (SELECT 1 FROM decision WHERE decision.page_id = field.page_id AND "
    "decision.field_id = field.field_id AND decision.old_state = :accepted AND decision.undone_by IS NULL))"
)


def accepted_totals(engine: Engine) -> tuple[int, int]:
    """How many fields of sheets that count the machine has accepted: those that could have been drawn as spot checks,
    and those that could not.
    """
    with reading(engine) as connection:
        every = _count(connection, "1 = 1") - _count(connection, _COUNTS_NOT)
        undrawn = _undrawn(connection)
        beyond = _count(connection, f"{undrawn} AND {_COUNTS}") if undrawn else 0
        settled = (
            "SELECT count(*) FROM (SELECT DISTINCT json_extract(body, '$.page') AS page_id, "
            "json_extract(body, '$.field') AS field_id FROM journal WHERE kind = 'doubt-resolved') AS settled "
            f"JOIN field USING (page_id, field_id) WHERE field.read_state <> :accepted AND {_IS_ACCEPTED} AND {_COUNTS}"
        )
        settled += f" AND NOT {undrawn}" if undrawn else ""
        beyond += int(connection.execute(text(settled), _STATES).scalar_one())
    return every - beyond, beyond


def accepted_counts(engine: Engine) -> dict[tuple[str, str], int]:
    """How many fields the machine has accepted that could have been drawn, by field id and kind."""
    with reading(engine) as connection:
        undrawn = _undrawn(connection)
        query = (
            f"SELECT field_id, kind, count(*) FROM field WHERE read_state = :accepted AND {_IS_ACCEPTED} AND {_COUNTS}"
            f"{f' AND NOT {undrawn}' if undrawn else ''} GROUP BY field_id, kind"
        )
        return {(name, kind): count for name, kind, count in connection.execute(text(query), _STATES)}


def spot_check_counts(engine: Engine) -> tuple[int, list[tuple[str, str, str | None, str | None]]]:
    """How many spot checks on sheets that count wait; and of each answered one the field's name, kind, reading and
    answer.
    """
    answered = (
        "SELECT field.field_id, field.kind, field.read_value, field.value FROM (SELECT DISTINCT decision.page_id, "
        "decision.field_id FROM decision JOIN spot_check ON spot_check.page_id = decision.page_id AND "
        "spot_check.field_id = decision.field_id WHERE decision.undone_by IS NULL) AS looked_at JOIN field ON "
        "field.page_id = looked_at.page_id AND field.field_id = looked_at.field_id WHERE field.state = :confirmed "
        f"AND field.{_COUNTS}"
    )
    with reading(engine) as connection:
        count = int(connection.execute(text("SELECT count(*) FROM waiting WHERE spot_check")).scalar_one())
        rows = connection.execute(text(answered), _STATES).fetchall()
    return count, [(row[0], row[1], row[2], row[3]) for row in rows]


def _count(connection: Connection, which: str) -> int:
    return int(connection.execute(text(_ACCEPTED.format(which=which)), _STATES).scalar_one())


def _undrawn(connection: Connection) -> str:
    """A condition on ``page_id``: that the page was recorded while no spot checks were drawn; "" if none ever was."""
    of_no_page = f"SELECT seq, kind, body FROM journal WHERE {PAGE_OF_ENTRY} IS NULL ORDER BY seq"
    share, since, spans = SPOT_CHECK_SHARE, 0, list[tuple[int, int]]()
    for entry in connection.execute(text(of_no_page)):
        if entry.kind == "setting-changed":
            body = json.loads(entry.body)
            if body["setting"] == "spot_check_share":
                if share == 0:
                    spans.append((since, entry.seq))
                share, since = body["new"], entry.seq
        elif entry.kind == "binder-brought-up-to-date" and json.loads(entry.body)["from"] < _FIRST_WITH_CHECKS:
            spans.append((0, entry.seq))
    if share == 0:
        spans.append((since, 2**62))
    if not spans:
        return ""
    within = " OR ".join(f"max(seq) BETWEEN {first} AND {last}" for first, last in spans)
    return (
        f"page_id IN (SELECT {PAGE_OF_ENTRY} FROM journal WHERE kind IN ('page', 'page-read-again') "
        f"GROUP BY {PAGE_OF_ENTRY} HAVING {within})"
    )
