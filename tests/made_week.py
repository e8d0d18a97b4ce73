"""Readings of a week's sheet made by hand, for the tests of settling, which need no ink."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from functools import lru_cache

import numpy as np
from made_readings import PLACE, SURE, cell_row
from made_readings import written as line_of_writing

from scanform.form import DAYS, Field, FieldKind, Layout, Paper, find_template, lay_out, parted
from scanform.read import EMPTY, Alternative, Reading
from scanform.read.strings import best_strings
from scanform.settle import Known, MeterReading, SettledField, UnitRecord, settle_sheet

MONDAY = date(2026, 11, 23)
TODAY = date(2026, 11, 30)
KNOWN = Known(units=(UnitRecord("HT-21"), UnitRecord("HT-23")), crew=("Dora Pell",), today=TODAY)
WORKED = DAYS[:5]


@lru_cache(maxsize=1)
def week() -> Layout:
    return lay_out(find_template("quarry-weekly"), Paper.A4)


def written(field_id: str, text: str | None) -> Reading:
    """A comb with sure characters, numbers to the right."""
    spec = week().field(field_id)
    digits = (text or "").replace(".", "")
    right = parted(field_id)[0] == "hours" or field_id.endswith(".item")
    cells = digits.rjust(len(spec.cells_mm), EMPTY) if right else digits.ljust(len(spec.cells_mm), EMPTY)
    rows = np.stack([cell_row(sign, spec.charset) for sign in cells])
    ranked = [Alternative(t if t.strip() else None, p) for t, p in best_strings(rows, 5)]
    return Reading(
        field_id,
        FieldKind.COMB,
        tuple(ranked),
        PLACE,
        0.05,
        cell_probabilities=rows,
        cell_other=np.zeros(len(cells), np.float32),
    )


def sign(field_id: str, value: str | None, probability: float = SURE, evidence: tuple[str, ...] = ()) -> Reading:
    """A mark: its answer, the rest spread over the other answers."""
    others = [v for v in ("ok", "defect", "na", None) if v != value]
    rest = [Alternative(v, (1 - probability) / len(others)) for v in others]
    ranked = sorted([Alternative(value, probability), *rest], key=lambda a: -a.probability)
    return Reading(field_id, FieldKind.MARK, tuple(ranked), PLACE, 0.05, evidence=evidence)


def there(field_id: str, value: str | bool | None) -> Reading:
    """A text, decision or signature that is sure."""
    spec = week().field(field_id)
    if spec.kind is FieldKind.TEXT and value is not None:
        return line_of_writing(field_id, list(str(value)))
    others: list[str | bool | None] = [not value] if spec.kind is FieldKind.SIGNATURE else []
    ranked = [Alternative(value, SURE), *(Alternative(o, 1 - SURE) for o in others)]
    return Reading(field_id, spec.kind, tuple(ranked), PLACE, 0.05, ink_mm2=1.0)


def _clean(spec: Field, worked: tuple[str, ...]) -> Reading:
    stem, day = parted(spec.id)
    if spec.kind is FieldKind.MARK:
        return sign(spec.id, "ok" if day in worked else None)
    if stem == "hours":
        return written(spec.id, f"{4500 + 9 * DAYS.index(str(day))}.5" if day in worked else None)
    if spec.kind is FieldKind.COMB:
        return written(spec.id, {"unit": "HT21", "date": "20261123"}.get(spec.id))
    if stem == "initials":
        return there(spec.id, day in worked)
    value: str | bool | None = {"operator": "Dora Pell", "signature": True, "fit": "fit"}.get(spec.id)
    return there(spec.id, False if spec.id == "workshop.signature" else value)


def settle_week(*changed: Reading, worked: tuple[str, ...] = WORKED, known: Known = KNOWN) -> dict[str, SettledField]:
    """A clean week with some readings replaced, settled: fields by id."""
    by_id = {reading.field_id: reading for reading in changed}
    assert set(by_id) <= {spec.id for spec in week().fields}
    readings = [by_id.get(spec.id) or _clean(spec, worked) for spec in week().fields]
    return {field.id: field for field in settle_sheet(week(), readings, known)}


def meter(on: date, hours: str) -> Known:
    """What is known, with one meter reading of the unit."""
    return Known(KNOWN.units, KNOWN.crew, (MeterReading("HT-21", on, Decimal(hours)),), TODAY)
