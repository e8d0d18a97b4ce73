"""Pages as the rooms above would hand them to the binder, for the tests of the record and its exports."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from scanform.binder import Binder, PageRecord, RecordedPage
from scanform.form.template import Template
from scanform.read.types import Alternative
from scanform.settle.types import Outcome, SettledField, State

PLACE = ((100.04, 200.0), (300.0, 200.0), (300.0, 240.0), (100.0, 240.0))
BYTES = b"%PDF-1.7 a feeder's file of sheets"

TEMPLATE = Template.model_validate(
    {
        "name": "wheel-loader",
        "version": 1,
        "title": "Wheel loader, before the shift",
        "machines": "wheel loaders",
        "walk": [
            {
                "stage": "Ground level",
                "items": [
                    {"name": "tires", "text": "Tires and rims"},
                    {"name": "brakes", "text": "Service brake holds", "critical": True},
                ],
            },
            {"stage": "In the cab", "items": [{"name": "horn", "text": "Horn sounds", "critical": True}]},
        ],
    }
)


def a_field(field_id: str, kind: str, value: str | bool | None, critical: bool = False) -> SettledField:
    """A field that the machine was sure of."""
    alternatives = (Alternative(value, 0.9987654321), Alternative(None, 0.0004))
    return SettledField(field_id, kind, value, State.ACCEPTED, 0.9987654321, (), PLACE, alternatives, critical)


def doubtful(field: SettledField, reason: str = "Cell 3 may be a 3 or an 8.") -> SettledField:
    """The same field, waiting for a person."""
    return replace(field, state=State.DOUBTFUL, confidence=0.61, reasons=(reason,))


def sheet_fields(
    unit: str = "LD-01", date: str = "2026-11-23", hours: str = "1234.5", **answers: str | None
) -> tuple[SettledField, ...]:
    """The fields of a clean sheet in the template's order; ``answers`` by item name, ``ok`` where not given."""
    items = [a_field(f"item.{i.name}", "choice", answers.get(i.name, "ok"), i.critical) for i in TEMPLATE.items]
    return (
        a_field("unit", "comb", unit),
        a_field("date", "comb", date),
        a_field("hours", "comb", hours),
        a_field("operator", "text", "A. Quarryman"),
        *items,
        a_field("defect.1.item", "comb", None),
        a_field("defect.1", "text", None),
        a_field("defect.1.repair", "decision", None),
        a_field("fit", "decision", "fit"),
        a_field("told", "text", None),
        a_field("signature", "signature", True),
    )


def with_field(fields: tuple[SettledField, ...], changed: SettledField) -> tuple[SettledField, ...]:
    """The fields with one of them replaced."""
    assert any(f.id == changed.id for f in fields)
    return tuple(changed if f.id == changed.id else f for f in fields)


def a_sheet(
    sha256: str, page_number: int = 1, fields: tuple[SettledField, ...] | None = None, **other: object
) -> PageRecord:
    """A page that was read as a sheet, filed under its unit and date fields."""
    fields = sheet_fields() if fields is None else fields
    by_id = {f.id: f.value for f in fields}
    record = PageRecord(
        source="monday.pdf",
        source_path="/scans/monday.pdf",
        page_number=page_number,
        sha256=sha256,
        outcome=Outcome.READ,
        template=TEMPLATE.name,
        version=TEMPLATE.version,
        serial=f"WL1-{page_number:04d}",
        unit=str(by_id["unit"]),
        date=dt.date.fromisoformat(str(by_id["date"])),
        width_px=2480,
        height_px=3508,
        residual_mm=0.0712345,
        fields=fields,
        ink_signature=b"\x00\x01\xff" * 20,
    )
    return replace(record, **other)  # type: ignore[arg-type]


def a_page(sha256: str, page_number: int, outcome: Outcome, reason: str | None = None) -> PageRecord:
    """A page that is no new sheet."""
    return PageRecord("monday.pdf", "/scans/monday.pdf", page_number, sha256, outcome, reason)


def record_sheets(binder: Binder, count: int) -> list[RecordedPage]:
    """Archive one file and record that many of its pages, each with its hours doubtful."""
    sha256 = binder.archive(BYTES, ".pdf")
    pages = []
    for number in range(1, count + 1):
        fields = sheet_fields(hours=f"{1200 + number}.5")
        fields = with_field(fields, doubtful(a_field("hours", "comb", f"{1200 + number}.5")))
        pages.append(binder.record_page(a_sheet(sha256, number, fields)))
    return pages


def archived_path(folder: Path) -> Path:
    """The one file in a binder's archive."""
    (path,) = [p for p in (folder / "pages").rglob("*") if p.is_file()]
    return path
