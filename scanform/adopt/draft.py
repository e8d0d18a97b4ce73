"""A proposal's fields while they are being found."""

from __future__ import annotations

from dataclasses import dataclass, field

from scanform.adopt.labels import slug
from scanform.form import AdoptedField, FieldKind

__all__ = ["Draft"]


@dataclass
class Draft:
    """Fields as they are found. ``taken``: ids that are given away."""

    fields: list[AdoptedField] = field(default_factory=list)
    sure: dict[str, float] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    taken: set[str] = field(default_factory=set)

    def add(self, sure: float, **keys: object) -> None:
        """One more field; its id is taken from now on."""
        made = AdoptedField.model_validate(keys)
        self.fields.append(made)
        self.sure[made.id] = round(sure, 2)
        self.taken |= {made.id, made.id.split(".")[0]}

    def dated_by(self, covers: str) -> None:
        """Let the week or the month that a sheet is for be its date: of a form with days, ``date`` is the first one.

        Another date on the form is called by its label.
        """
        if covers not in self.sure:
            return
        for n, made in enumerate(self.fields):
            if made.id == "date":
                other = slug(made.label, self.taken, "date-2")
                self.fields[n] = made.model_copy(update={"id": other})
                self.sure[other] = self.sure.pop("date")
        for n, made in enumerate(self.fields):
            if made.id == covers:
                kind = FieldKind.DATE if made.kind is FieldKind.TEXT else made.kind
                self.fields[n] = made.model_copy(update={"id": "date", "kind": kind})
        self.sure["date"] = self.sure.pop(covers)
