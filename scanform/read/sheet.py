"""Read every field of a located sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scanform.form import Field, FieldKind
from scanform.locate import LocatedSheet, page_qualities, scan_grade
from scanform.read.choices import read_choices
from scanform.read.combs import read_combs
from scanform.read.crossing import crossed_out
from scanform.read.instruments import Instruments
from scanform.read.old import read_old_sheet
from scanform.read.symbols import read_symbols
from scanform.read.types import Reading
from scanform.read.writing import read_initials, read_name, read_signature, read_words

__all__ = ["Instruments", "ink_signature", "read_sheet"]


def read_sheet(sheet: LocatedSheet, instruments: Instruments) -> list[Reading]:
    """One Reading for each field of the sheet, in the layout's order."""
    if sheet.layout.blank_png:
        return read_old_sheet(sheet, instruments)
    fields = sheet.layout.fields
    grouped = [f for f in fields if f.kind in (FieldKind.CHOICE, FieldKind.DECISION)]
    combs = [f for f in fields if f.kind is FieldKind.COMB]
    readings = {r.field_id: r for r in read_choices(sheet, grouped, instruments.marks)}
    read = read_combs(sheet, combs, instruments.characters, instruments.lines, _printed(sheet))
    readings |= {r.field_id: r for r in read}
    signs = [f for f in fields if f.kind is FieldKind.MARK]
    readings |= {r.field_id: r for r in read_symbols(sheet, signs, instruments.symbols)}
    for field in fields:
        if field.id.startswith("initials."):
            readings[field.id] = read_initials(sheet, field)
        elif field.kind is FieldKind.SIGNATURE:
            readings[field.id] = read_signature(sheet, field)
        elif field.kind is FieldKind.TEXT:
            readings[field.id] = _read_text(sheet, field, instruments)
    grade = scan_grade(page_qualities(sheet)).value
    crossed = crossed_out(sheet, list(readings.values()))
    return [replace(readings[field.id], scan_grade=grade, crossed_out=crossed) for field in fields]


def _read_text(sheet: LocatedSheet, field: Field, instruments: Instruments) -> Reading:
    if field.id.startswith("defect."):
        return read_words(sheet, field, instruments.lines)
    return read_name(sheet, field, instruments.lines)


def _printed(sheet: LocatedSheet) -> dict[str, str]:
    """What the press put into combs, as the code says."""
    printed = {}
    if sheet.code is not None and sheet.code.unit is not None:
        printed["unit"] = sheet.code.unit
    if sheet.code is not None and sheet.code.on is not None:
        printed["date"] = sheet.code.on.isoformat()
    return printed


def ink_signature(readings: Sequence[Reading]) -> bytes:
    """A small picture of where the ink lies in every tick box of a sheet: uint8, 64 bytes a box.

    Two scans of one sheet agree in it; two sheets, even with the same answers, do not. See
    :func:`scanform.settle.same_ink`.
    """
    return b"".join(reading.ink_picture.tobytes() for reading in readings if reading.ink_picture is not None)
