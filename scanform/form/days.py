"""The seven days of a week's sheet: their names in field ids, on paper and in the calendar."""

from __future__ import annotations

from datetime import date, timedelta

__all__ = ["DAYS", "DAY_TITLES", "date_of", "parted"]

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAY_TITLES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def parted(field_id: str) -> tuple[str, str | None]:
    """A field's id without its day, and the day: ``item.tires.tue`` is ``item.tires`` on ``tue``.

    The day is None where the field belongs to the whole sheet (``unit``, or an item that is itself called ``tue``).
    """
    stem, _, last = field_id.rpartition(".")
    if last not in DAYS or stem in ("", "item"):
        return field_id, None
    return stem, last


def date_of(monday: date | None, day: str | None) -> date | None:
    """The date of a day of the week that begins on ``monday``; ``monday`` itself without a day, None without a week."""
    if monday is None or day is None:
        return monday
    return monday + timedelta(days=DAYS.index(day))
