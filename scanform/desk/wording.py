"""What the desk calls things: fields, values, states, and the sorts of fields that are settled together."""

from __future__ import annotations

import re

from scanform.form import day_title, parted
from scanform.settle import SettledField, State, same_value

__all__ = ["CHECK_WORDS", "NOT_SHOWN", "STATE_WORDS", "check_note", "field_title", "sort_title", "value_words"]

# A state is told by a sign and a word, never by colour alone.
STATE_WORDS = {
    State.ACCEPTED: ("○", "read by the machine"),
    State.DOUBTFUL: ("?", "doubtful"),
    State.CONFIRMED: ("✓", "confirmed by a person"),
}
CHECK_WORDS = ("◇", "spot check")  # an accepted field that waits for somebody to read it unseen
NOT_SHOWN = "not shown yet"

_PLAIN = {
    "unit": "Unit",
    "date": "Date",
    "hours": "Hour meter",
    "operator": "Operator's name",
    "signature": "Signature",
    "initials": "Initials",
    "fit": "Fit to use, or parked",
    "told": "Who was told",
    "workshop.date": "Workshop: date",
    "workshop.signature": "Workshop: signature",
}
_ON_A_LINE = {"": "words", "item": "item number", "day": "day", "repair": "workshop's answer"}
_ANSWERS = {
    "ok": "OK",
    "defect": "Defect",
    "na": "N/A",
    "fit": "fit to use",
    "parked": "parked",
    "repaired": "repaired",
    "not-needed": "repair not needed",
}


def field_title(field_id: str, label: str = "") -> str:
    """A field's name for a person; ``label`` is its item's printed text if it belongs to an item."""
    stem, day = parted(field_id)
    line = re.fullmatch(r"defect\.(\d+)(?:\.(\w+))?", stem)
    if line is not None:
        title = f"Defect line {line[1]}: {_ON_A_LINE.get(line[2] or '', line[2])}"
    elif stem.startswith("item."):
        title = label or _from_name(stem.removeprefix("item."))
    else:
        title = _PLAIN.get(stem, _from_name(stem))
    return title if day is None else f"{title}, {day_title(day)}"


def sort_title(sort: str, label: str = "") -> str:
    """A sort of fields for a person, such as all words of defect lines."""
    if sort.startswith("defect.#"):
        return f"Defect lines: {_ON_A_LINE.get(sort.removeprefix('defect.#').lstrip('.'), sort)}"
    return field_title(sort, label)


def value_words(kind: str, value: str | bool | None) -> str:
    """A value as the desk shows it."""
    if isinstance(value, bool):
        return "signed" if value else "not signed"
    if value is None:
        return "nothing marked" if kind in ("choice", "mark", "circle", "decision") else "nothing written"
    return _ANSWERS.get(value, value) if kind in ("choice", "mark", "circle", "decision") else value


def check_note(read: SettledField, said: str | bool | None) -> str:
    """What somebody who has answered a spot check is told; ``read``: the field as it was before."""
    if same_value(read.id, read.value, said):
        return "Spot check: the machine had read the same."
    words = value_words(read.kind, read.value)
    return f"Spot check: the machine had read '{words}'. It is corrected, and counted."


def _from_name(name: str) -> str:
    return name.replace(".", " ").replace("-", " ").capitalize()
