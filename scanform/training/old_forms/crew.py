"""Who fills an old binder's pages in: a few hands, each with its own way to write a date, hours and a unit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from scanform.simulate import CREW, Writer, random_unit, random_writer

__all__ = ["BinderCrew", "Hand", "Occasion", "binder_crew", "occasion", "written_date", "written_hours", "written_unit"]

# Ways to write a date; the numeric ones of one binder all have the same order, as on one site.
_EITHER = ("%-d %b %Y", "%Y-%m-%d", "%b %-d %Y", "%-d %B %y")
_DAY_FIRST = ("%d/%m/%Y", "%-d/%-m/%y", "%d.%m.%y", "%-d-%-m-%Y")
_MONTH_FIRST = ("%m/%d/%Y", "%-m/%-d/%y", "%m-%d-%y", "%-m.%-d.%Y")
_HANDS, _UNITS = 5, 3
_FIRST_DAY = date(2024, 1, 8)


@dataclass(frozen=True)
class Hand:
    """One operator. ``hours_style``: "tenths", "whole", "thousands" or "unit" ("4512.5 h")."""

    name: str
    writer: Writer
    date_style: str
    hours_style: str
    unit_style: str


@dataclass(frozen=True)
class BinderCrew:
    """Everybody and every machine in one binder; ``meters``: each unit's hours on ``first``."""

    hands: tuple[Hand, ...]
    units: tuple[str, ...]
    meters: tuple[Decimal, ...]
    first: date
    day_first: bool


@dataclass(frozen=True)
class Occasion:
    """One page's who, when and what."""

    hand: Hand
    unit: str
    hours: Decimal
    on: date


def binder_crew(rng: np.random.Generator, unit_length: int = 5) -> BinderCrew:
    """A crew of five hands on three machines, whose numbers have ``unit_length`` characters at most."""
    day_first = bool(rng.random() < 0.5)
    numeric = _DAY_FIRST if day_first else _MONTH_FIRST
    names = rng.permutation(CREW)[:_HANDS]
    hands = tuple(
        Hand(
            str(name),
            random_writer(rng),
            str(rng.choice(numeric if rng.random() < 0.65 else _EITHER)),
            str(rng.choice(["tenths", "whole", "thousands", "unit"], p=[0.5, 0.34, 0.08, 0.08])),
            str(rng.choice(["plain", "hyphen", "space", "number"], p=[0.5, 0.25, 0.15, 0.1])),
        )
        for name in names
    )
    units: list[str] = []
    while len(units) < _UNITS:
        unit = random_unit(unit_length, rng)
        if unit not in units:
            units.append(unit)
    meters = tuple(Decimal(int(rng.integers(2000, 180_000))) / 10 for _ in units)
    first = _FIRST_DAY + timedelta(weeks=int(rng.integers(0, 80)))
    return BinderCrew(hands, tuple(units), meters, first, day_first)


def occasion(crew: BinderCrew, n: int, covers: str, rng: np.random.Generator) -> Occasion:
    """The ``n``-th page: units in turn, days, weeks or months going on, meters with them."""
    which, step = n % len(crew.units), n // len(crew.units)
    hand = crew.hands[int(rng.choice(len(crew.hands), p=[0.4, 0.25, 0.15, 0.1, 0.1]))]
    if covers == "month":
        months = crew.first.month - 1 + step
        on, days = date(crew.first.year + months // 12, months % 12 + 1, 1), 21 * step
    elif covers == "week":
        on, days = crew.first + timedelta(weeks=step), 5 * step
    else:
        on, days = crew.first + timedelta(days=step + step // 6), step
    run = Decimal(int(days * 75 + rng.integers(0, 40))) / 10  # about 7.5 h a day, as single shifts run
    return Occasion(hand, crew.units[which], crew.meters[which] + run, on)


def written_date(on: date, hand: Hand) -> str:
    """As this hand writes it."""
    return on.strftime(hand.date_style)


def written_hours(hours: Decimal, hand: Hand) -> tuple[str, str]:
    """The value that stands on the paper as a decimal string, and how it is written."""
    if hand.hours_style == "whole":
        return f"{int(hours)}", f"{int(hours)}"
    if hand.hours_style == "thousands":
        return f"{int(hours)}", f"{int(hours):,}"
    text = f"{hours:.1f}"
    return text, f"{text} h" if hand.hours_style == "unit" else text


def written_unit(unit: str, hand: Hand) -> str:
    """The fleet number with a hyphen, a space or a number sign, as people have it."""
    letters = unit.rstrip("0123456789")
    digits = unit[len(letters) :]
    if not letters:
        return f"No {digits}" if hand.unit_style == "number" else digits
    between = {"hyphen": "-", "space": " "}.get(hand.unit_style, "")
    return f"{letters}{between}{digits}"
