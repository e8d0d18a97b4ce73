"""What a list on the desk is about, as asked in an address: a unit, a stretch of days, a week."""

from __future__ import annotations

import datetime as dt
import threading
from typing import Annotated

from fastapi import Depends, Query, Request

from scanform.binder import Binder
from scanform.errors import UsageError
from scanform.press import parse_week
from scanform.report import Defect, days_asked, defect_register, known_unit

__all__ = [
    "Asked",
    "AskedFor",
    "Day",
    "Registers",
    "UnitTyped",
    "Week",
    "asked",
    "day_typed",
    "register_of",
    "units_on_record",
    "week_typed",
]

UnitTyped = Annotated[str, Query(max_length=40, description="One unit; every unit if left out.")]
Day = Annotated[str, Query(max_length=40, description="A day as in ISO 8601, such as 2026-11-23.")]
Week = Annotated[str, Query(max_length=40, description="An ISO 8601 week, such as 2026-W48.")]
_MOST_DAYS = 400  # a year and what hangs over; ten thousand days of forty units fit no screen and no patience


class Asked:
    """A unit as the record writes it (None for every unit), and a first and a last day."""

    def __init__(self, unit: str | None, since: dt.date, until: dt.date) -> None:
        self.unit, self.since, self.until = unit, since, until

    def fits(self, unit: str | None) -> bool:
        """Whether something about this unit was asked for."""
        return self.unit is None or self.unit == unit

    @property
    def query(self) -> dict[str, str]:
        """The same for an address."""
        days = {"since": self.since.isoformat(), "until": self.until.isoformat()}
        return days if self.unit is None else {"unit": self.unit, **days}


def asked(binder: Binder, unit: str, since: str, until: str) -> Asked:
    """What was typed; days left out are the four weeks that end with the last sheet. UsageError in a sentence."""
    first, last = days_asked(binder, day_typed("from", since), day_typed("to", until))
    if (last - first).days >= _MOST_DAYS:
        raise UsageError(f"{first} to {last} is too long to be shown; ask for {_MOST_DAYS} days at most.")
    return Asked(known_unit(binder, unit) if unit.strip() else None, first, last)


def _asked_for(request: Request, unit: UnitTyped = "", since: Day = "", until: Day = "") -> Asked:
    return asked(request.app.state.binder, unit, since, until)


AskedFor = Annotated[Asked, Depends(_asked_for)]  # of a route: the address says ``unit``, ``since`` and ``until``


def day_typed(name: str, typed: str) -> dt.date | None:
    """A day; None if nothing was typed."""
    if not typed.strip():
        return None
    try:
        return dt.date.fromisoformat(typed.strip())
    except ValueError:
        raise UsageError(f"The date '{name}', '{typed}', is none; write it year first, such as 2026-11-23.") from None


def week_typed(typed: str) -> dt.date | None:
    """A week's Monday; None if nothing was typed."""
    return parse_week(typed.strip())[0] if typed.strip() else None


def units_on_record(binder: Binder) -> list[str]:
    """Units to choose from."""
    return sorted({unit.unit for unit in binder.units()} | set(binder.filings().units))


class Registers:
    """The register of defects as it was last drawn up; drawn up anew once the journal has another last entry."""

    def __init__(self, binder: Binder) -> None:
        self._binder = binder
        self._lock = threading.Lock()
        self._drawn: tuple[int, list[Defect]] | None = None

    def now(self) -> list[Defect]:
        """The register as the record stands."""
        with self._lock:
            entry = self._binder.last_entry()
            if self._drawn is None or self._drawn[0] != entry:
                self._drawn = entry, defect_register(self._binder)
            return self._drawn[1]


def register_of(request: Request) -> list[Defect]:
    """The register of the desk's binder."""
    registers: Registers = request.app.state.registers
    return registers.now()
