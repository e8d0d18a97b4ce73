"""The template model: what a kind of sheet asks for, before anything is laid out on paper."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

__all__ = ["Item", "ItemEntry", "Prose", "Slug", "Stage", "Template"]

Slug = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=24)]
Prose = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120)]


@dataclass(frozen=True)
class Item:
    """One line of the check list. ``number`` is its place on the walk, from 1: what a defect line refers to."""

    name: str
    number: int
    text: str
    critical: bool
    rule: str | None
    stage: str


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class ItemEntry(_Strict):
    """One item as a template file writes it."""

    name: Slug
    text: Prose
    critical: bool = False
    rule: Prose | None = None


class Stage(_Strict):
    """One stop of the walk (ground level, under the hood, ...) with its items in walking order."""

    stage: Prose
    items: tuple[ItemEntry, ...] = Field(min_length=1)


class Template(_Strict):
    """A kind of sheet. ``version`` goes up whenever the layout or the items change.

    ``covers``: what one sheet is for. A ``day``'s sheet has three boxes to mark for each item; a ``week``'s has seven,
    one a day, in which a sign is written. A ``month``'s is known on forms that were printed elsewhere only.
    ``rules`` are the regulations that the sheet as a whole is meant to help with; they are printed on it.
    """

    name: Slug
    version: int = Field(ge=1, le=999)
    title: Prose
    machines: Prose
    covers: Literal["day", "week", "month"] = "day"
    rules: tuple[Prose, ...] = ()
    unit_cells: int = Field(default=7, ge=2, le=8)
    hour_cells: int = Field(default=5, ge=4, le=6)
    defect_lines: int = Field(default=5, ge=2, le=9)
    walk: tuple[Stage, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _item_names_differ(self) -> Template:
        seen: set[str] = set()
        for s, stage in enumerate(self.walk):
            for n, entry in enumerate(stage.items):
                if entry.name in seen:
                    # ``at`` tells whoever reads the file which entry it is: this check sees the template as a whole.
                    raise PydanticCustomError(
                        "item_twice",
                        "item name '{name}' is used twice; give each item a name of its own",
                        {"name": entry.name, "at": ("walk", s, "items", n, "name")},
                    )
                seen.add(entry.name)
        if len(seen) > 99:
            raise ValueError("more than 99 items; a defect line has two cells for the item's number")
        return self

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """All items in walking order, numbered from 1."""
        entries = [(stage.stage, entry) for stage in self.walk for entry in stage.items]
        return tuple(
            Item(entry.name, number, entry.text, entry.critical, entry.rule, stage)
            for number, (stage, entry) in enumerate(entries, start=1)
        )
