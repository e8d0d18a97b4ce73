"""What the tables have to hold if the journal is true: the journal told again from its first entry."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import rfc8785
from sqlalchemy import Connection, select

from scanform.binder.closings import closing_row
from scanform.binder.deletion import forget_pages
from scanform.binder.journal import NOTHING_YET, Head, entry_hash
from scanform.binder.rows import stored_value
from scanform.binder.schema import journal

__all__ = ["RECORDED", "Replay", "replay", "spot_check_rows", "tell"]

RECORDED = ("page", "page-read-again")  # kinds of entries that say what was read on a page

Row = dict[str, Any]
_TABLES = (
    *("decision", "batch", "unit", "crew", "word", "template", "template_item", "spot_check", "setting"),
    *("closing", "calendar", "person"),
)


@dataclass
class Replay:
    """The state that follows from the journal. Pages stay in the journal until they are compared: ``page_seq``
    says where each one's entry is, ``changes`` what people decided about it, in order.
    """

    page_seq: dict[int, int] = field(default_factory=dict)
    changes: dict[int, list[Row]] = field(default_factory=lambda: defaultdict(list))
    tables: dict[str, dict[Any, Row]] = field(default_factory=lambda: {n: {} for n in _TABLES})
    last: Head = NOTHING_YET
    problems: list[str] = field(default_factory=list)


def replay(connection: Connection) -> Replay:
    """Check the chain entry by entry and tell it again; what is wrong with it is in ``problems``."""
    told = Replay()
    for entry in connection.execute(select(journal).order_by(journal.c.seq)).yield_per(200):
        told.problems += _chain_problems(entry, told.last)
        told.last = Head(entry.seq, entry.hash)
        tell(told, entry)
    return told


def tell(told: Replay, entry: Any) -> None:
    """Add what one entry (a row of the journal) says to what those before it have told."""
    try:
        _tell(told, entry, json.loads(entry.body))
    except (ValueError, KeyError, TypeError, AttributeError):
        told.problems.append(f"Journal entry {entry.seq} ({entry.kind}) cannot be read; it was changed.")


def spot_check_rows(number: int, field_ids: Iterable[str]) -> dict[Any, Row]:
    """The rows of ``spot_check`` for the fields of a page that were drawn, by their keys."""
    rows = ({"page_id": number, "field_id": name} for name in field_ids)
    return {tuple(row.values()): row for row in rows}


def _chain_problems(entry: Any, last: Head) -> Iterator[str]:
    if entry.seq == last.seq + 2:
        yield f"Journal entry {last.seq + 1} is missing."
    elif entry.seq != last.seq + 1:
        yield f"Journal entries {last.seq + 1} to {entry.seq - 1} are missing."
    elif entry.previous_hash != last.hash:
        yield f"Journal entry {entry.seq} does not follow the entry before it; one of the two was replaced."
    try:
        found = entry_hash(entry.seq, entry.at, entry.kind, json.loads(entry.body), entry.previous_hash)
    except ValueError:
        found = ""
    if found != entry.hash:
        yield f"Journal entry {entry.seq} ({entry.kind}, {entry.at}) does not match its hash; it was changed."


def _tell(told: Replay, entry: Any, body: Row) -> None:
    tables = told.tables
    match entry.kind:
        case "binder-made" | "binder-brought-up-to-date":
            pass
        case "setting-changed":
            key = body["setting"]
            tables["setting"][key] = {"key": key, "value": rfc8785.dumps(body["new"]).decode()}
        case "page":
            if body["page"] in told.page_seq:
                told.problems.append(f"Journal entry {entry.seq} records page {body['page']} a second time.")
            told.page_seq[body["page"]] = entry.seq
            tables["spot_check"].update(_spot_checks(body))
        case "page-read-again":
            if body["page"] not in told.page_seq:
                told.problems.append(
                    f"Journal entry {entry.seq} reads page {body['page']} again, which nothing recorded."
                )
            told.page_seq[body["page"]] = entry.seq
            tables["spot_check"].update(_spot_checks(body))
        case "field-doubted" | "doubt-resolved" | "sheet-voided" | "void-taken-back":
            told.changes[body["page"]].append(body)
        case "page-entered-by-hand" | "entry-taken-back":
            if body["page"] not in told.page_seq:
                told.problems.append(f"Journal entry {entry.seq} enters page {body['page']}, which nothing recorded.")
            told.page_seq[body["page"]] = entry.seq
            told.changes.pop(body["page"], None)  # they were about fields that the page no longer has
        case "field-confirmed":
            told.changes[body["page"]].append(body)
            tables["decision"][entry.seq] = _decision(entry, body)
        case "decision-undone":
            told.changes[body["page"]].append(body)
            tables["decision"][body["undoes"]]["undone_by"] = entry.seq
        case "defect-closed":
            tables["closing"][entry.seq] = closing_row(entry.seq, entry.at, body)
        case "closing-withdrawn":
            tables["closing"][body["undoes"]]["undone_by"] = entry.seq
        case "pages-deleted":
            for number in body["pages"]:
                told.page_seq.pop(number)
                told.changes.pop(number, None)
            forget_pages(tables, body["pages"])
        case "calendar-loaded":
            tables["calendar"].update({(row["unit"], row["day"]): row for row in body["rows"]})
        case "batch-begun":
            tables["batch"][body["batch"]] = {
                "id": body["batch"],
                "begun_at": entry.at,
                "sources": body["sources"],
                **dict.fromkeys(("ended_at", "pages_in", "more_sheets", "pages", "balance")),
            }
        case "batch-ended":
            ended = {"ended_at": entry.at} | {k: body[k] for k in ("pages_in", "pages", "balance")}
            ended["more_sheets"] = body.get("more_sheets")  # batches closed before version 3 do not say
            tables["batch"][body["batch"]].update(ended)
        case "units-loaded":
            tables["unit"].update({row["unit"]: row for row in body["rows"]})
        case "crew-loaded":
            tables["crew"].update({name: {"name": name} for name in body["names"]})
        case "words-loaded":
            tables["word"].update({(row["word"], row["category"]): row for row in body["rows"]})
        case "person-set":
            tables["person"][body["initials"]] = {k: body[k] for k in ("initials", "name", "role")}
        case "template-kept":
            key = {"template": body["template"], "version": body["version"]}
            tables["template"][tuple(key.values())] = key | {"title": body["title"]}
            tables["template_item"].update({(*key.values(), row["item"]): key | row for row in body["items"]})
        case "form-adopted":
            pass  # whose version it is, and what proves it: no table holds that
        case unknown:
            told.problems.append(f"Journal entry {entry.seq} is of a kind that nothing writes: {unknown}.")


def _spot_checks(body: Row) -> dict[Any, Row]:
    # Pages recorded before there were spot checks have none.
    return spot_check_rows(body["page"], body.get("spot_checks", ()))


def _decision(entry: Any, body: Row) -> Row:
    return {
        "seq": entry.seq,
        "at": entry.at,
        "page_id": body["page"],
        "field_id": body["field"],
        "initials": body["initials"],
        "old_value": stored_value(body["old"]["value"]),
        "old_state": body["old"]["state"],
        "new_value": stored_value(body["new"]["value"]),
        "new_state": body["new"]["state"],
        "old_unit": body["filed_before"]["unit"],
        "old_date": body["filed_before"]["date"],
        "undone_by": None,
    }
