"""A unit as typed: it must be one that the record knows, or an empty list would look like good news."""

from __future__ import annotations

from typing import Annotated

import typer

from scanform.binder import Binder
from scanform.errors import UsageError
from scanform.form import unit_characters

__all__ = ["Unit", "known_unit"]

Unit = Annotated[str | None, typer.Option("--unit", help="Only this unit.")]


def known_unit(binder: Binder, typed: str | None) -> str | None:
    """The unit's number as the record writes it, whatever hyphens, spaces and capitals were typed; None for none.

    UsageError if no sheet and no entry of the register names it.
    """
    if typed is None:
        return None
    names = {unit.unit for unit in binder.units()} | set(binder.sheet_columns()["unit"].dropna())
    found = sorted(name for name in names if unit_characters(name) == unit_characters(typed))
    if not found:
        raise UsageError(f"--unit {typed}: no sheet and no entry of the register names it; check the number.")
    return found[0]
