"""A unit as typed: it must be one that the record knows."""

from __future__ import annotations

from typing import Annotated

import typer

from scanform import report
from scanform.binder import Binder

__all__ = ["Unit", "known_unit"]

Unit = Annotated[str | None, typer.Option("--unit", help="Only this unit.")]


def known_unit(binder: Binder, typed: str | None) -> str | None:
    """The unit's number as the record writes it; None for none. UsageError if the record does not know it."""
    return None if typed is None else report.known_unit(binder, typed)
