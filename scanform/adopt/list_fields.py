"""The fields of a proposal's check list: its items, what is written on their rows, what is asked for by the day."""

from __future__ import annotations

from collections.abc import Sequence

from scanform.adopt.checklist import CheckList, ListedItem
from scanform.adopt.draft import Draft
from scanform.adopt.labels import slug
from scanform.adopt.notes import Note
from scanform.form import AdoptedAnswer, FieldKind, ItemEntry, Stage

__all__ = ["DAYS_OF_MONTH", "LONGEST_TEXT", "list_fields"]

LONGEST_TEXT = 120
DAYS_OF_MONTH = frozenset(str(day) for day in range(1, 32))


def list_fields(draft: Draft, listed: CheckList, notes: Sequence[Note]) -> tuple[Stage, ...]:
    """Put the list's fields into the draft; the walk that names its items, in printed order."""
    names: set[str] = set()
    entries = []
    for item in listed.items:
        name = slug(item.text, names, "item")
        entries.append(ItemEntry(name=name, text=item.text[:LONGEST_TEXT]))
        _item_field(draft, name, item)
        for note in notes:
            if note.item is item:
                draft.add(0.9, id=f"note.{name}", kind=FieldKind.TEXT, label=note.label, box_mm=note.box_mm)
    for row in sorted(listed.day_rows, key=lambda row: row.places[0].box_mm.y_mm):
        asks = row.asks
        if (f"{asks}.{row.places[0].means}" if row.places[0].means else asks) in draft.taken:
            asks = slug(row.label, draft.taken, "note")  # hours at the end of the shift, after those at its start
            draft.taken.discard(asks)
        kind = _KIND_BY_DAY.get(row.asks, FieldKind.TEXT)
        for place in row.places:
            draft.add(
                0.9,
                id=f"{asks}.{place.means}" if place.means else asks,
                kind=kind,
                label=row.label,
                box_mm=place.box_mm,
            )
    return (Stage(stage="Check list", items=tuple(entries)),) if entries else ()


# Of initials it is read whether they are there, never whose they are.
_KIND_BY_DAY = {
    "hours": FieldKind.NUMBER,
    "signature": FieldKind.SIGNATURE,
    "initials": FieldKind.SIGNATURE,
}


def _item_field(draft: Draft, name: str, item: ListedItem) -> None:
    means = [place.means for place in item.places]
    keys: dict[str, object] = {"id": f"item.{name}", "label": item.text[:200]}
    if len(means) == 1 and not means[0]:
        draft.add(item.sure, **keys, kind=FieldKind.MARK, box_mm=item.places[0].box_mm)
        return
    if all(mean in DAYS_OF_MONTH or mean in {"mon", "tue", "wed", "thu", "fri", "sat", "sun"} for mean in means):
        for place in item.places:
            keys["id"] = f"item.{name}.{place.means}"
            if keys["id"] not in draft.taken:
                draft.add(item.sure, **keys, kind=FieldKind.MARK, box_mm=place.box_mm)
        return
    known = [mean for mean in means if mean]
    if len(known) < len(means) or len(set(known)) < len(known):
        draft.notes.append(f"What each box of '{item.text}' stands for was not understood; name its answers.")
        distinct = len(set(known)) == len(known)
        means = [mean if mean and distinct else f"answer-{n}" for n, mean in enumerate(means, start=1)]
    kind = FieldKind.CIRCLE if item.places[0].how == "word" else FieldKind.CHOICE
    answers = [AdoptedAnswer(answer=mean, box_mm=place.box_mm) for mean, place in zip(means, item.places, strict=True)]
    draft.add(item.sure, **keys, kind=kind, answers=answers)
