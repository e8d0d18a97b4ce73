"""The days of a sheet that has several, a week's or a month's: their names in field ids, on paper, in the calendar."""

from __future__ import annotations

from datetime import date, timedelta

__all__ = ["DAYS", "DAYS_OF_MONTH", "DAY_TITLES", "date_of", "day_place", "day_title", "parted"]

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAY_TITLES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
DAYS_OF_MONTH = tuple(str(n) for n in range(1, 32))
_BY_THE_DAY = ("hours", "initials")  # beside items; other fields' numbers count lines


def parted(field_id: str) -> tuple[str, str | None]:
    """A field's id without its day, and the day: ``item.tires.tue`` is ``item.tires`` on ``tue``, ``item.tires.13`` on
    the 13th.

    The day is None where the field belongs to the whole sheet (``unit``, or an item that is itself called ``tue``).
    """
    stem, _, last = field_id.rpartition(".")
    if stem in ("", "item"):
        return field_id, None
    if last in DAYS or (last in DAYS_OF_MONTH and (stem.startswith("item.") or stem in _BY_THE_DAY)):
        return stem, last
    return field_id, None


def date_of(first: date | None, day: str | None) -> date | None:
    """The date of a day of the week, or of the month, that begins on ``first``.

    ``first`` itself without a day; None without a first day, and for a day that the month does not have.
    """
    if first is None or day is None:
        return first
    if day in DAYS:
        return first + timedelta(days=DAYS.index(day))
    try:
        return first.replace(day=int(day))
    except ValueError:
        return None


def day_place(day: str | None) -> int:
    """How many days after its sheet's first a day is; 0 without a day."""
    return 0 if day is None else DAYS.index(day) if day in DAYS else int(day) - 1


def day_title(day: str) -> str:
    """A day for a person."""
    return DAY_TITLES[DAYS.index(day)] if day in DAYS else f"day {day}"
