"""Propose a template for a blank form: what was found printed on it, put together and named."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2

from scanform.adopt.answers import legend_of, said_by
from scanform.adopt.apart import BoxesApart, boxes_apart, without_apart
from scanform.adopt.asked import UNNAMED_SURE, asked_of
from scanform.adopt.checklist import CheckList, check_list
from scanform.adopt.combs import Comb, combs_of
from scanform.adopt.draft import Draft
from scanform.adopt.found import FoundPrint, FoundWord, phrases, text_of, title_of, whole_lines, without
from scanform.adopt.grids import completed
from scanform.adopt.items import often_beside
from scanform.adopt.labels import Asked, order_of, plain, slug
from scanform.adopt.list_fields import DAYS_OF_MONTH, LONGEST_TEXT, list_fields
from scanform.adopt.list_room import beside_no_item, blocks_of, heads_part, in_the_list, over_places
from scanform.adopt.notes import notes_beside, notes_on_rules
from scanform.adopt.places import cleaned, columns_of, inside, rules_to_tick_on, writing_rules
from scanform.adopt.rooms import Room, rooms_of
from scanform.adopt.shift_boxes import shift_boxes
from scanform.errors import TemplateError
from scanform.form import (
    AdoptedAnswer,
    AdoptedField,
    AdoptedTemplate,
    BlankPicture,
    Box,
    FieldKind,
    ItemEntry,
    PrintedWord,
    Rule,
    Sign,
    Stage,
)

__all__ = ["Proposal", "propose"]

_FEWEST_FIELDS = 3
_STRIP_MM = 1.0
_APART_SURE = 0.8
# Without a legend, as most crews mark; common practice.
_USUAL_SIGNS = (
    Sign(sign="tick", answer="ok"),
    Sign(sign="cross", answer="defect"),
    Sign(sign="dash", answer="na"),
    Sign(sign="letters", answer="na"),
)


@dataclass(frozen=True, eq=False)
class Proposal:
    """A template to look over. ``sure``: by field id, 0 to 1. ``notes``: what was not understood, in plain words."""

    template: AdoptedTemplate
    sure: dict[str, float]
    notes: tuple[str, ...]


def propose(found: FoundPrint, name: str, version: int = 1) -> Proposal:
    """A template for the form, with what is unsure about it.

    Raises TemplateError if there is nothing on the form that could be filled in.
    """
    found = cleaned(found)
    found = replace(found, cells=tuple(completed(found, found.cells)))
    printed = found
    shift = shift_boxes([*found.cells, *found.brackets], found.words)
    if shift is not None:
        framed = {shift.frame} if shift.frame is not None else set()
        found = without(found, {box for _, box in shift.answers} | framed, shift.words)
    combs = combs_of(found.cells, found.words)
    in_combs = {cell for comb in combs for cell in comb.cells}
    apart = boxes_apart(found, in_combs)
    found = without_apart(found, apart)
    columns = columns_of([*(c for c in found.cells if c not in in_combs), *found.brackets], found.words)
    signs, legend_lines = legend_of(whole_lines(found.words))
    says = said_by(signs, often_beside([cell for column in columns for cell in column.cells], found.words))
    columns += rules_to_tick_on(found.rules, found.cells, found.words, says)
    legend_words = [w for w in found.words if any(line.box_mm.grown(0.1).contains(w.box_mm) for line in legend_lines)]
    words = [w for w in found.words if not any(w is used for used in legend_words)]
    listed = check_list(columns, words, found.cells, says)

    draft = Draft()
    if shift is not None:
        answers = [AdoptedAnswer(answer=name, box_mm=box) for name, box in shift.answers]
        draft.add(0.9, id="shift", kind=FieldKind.CHOICE, label=shift.label, answers=answers)
    title = title_of(found)
    _header(draft, found, combs, listed, [*legend_words, *title])
    notes = notes_beside(listed, found.cells, words)
    notes += notes_on_rules(listed, writing_rules(found.rules, found.cells), words, notes)
    walk = list_fields(draft, listed, notes)
    walk = _with_boxes_apart(draft, apart, walk)
    if not printed.words:
        raise TemplateError("this page is empty: no words are printed on it; give the blank form itself.")
    if len(draft.fields) < _FEWEST_FIELDS:
        raise TemplateError(
            "this page is prose: it has no boxes, table or lines to write on that could be a form's fields; give the "
            "blank form itself."
        )
    days = {place.means for item in listed.items for place in item.places}
    signed_boxes = any(f.kind is FieldKind.MARK for f in draft.fields)
    if signed_boxes and not signs:
        draft.notes.append(
            "No legend was found that says what the signs mean; a tick is taken for OK, a cross for Defect, a dash and "
            "N/A for not applicable."
        )
        signs = _USUAL_SIGNS
    if signed_boxes and all(sign.answer != "ok" for sign in signs):
        draft.notes.append("The legend says of no sign that could be read that it means OK; add it to the signs.")
    _say_strange(draft, listed)
    covers: Literal["day", "week", "month"] = (
        "month" if days & DAYS_OF_MONTH else "week" if days & {"mon", "tue"} else "day"
    )
    draft.dated_by(covers)
    png = cv2.imencode(".png", found.picture)[1].tobytes()
    template = AdoptedTemplate(
        name=name,
        version=version,
        title=(text_of(title) or name)[:LONGEST_TEXT],
        covers=covers,
        walk=walk,
        width_mm=found.width_mm,
        height_mm=found.height_mm,
        picture=BlankPicture(file=f"{name}.png", sha256=hashlib.sha256(png).hexdigest()),
        picture_png=png,
        fields=tuple(sorted(draft.fields, key=lambda f: _place(f, listed))),
        signs=signs,
        words=tuple(PrintedWord(text=w.text[:200], box_mm=_on_page(w.box_mm, found)) for w in printed.words),
        rules_mm=tuple(
            Rule(
                from_mm=(r.box_mm.x_mm, r.box_mm.centre_mm[1]),
                to_mm=(r.box_mm.right_mm, r.box_mm.centre_mm[1]),
                width_mm=max(r.box_mm.h_mm, 0.05),
            )
            for r in found.rules
        ),
    )
    return Proposal(template, draft.sure, tuple(dict.fromkeys(draft.notes)))


def _with_boxes_apart(draft: Draft, apart: Sequence[BoxesApart], walk: tuple[Stage, ...]) -> tuple[Stage, ...]:
    """Put boxes outside the list into the draft; the walk with those that are a point of the check at its end."""
    names = {item.name for stage in walk for item in stage.items}
    items = []
    for one in apart:
        if one.item:
            name = slug(one.label, names, "item")
            items.append(ItemEntry(name=name, text=one.label[:LONGEST_TEXT]))
        field_id = f"item.{name}" if one.item else slug(one.label, draft.taken, "boxes")
        answers = [AdoptedAnswer(answer=answer, box_mm=box) for answer, box in one.answers]
        draft.add(_APART_SURE, id=field_id, kind=FieldKind.CHOICE, label=one.label[:200], answers=answers)
    if not items:
        return walk
    return (*walk, Stage(stage="Beside the list", items=tuple(items)))


def _header(
    draft: Draft, found: FoundPrint, combs: Sequence[Comb], listed: CheckList, explained: Sequence[FoundWord]
) -> None:
    used = [*listed.used, *explained]
    day_cells = [place.box_mm for row in listed.day_rows for place in row.places]
    strips = [*listed.boxes, *day_cells] + [
        cell
        for cell in found.cells
        if (held := inside(cell, found.words))
        # Heads that are printed again over a part of the list belong to it too.
        and (any(w is u for w in held for u in listed.used) or over_places(cell, found.cells, listed.boxes))
    ]
    in_combs = {cell for comb in combs for cell in comb.cells}
    cells = [
        cell
        for cell in found.cells
        if cell not in in_combs
        and not any(
            abs(cell.centre_mm[1] - strip.centre_mm[1]) < _STRIP_MM and abs(cell.h_mm - strip.h_mm) < _STRIP_MM
            for strip in strips
        )
    ]
    guide_words = [w for comb in combs for cell in comb.cells for w in inside(cell, found.words)]
    free = [w for w in found.words if not any(w is u for u in [*used, *guide_words])]
    blocks = blocks_of(listed)
    cells = [cell for cell in cells if not heads_part(cell, blocks, inside(cell, free))]
    rules = beside_no_item(writing_rules(found.rules, found.cells), listed)
    rooms = rooms_of(rules, cells, combs, phrases(free, found.cells), blocks)
    names: dict[int, str] = {}
    for room, asked in zip(rooms, asked_of(rooms, text_of(title_of(found))), strict=True):
        if not (room.comb is None and in_the_list(room.box_mm, blocks, usual=asked is not None)):
            _room_field(draft, room, asked, names)


def _room_field(draft: Draft, room: Room, asked: Asked | None, names: dict[int, str]) -> None:
    if room.label is None:
        if not room.of and asked is None:
            x, y = room.box_mm.centre_mm
            draft.notes.append(f"There is a place to write at {x:.0f} mm from the left, {y:.0f} mm from the top, "
                               "with no label; it is left out.")  # fmt: skip
            return
        asked = asked or Asked("remarks", FieldKind.TEXT, UNNAMED_SURE)
    label = "" if room.label is None else room.label.text
    order, words = order_of(label)
    if room.block in names:
        stem = names[room.block]
    elif asked is not None and asked.id not in draft.taken:
        stem = asked.id
    else:
        stem = slug(words or "remarks", draft.taken, "note")
        draft.taken.discard(stem)
        if asked is None:
            draft.notes.append(f"'{label}' is not a label known here; its place is kept as free writing called {stem}.")
    if room.of:
        names[room.block] = stem
    kind = asked.kind if asked is not None else FieldKind.TEXT
    sure = (asked.sure if asked is not None else UNNAMED_SURE) * (0.8 if room.label is None else 1.0)
    keys: dict[str, object] = {"id": f"{stem}.{room.of}" if room.of else stem, "label": label}
    if room.comb is None:
        draft.add(sure, **keys, kind=kind, box_mm=room.box_mm, pattern=order if kind is FieldKind.DATE else "")
        return
    digits = kind in (FieldKind.DATE, FieldKind.NUMBER)
    pattern = _pattern(draft, kind, room.comb, order)
    draft.add(
        sure,
        **keys,
        kind=FieldKind.COMB,
        charset="digits" if digits else "alnum",
        cells_mm=room.comb.cells,
        pattern=pattern,
    )


def _pattern(draft: Draft, kind: FieldKind, comb: Comb, order: str) -> str:
    cells = len(comb.cells)
    if kind is FieldKind.NUMBER:
        tenths = len(comb.groups) == 2 and comb.groups[1] == 1
        return "h" * min(cells - tenths, 8) + "t" * tenths
    if kind is not FieldKind.DATE:
        return ""
    told = order or comb.guide
    if len(told) == cells and set(told) == set("dmy"):
        return told
    if set(told) == set("dmy") and cells in (6, 8):
        return "".join(part * (cells - 4 if part == "y" else 2) for part in dict.fromkeys(told))  # "(y-m-d)"
    if comb.groups[:1] == (4,) and cells == 8:
        return "yyyymmdd"  # ISO 8601
    draft.notes.append(
        f"The form does not print in which order day, month and year stand in the {cells} cells of its date; it is "
        "taken for day, month, year. Change 'pattern' if it is another."
    )
    return "ddmmyyyy" if cells == 8 else "ddmmyy" if cells == 6 else ""


def _say_strange(draft: Draft, listed: CheckList) -> None:
    for head in listed.strange_heads:
        draft.notes.append(
            f"The column headed '{head}' is neither an answer nor a day known here; look at its places. No list of "
            "defects shows an answer that is not called defect."
        )
    used = [place.box_mm for item in listed.items for place in item.places]
    used += [place.box_mm for row in listed.day_rows for place in row.places]
    columns = {round(place.x_mm) for place in used}
    left = [
        box for box in listed.boxes if round(box.x_mm) in columns and not any(box.overlaps(place) for place in used)
    ]
    if left:
        x, y = left[0].centre_mm
        draft.notes.append(
            f"{len(left)} places in the list's columns have no words beside them and are left out, the first at "
            f"{x:.0f} mm from the left, {y:.0f} mm from the top."
        )
    if any(plain(word.text) in {"yes", "y"} for word in listed.used):
        draft.notes.append("'Yes' is taken for OK and 'No' for Defect; where an item asks whether there is a fault, "
                           "such as 'any leaks?', turn its answers round.")  # fmt: skip
    if not listed.items:
        draft.notes.append("No check list was found: no column of boxes, table cells or words to circle beside items.")


def _place(made: AdoptedField, listed: CheckList) -> tuple[int, float, float]:
    """Fields in reading order, the check list together in its own order where it stands on the page."""
    box = made.box_mm or (made.cells_mm[0] if made.cells_mm else made.answers[0].box_mm)
    top = min((item.y_mm for item in listed.items), default=float("inf"))
    if made.id.startswith("item."):
        return 1, 0.0, 0.0  # sorting is stable: items come in their own order
    return (0 if box[1] < top else 2), round(box[1] / 4), box[0]


def _on_page(box: Box, found: FoundPrint) -> Box:
    x, y = max(box.x_mm, 0.0), max(box.y_mm, 0.0)
    return Box(x, y, max(min(box.w_mm, found.width_mm - x), 0.1), max(min(box.h_mm, found.height_mm - y), 0.1))
