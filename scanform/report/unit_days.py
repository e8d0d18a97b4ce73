"""What is known of each unit's days: a sheet, no sheet, or not in use; counted, and said in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["DELETED", "NOT_IN_USE", "NO_SHEET", "SHEET", "Coverage", "UnitDay", "day_sign"]

SHEET, NO_SHEET, NOT_IN_USE = "sheet", "no sheet", "not in use"
DELETED = "deleted"  # basis of a day whose sheet was deleted because its time was over


@dataclass(frozen=True)
class UnitDay:
    """A unit's day. ``status``: "sheet", "no sheet" or "not in use"; ``basis``: what says so: "sheet", "calendar",
    "meter", "weekday", "deleted" for a sheet that was deleted because its time was over, or "" for a day without a
    sheet of which nothing else is known.

    ``sheets``: record numbers. ``unsure``: what of unit and date is doubtful on them. ``ran_hours``: of a stretch
    without sheets, about how much the meter moved in it beyond the days with one, given with its first day; else None.
    ``note``: the sentence that goes with it. ``waits``: what a person has to look at before the status is a fact; "" if
    it rests on nothing doubtful.
    """

    unit: str
    day: dt.date
    status: str
    basis: str
    sheets: tuple[int, ...] = ()
    unsure: str = ""
    ran_hours: float | None = None
    note: str = ""
    waits: str = ""

    @property
    def is_sure(self) -> bool:
        """Whether neither the status nor the unit and date of its sheets wait for a person."""
        return not (self.waits or self.unsure)


@dataclass(frozen=True)
class Coverage:
    """All units' days in order, ``since`` to ``until``; ``until`` is never a day still to come.

    ``begins``: each unit's first day that is counted; its days before that are not among ``days``. ``notes``: sentences
    on what of the days asked for is not counted, and why.
    """

    since: dt.date
    until: dt.date
    days: tuple[UnitDay, ...]
    begins: Mapping[str, dt.date] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def count(self, status: str, unit: str | None = None) -> int:
        """Days with a status, of one unit or of all."""
        return sum(day.status == status and unit in (None, day.unit) for day in self.days)

    def share(self, unit: str | None = None) -> float | None:
        """Days with a sheet among days that needed one; None if none did."""
        with_sheet = self.count(SHEET, unit)
        needed = with_sheet + self.count(NO_SHEET, unit)
        return with_sheet / needed if needed else None

    def not_counted(self, unit: str | None = None) -> int:
        """Days of the stretch before those of a unit begin, of one unit or of all."""
        ends = (min(on, self.until + dt.timedelta(days=1)) for name, on in self.begins.items() if unit in (None, name))
        return sum(max(0, (end - self.since).days) for end in ends)

    def in_words(self, unit: str | None = None) -> str:
        """The share with the counts behind it, and how many of all these days wait for a person or are not counted."""
        mine = [day for day in self.days if unit in (None, day.unit)]
        begins = [on for name, on in self.begins.items() if unit in (None, name) and on > self.until >= self.since]
        if not mine:
            return "no day is counted" + (f": no sheet before {min(begins)} is on record" if begins else "")
        share, with_sheet = self.share(unit), self.count(SHEET, unit)
        more = (
            (sum(day.basis == DELETED for day in mine), "with a sheet that was deleted by rule since"),
            (self.count(NOT_IN_USE, unit), "not in use"),
            (sum(not day.is_sure for day in mine), "not sure yet"),
            (self.not_counted(unit), "not counted"),
        )
        free = "".join(f", {number} {what}" for number, what in more if number)
        if share is None:
            return f"no day that needed a sheet{free}"
        # Rounded down: a gap must not vanish in a rounding.
        percent = int(share * 1000) / 10
        return f"{percent:g} % ({with_sheet} of {with_sheet + self.count(NO_SHEET, unit)} days{free})"

    @property
    def units(self) -> tuple[str, ...]:
        """Every unit, in order, those included of which no day is counted."""
        return tuple(sorted({*self.begins, *(day.unit for day in self.days)}))

    @property
    def missing(self) -> tuple[UnitDay, ...]:
        """Days without a sheet: those on which the meter moved first, most hours before fewer, the rest by unit."""
        found = [day for day in self.days if day.status == NO_SHEET and not day.waits]
        return tuple(sorted(found, key=lambda d: (d.ran_hours is None, -(d.ran_hours or 0.0), d.unit, d.day)))

    @property
    def waiting(self) -> tuple[UnitDay, ...]:
        """Days of which it is no fact yet, by unit, that they have no sheet or that the unit was not in use."""
        return tuple(day for day in self.days if day.waits and day.status != SHEET)


def day_sign(day: UnitDay | None) -> str:
    """One character for a day, the same on the terminal and in pictures; None for a day that is not counted."""
    if day is None:
        return "-"
    if not day.is_sure:
        return "?"
    if day.status == SHEET:
        return "#"
    if day.status == NO_SHEET:
        return "!" if day.note.startswith(("ran", "part of")) else "X"
    return "."
