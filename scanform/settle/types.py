"""What leaves the settling room: fields that are accepted, or doubtful with reasons."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum

from scanform.read.types import Alternative

__all__ = ["Known", "MeterReading", "Outcome", "SettledField", "State", "TradeWord", "UnitRecord"]


class State(StrEnum):
    """How far a field's value can be relied on."""

    ACCEPTED = "accepted"
    DOUBTFUL = "doubtful"
    CONFIRMED = "confirmed"


class Outcome(StrEnum):
    """What became of a page; every page ends in exactly one."""

    READ = "read"
    BLANK = "blank"
    DUPLICATE = "duplicate"
    UNKNOWN_FORM = "unknown-form"
    UNREADABLE = "unreadable"


@dataclass(frozen=True)
class SettledField:
    """One field of one sheet. ``confidence``: calibrated probability that ``value`` is right.

    ``value``: ISO 8601 date, decimal string of hours, unit number, a choice's answer, text as read, True/False
    for a signature, None where nothing is written. ``reasons`` are sentences: why the field is doubtful, and then what
    the reading noted; an accepted field has the notes alone, mostly none. ``original``: free writing only, what the ink
    says letter by letter, before any word or name was expected.
    """

    id: str
    kind: str
    value: str | bool | None
    state: State
    confidence: float
    reasons: tuple[str, ...]
    polygon_px: tuple[tuple[float, float], ...]
    alternatives: tuple[Alternative, ...] = ()
    critical: bool = False
    original: str | None = None


@dataclass(frozen=True)
class UnitRecord:
    """A machine in the register. ``hours`` was its meter reading on ``hours_on``, if known."""

    unit: str
    kind: str | None = None
    hours: Decimal | None = None
    hours_on: date | None = None


@dataclass(frozen=True)
class TradeWord:
    """A word or phrase as crews write it. ``normal``: what lists call it. ``category``: "part", "position", "complaint"
    or "other". ``weight``: how usual it is beside others, in no unit.
    """

    word: str
    normal: str
    category: str
    weight: float = 1.0


@dataclass(frozen=True)
class MeterReading:
    """A settled hour-meter reading."""

    unit: str
    on: date
    hours: Decimal


@dataclass(frozen=True)
class Known:
    """What is known before a page is settled. All of it comes from the binder.

    ``readings``: of hour meters. ``recall``: gives those of one unit that are on record, asked for when a sheet of that
    unit is settled; None where ``readings`` are all there are.
    ``silent_error_target``: accepted unit, date and hours fields that may be wrong, as a share; None for the share
    that the thresholds were fitted at. ``thresholds``: those that the site has found from its own confirmed fields, by
    family of fields. ``days``: the accepted dates of this batch's or this pad's other sheets. ``day_first``,
    ``month_first``: how many written dates of old forms can only mean one of the two orders. ``filed``: the accepted
    dates of this batch's sheets of old forms in the order in which they were filed, None for those in doubt; ``place``:
    which of them is this sheet.
    """

    units: tuple[UnitRecord, ...] = ()
    crew: tuple[str, ...] = ()
    readings: tuple[MeterReading, ...] = field(default=())
    today: date | None = None
    words: tuple[TradeWord, ...] = ()
    silent_error_target: float | None = None
    thresholds: tuple[tuple[str, float], ...] = ()
    recall: Callable[[str], Sequence[MeterReading]] | None = field(default=None, compare=False)
    days: tuple[date, ...] = ()
    day_first: int = 0
    month_first: int = 0
    filed: tuple[date | None, ...] = ()
    place: int = 0
