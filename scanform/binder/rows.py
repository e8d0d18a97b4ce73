"""Pages and fields to database rows and journal bodies, and back. One place decides how a value is written down."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Row, RowMapping

from scanform.binder.types import PageRecord
from scanform.read.types import Alternative
from scanform.settle.types import Outcome, SettledField, State

__all__ = [
    "BEFORE_COLUMN",
    "CONFIRMED_CONFIDENCE",
    "PAGE_COLUMNS",
    "READ_COLUMNS",
    "field_rows",
    "journal_field",
    "journal_page",
    "page_from",
    "page_row",
    "plain_value",
    "settled_from",
    "stored_value",
    "writable",
]

# How often a value that one person keyed once is right: 0.370 errors in 1,000 fields. Paulsen, Overgaard and
# Lauritsen, PLoS ONE 7(4) e35087 (2012). It stands beside the machine's own confidences, so it has to be honest too.
CONFIRMED_CONFIDENCE = 0.99963

SIGNED, UNSIGNED = "true", "false"

# What a page is filed with from the start, besides its id; the journal's page entry carries the same.
PAGE_COLUMNS = (
    "batch_id",
    "source",
    "source_path",
    "page_number",
    "sha256",
    "outcome",
    "reason",
    "template",
    "version",
    "serial",
    "unit",
    "date",
    "width_px",
    "height_px",
    "residual_mm",
    "part",
    "parts",
)

# What journal entries from before a column existed are taken to say.
BEFORE_COLUMN = {"part": 1, "parts": 1}

# What the machine said about a field; nothing changes these later.
READ_COLUMNS = ("position", "field_id", "kind", "critical", "read_value", "read_state", "read_confidence", "reasons")


def stored_value(value: str | bool | None) -> str | None:
    """A field's value as the ``value`` columns hold it."""
    if isinstance(value, bool):
        return SIGNED if value else UNSIGNED
    return None if value is None else writable(value)


def plain_value(kind: str, stored: str | None) -> str | bool | None:
    """A field's value from a ``value`` column."""
    if kind == "signature" and stored is not None:
        return stored == SIGNED
    return stored


def page_row(record: PageRecord) -> dict[str, Any]:
    """The row of ``page`` for a record, without its id. A residual that is no number is kept as None."""
    residual = record.residual_mm
    return {
        "batch_id": record.batch_id,
        "source": writable(record.source),
        "source_path": writable(record.source_path),
        "page_number": record.page_number,
        "sha256": record.sha256,
        "outcome": Outcome(record.outcome).value,
        "reason": writable(record.reason),
        "template": record.template,
        "version": record.version,
        "serial": record.serial,
        "unit": record.unit,
        "date": record.date.isoformat() if record.date else None,
        "width_px": record.width_px,
        "height_px": record.height_px,
        "residual_mm": round(float(residual), 4) if residual is not None and math.isfinite(residual) else None,
        "ink_signature": record.ink_signature,
        "part": record.part,
        "parts": record.parts,
    }


def field_rows(page_id: int, fields: Iterable[SettledField]) -> list[dict[str, Any]]:
    """The rows of ``field``: confidences to 6 decimal places, polygons to 0.1 px, so that they hash alike."""
    rows = []
    for position, field in enumerate(fields):
        value, state = stored_value(field.value), State(field.state).value
        rows.append(
            {
                "page_id": page_id,
                "position": position,
                "field_id": field.id,
                "kind": str(field.kind),
                "critical": bool(field.critical),
                "value": value,
                "state": state,
                "read_value": value,
                "read_state": state,
                "read_confidence": round(float(field.confidence), 6),
                "reasons": json.dumps([writable(r) for r in field.reasons], ensure_ascii=False),
                "details": _details(field),
            }
        )
    return rows


def journal_page(page_id: int, row: Mapping[str, Any], fields: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """The body of a page's journal entry: the page and what was read, details and ink signature by SHA-256."""
    ink = row["ink_signature"]
    body = {column: row[column] for column in PAGE_COLUMNS}
    body["page"] = page_id
    body["ink_sha256"] = hashlib.sha256(ink).hexdigest() if ink is not None else None
    body["fields"] = [journal_field(f) for f in fields]
    return body


def journal_field(row: Mapping[str, Any] | RowMapping) -> dict[str, Any]:
    """A field as it stands in its page's journal entry; built from its row of ``field``."""
    return {
        "id": row["field_id"],
        "kind": row["kind"],
        "critical": bool(row["critical"]),
        "value": plain_value(row["kind"], row["read_value"]),
        "state": row["read_state"],
        "confidence": row["read_confidence"],
        "reasons": json.loads(row["reasons"]),
        "details": hashlib.sha256(row["details"].encode()).hexdigest(),
    }


def page_from(row: Row[Any], fields: tuple[SettledField, ...]) -> PageRecord:
    """A page's record from its row of ``page`` and its fields."""
    return PageRecord(
        source=row.source,
        source_path=row.source_path,
        page_number=row.page_number,
        sha256=row.sha256,
        outcome=Outcome(row.outcome),
        reason=row.reason,
        template=row.template,
        version=row.version,
        serial=row.serial,
        unit=row.unit,
        date=dt.date.fromisoformat(row.date) if row.date else None,
        width_px=row.width_px,
        height_px=row.height_px,
        residual_mm=row.residual_mm,
        fields=fields,
        ink_signature=row.ink_signature,
        batch_id=row.batch_id,
        part=row.part,
        parts=row.parts,
    )


def settled_from(row: Row[Any]) -> SettledField:
    """A field as it stands now, from its row of ``field``; a confirmed one has no reasons left."""
    details, confirmed = json.loads(row.details), row.state == State.CONFIRMED
    return SettledField(
        id=row.field_id,
        kind=row.kind,
        value=plain_value(row.kind, row.value),
        state=State(row.state),
        confidence=CONFIRMED_CONFIDENCE if confirmed else row.read_confidence,
        reasons=() if confirmed else tuple(json.loads(row.reasons)),
        polygon_px=tuple((x / 10, y / 10) for x, y in details["polygon_tenth_px"]),
        alternatives=tuple(Alternative(value, p) for value, p in details["alternatives"]),
        critical=row.critical,
        original=details.get("original"),
    )


def _details(field: SettledField) -> str:
    details: dict[str, Any] = {
        "polygon_tenth_px": [[round(float(x) * 10), round(float(y) * 10)] for x, y in field.polygon_px],
        "alternatives": [[a.value, round(float(a.probability), 6)] for a in field.alternatives],
    }
    if field.original is not None:
        details["original"] = field.original
    return json.dumps(details, ensure_ascii=True, separators=(",", ":"))


def writable(text: str | None) -> str | None:
    """A text as the record can hold it."""
    # A file name that is not UTF-8 reaches Python with lone surrogates, which neither SQLite nor JSON can carry.
    return None if text is None else text.encode("utf-8", "backslashreplace").decode("utf-8")
