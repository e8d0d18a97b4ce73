"""Families of fields that are read alike, judged together and share a threshold; and when two values are the same."""

from __future__ import annotations

from scanform.form import FieldKind, unit_characters

__all__ = ["FAMILIES", "KIND_FAMILIES", "family_of", "same_value"]

# Family, and what a person calls its fields. The names are those of the calibration's families.
FAMILIES = {
    "choice": "answers",
    "mark": "weekly marks",
    "numbers": "unit, date, hours",
    "item-number": "item numbers",
    "name": "names",
    "words": "defect words",
    "signature": "signatures",
    "circle": "circled words",
    "date": "written dates",
    "number": "written numbers",
    "written-unit": "written unit numbers",
}
# Of the calibration's kinds those that are not a family of their own. They are read by the same network, and their
# errors are bounded together, because each kind alone has too few fields for a bound. "choice-changed" is an answer
# with another one plainly struck out beside it.
KIND_FAMILIES = {
    "choice-changed": "choice",
    "unit": "numbers",
    "date": "numbers",
    "hours": "numbers",
    "unit-free": "numbers-free",
    "hours-free": "numbers-free",
    "written-date": "date",
    "written-date-free": "date-free",
    "written-hours": "number",
    "written-hours-between": "number",
    "written-number": "number",
    "written-hours-free": "number-free",
}


def family_of(field_id: str, kind: str) -> str:
    """The family of a field by its id and its kind in the layout."""
    last = field_id.rpartition(".")[2]
    if kind in (FieldKind.CHOICE, FieldKind.DECISION):
        return "choice"
    if kind == FieldKind.COMB:
        return "item-number" if last == "item" else "numbers"
    if kind == FieldKind.TEXT and field_id.partition(".")[0] == "unit":
        return "written-unit"
    if kind == FieldKind.TEXT:
        return "words" if field_id.startswith("defect.") else "name"
    return str(kind)


def same_value(field_id: str, one: str | bool | None, other: str | bool | None) -> bool:
    """Whether two values say the same: capitals and spacing aside, and in unit numbers all but letters and digits."""
    if isinstance(one, str) and isinstance(other, str):
        if field_id == "unit":
            return unit_characters(one) == unit_characters(other)
        return " ".join(one.casefold().split()) == " ".join(other.casefold().split())
    return one == other or (one in (None, "") and other in (None, ""))
