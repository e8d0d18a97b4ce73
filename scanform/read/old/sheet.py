"""Read every field of a form that scanform did not print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scanform.form import Field, FieldKind
from scanform.locate import LocatedSheet
from scanform.read.choices import read_choices
from scanform.read.combs import read_combs
from scanform.read.crossing import crossed_out
from scanform.read.instruments import Instruments
from scanform.read.old.boxes import EvenBoxes, as_even_boxes, too_small
from scanform.read.old.circles import read_circles
from scanform.read.old.grade import old_scan_grade
from scanform.read.old.signs import read_signs
from scanform.read.old.writing import read_line, read_lines
from scanform.read.types import Reading
from scanform.read.writing import read_initials, read_signature

__all__ = ["is_one_line", "read_old_sheet"]

_BOXES = (FieldKind.CHOICE, FieldKind.DECISION)


def read_old_sheet(sheet: LocatedSheet, instruments: Instruments) -> list[Reading]:
    """One Reading for each field of the sheet, in the layout's order."""
    fields = sheet.layout.fields
    read: list[Reading] = []
    even = as_even_boxes(sheet)
    boxes = _of(fields, *_BOXES)
    ticked = read_choices(even, boxes, instruments.marks)
    read += [_doubted(even, field, reading) for field, reading in zip(boxes, ticked, strict=True)]
    read += read_combs(sheet, _of(fields, FieldKind.COMB), instruments.characters, instruments.lines, {})
    read += read_signs(even, _of(fields, FieldKind.MARK), instruments)
    read += read_circles(sheet, _of(fields, FieldKind.CIRCLE))
    read += [_presence(sheet, field) for field in _of(fields, FieldKind.SIGNATURE)]
    read += [read_line(sheet, field, instruments.lines, instruments.numbers) for field in fields if is_one_line(field)]
    words = [field for field in _of(fields, FieldKind.TEXT) if not is_one_line(field)]
    read += [read_lines(sheet, field, instruments.lines) for field in words]
    readings = {reading.field_id: reading for reading in read}
    grade, crossed = old_scan_grade(sheet).value, crossed_out(sheet, read)
    return [replace(readings[field.id], scan_grade=grade, crossed_out=crossed) for field in fields]


def _presence(sheet: LocatedSheet, field: Field) -> Reading:
    return read_initials(sheet, field) if field.id.startswith("initials") else read_signature(sheet, field)


def _doubted(sheet: EvenBoxes, field: Field, reading: Reading) -> Reading:
    """The reading with what speaks against it on old forms."""
    found = []
    if too_small(field):
        found.append("the boxes are smaller than any that reading was measured on")
    value = reading.alternatives[0].value
    if any(sheet.is_dot(answer.box_mm) for answer in field.answers if answer.answer == value):
        found.append("the mark is a small round spot and may be dirt")
    return replace(reading, evidence=(*reading.evidence, *found))


def is_one_line(field: Field) -> bool:
    """Whether a field holds a date, a number or a unit number in free writing."""
    by_kind = field.kind in (FieldKind.DATE, FieldKind.NUMBER)
    return by_kind or (field.kind is FieldKind.TEXT and field.id.partition(".")[0] == "unit")


def _of(fields: Sequence[Field], *kinds: FieldKind) -> list[Field]:
    return [field for field in fields if field.kind in kinds]
