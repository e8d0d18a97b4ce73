"""What is wrong with a form under way, each fault in a sentence beside the entry that it is about."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from pydantic import ValidationError

from scanform.desk.forms_draft import Draft, DraftField
from scanform.desk.forms_fault import Fault
from scanform.desk.forms_print import beside_print
from scanform.form import AdoptedField, AdoptedTemplate, BlankPicture, FieldKind, ItemEntry, Sign, Stage

__all__ = ["checked"]

_STAGE = "Check list"  # of items of which nobody has said where on the walk they are
_FIELD_NAME = "a name is small letters and digits with single dots or hyphens between, such as item.brakes"
_ANSWER_NAME = "an answer is small letters and digits with single hyphens between, such as ok, defect or na"
_SENTENCES: dict[tuple[str, str], str] = {
    ("id", "string_pattern_mismatch"): _FIELD_NAME,
    ("id", "string_too_long"): "this name is too long; 60 letters are the most",
    ("answer", "string_pattern_mismatch"): _ANSWER_NAME,
    ("answer", "string_too_long"): "this answer is too long; 24 letters are the most",
    ("name", "string_pattern_mismatch"): (
        "a form's name is small letters and digits with single hyphens between, such as road-truck"
    ),
    ("name", "string_too_long"): "a name may have 24 letters",
    ("pattern", "string_pattern_mismatch"): (
        "the order of characters is written with d, m and y for a date, as in ddmmyyyy, or with h and t for hours and "
        "tenths, as in hhhhht"
    ),
    ("box_mm", "missing"): "this field has no place on the page; draw it anew",
    ("sign", "string_too_short"): "a line of the legend needs its sign: tick, cross, dash, or the letters as printed",
    ("sign", "string_too_long"): "a sign is at most 8 letters",
}
_GEOMETRY = {"greater_than_equal", "less_than_equal", "greater_than"}
_PLACES = {
    FieldKind.COMB: "cells_mm",
    FieldKind.CHOICE: "answers",
    FieldKind.DECISION: "answers",
    FieldKind.CIRCLE: "answers",
}


def checked(
    draft: Draft, version: int, owner: str | None, png: bytes = b""
) -> tuple[AdoptedTemplate | None, list[Fault]]:
    """The draft as a template of that version, or all that keeps it from being one.

    ``owner``: the title of the form that has its name, if it is another one than it follows. ``png``: the picture of
    the blank; it may be left out where only the faults are asked for.
    """
    faults: list[Fault] = []
    if owner is not None:
        said = f"This name belongs to '{owner}'; give another, or, under Forms, make that form's next version."
        faults.append(Fault(part="form", key="name", said=said))
    fields = [_field(n, field, faults) for n, field in enumerate(draft.form.fields)]
    faults += beside_print(draft)
    signs = [_sign(n, sign.model_dump(), faults) for n, sign in enumerate(draft.form.signs)]
    walk = _walk(draft.form.fields, faults)
    if faults:
        return None, faults
    try:
        template = AdoptedTemplate(
            name=draft.form.name,
            version=version,
            title=draft.form.title,
            machines=draft.form.machines,
            covers=draft.form.covers,
            walk=walk,
            width_mm=draft.width_mm,
            height_mm=draft.height_mm,
            picture=BlankPicture(file=draft.picture_file, sha256=draft.picture),
            picture_png=png,
            fields=tuple(field for field in fields if field is not None),
            signs=tuple(sign for sign in signs if sign is not None),
            words=draft.words,
            rules_mm=draft.rules_mm,
        )
    except ValidationError as problem:
        return None, [_fault_of_form(error) for error in problem.errors()]
    return template, []


def _field(number: int, field: DraftField, faults: list[Fault]) -> AdoptedField | None:
    place = _PLACES.get(field.kind, "box_mm")
    data = field.model_dump(include={"id", "kind", "label", place})
    data["charset"] = field.charset if field.kind is FieldKind.COMB else ""
    data["pattern"] = field.pattern if field.kind in (FieldKind.COMB, FieldKind.DATE, FieldKind.NUMBER) else ""
    if place != "box_mm" and not data[place]:
        what = "cell" if place == "cells_mm" else "answer"
        faults.append(Fault(part="field", at=number, key=place, said=f"This field has no {what} yet; add one."))
        return None
    try:
        return AdoptedField.model_validate(data)
    except ValidationError as problem:
        found = {(fault.key, fault.said): fault for fault in (_fault_at("field", number, e) for e in problem.errors())}
        faults += found.values()
        return None


def _sign(number: int, data: dict[str, Any], faults: list[Fault]) -> Sign | None:
    try:
        return Sign.model_validate(data)
    except ValidationError as problem:
        faults.append(_fault_at("sign", number, problem.errors()[0]))
        return None


def _walk(fields: Sequence[DraftField], faults: list[Fault]) -> tuple[Stage, ...]:
    """The check list from its fields, in their order; the days of one item are one entry."""
    stages: dict[str, list[ItemEntry]] = {}
    named: set[str] = set()
    for number, field in enumerate(fields):
        name = field.id.split(".")[1] if field.id.startswith("item.") else ""
        if not name or name in named:
            continue
        named.add(name)
        stage = field.stage.strip() or _STAGE
        try:
            entry = ItemEntry(name=name, text=field.label, critical=field.critical)
            Stage(stage=stage, items=(entry,))
        except ValidationError as problem:
            faults.append(_fault_of_item(number, problem.errors()[0]))
            continue
        stages.setdefault(stage, []).append(entry)
    return tuple(Stage(stage=stage, items=tuple(items)) for stage, items in stages.items())


def _fault_of_item(number: int, error: Any) -> Fault:
    if error["loc"][0] == "text":
        said = "An item of the check list needs its printed words, 120 letters at most."
        return Fault(part="field", at=number, key="label", said=said)
    if error["loc"][0] == "stage":
        return Fault(part="field", at=number, key="stage", said="A stop of the walk has 120 letters at most.")
    said = "An item's name, after 'item.', is at most 24 small letters and digits with hyphens between."
    return Fault(part="field", at=number, key="id", said=said)


def _fault_at(part: Literal["field", "sign"], number: int, error: Any) -> Fault:
    loc = [str(entry) for entry in error["loc"]]
    keys = [key for key in loc if not key.isdigit()]
    key = keys[0] if keys else ""
    if error["type"] in _GEOMETRY:
        return Fault(part=part, at=number, key=key, said="This lies off the page or has no size; move it back.")
    # Of the last key that means something: a union's members name themselves after it.
    inner = "answer" if key == "answers" and "answer" in keys else key
    return Fault(part=part, at=number, key=key, said=_said(inner, error))


def _fault_of_form(error: Any) -> Fault:
    where = (*error["loc"], *error.get("ctx", {}).get("at", ()))
    if len(where) >= 2 and where[0] == "fields" and isinstance(where[1], int):
        return Fault(part="field", at=where[1], key=str(where[2]) if len(where) > 2 else "", said=_said("", error))
    key = str(where[0]) if where else ""
    if key == "fields":
        return Fault(part="form", key=key, said="The form has no field yet; draw one on the page, or press N.")
    if error["type"] == "string_too_short":
        return Fault(part="form", key=key, said="This must not be empty.")
    return Fault(part="form", key=key, said=_said(key, error))


def _said(key: str, error: Any) -> str:
    plain = _SENTENCES.get((key, error["type"]), str(error["msg"]).removeprefix("Value error, "))
    return plain[:1].upper() + plain[1:].rstrip(".") + "."
