"""What the desk calls things: fields, states, kinds of fields that are settled together."""

from __future__ import annotations

import re

from scanform.form import DAY_TITLES, DAYS, parted
from scanform.settle import State

__all__ = ["STATE_WORDS", "field_title"]

# A state is told by a sign and a word, never by colour alone.
STATE_WORDS = {
    State.ACCEPTED: ("○", "read by the machine"),
    State.DOUBTFUL: ("?", "doubtful"),
    State.CONFIRMED: ("✓", "confirmed by a person"),
}

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


def field_title(field_id: str, label: str = "") -> str:
    """A field's name for a person; ``label`` is its item's printed text if it belongs to an item."""
    stem, day = parted(field_id)
    line = re.fullmatch(r"defect\.(\d+)(?:\.(\w+))?", stem)
    if line is not None:
        title = f"Defect line {line[1]}: {_ON_A_LINE.get(line[2] or '', line[2])}"
    elif stem.startswith("item."):
        title = label or stem.removeprefix("item.").replace("-", " ").capitalize()
    else:
        title = _PLAIN.get(stem, stem.replace(".", " ").replace("-", " ").capitalize())
    return title if day is None else f"{title}, {DAY_TITLES[DAYS.index(day)]}"
