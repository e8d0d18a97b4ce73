"""The machines of a made year: their numbers, and the sheet that each is looked over by."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["fleet", "has_two_shifts"]

# Units in turn; one in ten has a week's sheet, one in nine of the others is run by two shifts.
_TEMPLATES = ("site-machine", "site-machine", "road-truck", "forklift", "site-machine", "road-truck", "site-machine")
_WEEKLY = "quarry-weekly"
_WEEKLY_EVERY, _TWO_SHIFTS_EVERY = 10, 9
_FIRST_NUMBER = 10


def fleet(units: int) -> Mapping[str, str]:
    """So many unit numbers, each with the name of its template."""
    found = {}
    for place in range(units):
        weekly = place % _WEEKLY_EVERY == _WEEKLY_EVERY - 1
        template = _WEEKLY if weekly else _TEMPLATES[place % len(_TEMPLATES)]
        found[f"{template[0].upper()}{'X' if weekly else 'M'}{place + _FIRST_NUMBER}"] = template
    return found


def has_two_shifts(unit: str) -> bool:
    """Whether a unit with a sheet a shift is run by two of them."""
    return (int(unit[2:]) - _FIRST_NUMBER) % _TWO_SHIFTS_EVERY == _TWO_SHIFTS_EVERY - 1
