"""One invented week at an invented limestone quarry: machines, crew, and what happened on which day.

Nothing here is real: Dunmarrow quarry, its people and its fleet numbers were made up for this project.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from scanform.form import Paper
from scanform.press import StillOpen, parse_week

__all__ = [
    "HANDS",
    "MACHINES",
    "MECHANIC",
    "MONDAY",
    "PAD_DAYS",
    "REGISTER_DAY",
    "WEEK",
    "Machine",
    "Note",
    "Shift",
    "shifts",
]

WEEK = "2026-W47"
MONDAY = parse_week(WEEK)[0]
REGISTER_DAY = MONDAY - timedelta(days=1)
PAD_DAYS = 3  # a pad is printed for Monday to Wednesday, and the next one on Wednesday evening
FIRST_LOOSE_SHEET = 9  # the blank pads had been in use before this week

FOREMAN = "Lena Frost"
MECHANIC = "Otis Granger"
RELIEF = "Ivor Stead"
# Everybody, and the number their handwriting is drawn from: picked by eye among fifty so that all can be read.
HANDS: dict[str, int] = {
    "Abel Thorne": 121,
    "Bess Calloway": 110,
    "Carl Winnick": 102,
    "Dora Pell": 103,
    "Emmet Vance": 104,
    "Faye Ostrow": 105,
    "Gil Harmon": 106,
    "Hanna Brook": 143,
    RELIEF: 124,
    FOREMAN: 111,
    MECHANIC: 116,
}


@dataclass(frozen=True)
class Machine:
    """One unit. ``meter`` is its hour meter on REGISTER_DAY, ``used`` the hours run on Monday, Tuesday and so on.

    ``planned`` counts the days from Monday for which sheets were printed; a later day takes a sheet from a blank pad.
    ``not_fitted`` names the items answered N/A every day. ``open_before`` and ``open_midweek`` are printed as still
    open on the sheets of the first and of the second half of the week.
    """

    unit: str
    template: str
    paper: Paper
    operator: str
    meter: Decimal
    used: tuple[Decimal, ...]
    planned: int
    not_fitted: tuple[str, ...] = ()
    open_before: tuple[StillOpen, ...] = ()
    open_midweek: tuple[StillOpen, ...] = ()

    def hours(self, day: int) -> Decimal:
        """The meter in the morning of a day (0 is Monday), before the shift."""
        return self.meter + sum(self.used[:day], Decimal(0))


@dataclass(frozen=True)
class Note:
    """What one sheet says beside "all OK", and what befell it.

    ``defects``: item names with the words written. ``written_hours``: what its writer made of the meter.
    ``repaired``: the workshop closes the first defect on this very sheet. ``spoilt_first``: the printed sheet was
    crossed out and one from a blank pad taken instead. ``photographed``: name of the picture it came in as.
    """

    defects: tuple[tuple[str, str], ...] = ()
    fit: str = "fit"
    told: str | None = None
    operator: str | None = None
    repaired: bool = False
    struck_out: str | None = None
    both_ticked: str | None = None
    signed: bool = True
    written_hours: Decimal | None = None
    spoilt_first: bool = False
    missing: bool = False
    upside_down: bool = False
    scanned_twice: bool = False
    photographed: str | None = None


@dataclass(frozen=True)
class Shift:
    """One machine on one day: ``day`` 0 is Monday.

    ``loose_sheet``: place in its blank pad of the sheet taken, on which unit and date are written by hand; None if a
    sheet was printed for the day.
    """

    machine: Machine
    day: int
    note: Note
    loose_sheet: int | None

    @property
    def on(self) -> date:
        """The calendar day."""
        return MONDAY + timedelta(days=self.day)

    @property
    def operator(self) -> str:
        """Who filled the sheet in."""
        return self.note.operator or self.machine.operator


def _tenths(text: str) -> tuple[Decimal, ...]:
    return tuple(Decimal(part) for part in text.split())


_MON, _TUE, _WED, _THU, _FRI, _SAT = range(6)

MACHINES: tuple[Machine, ...] = (
    Machine(
        "WL03",
        "site-machine",
        Paper.LETTER,
        "Abel Thorne",
        Decimal("8112.4"),
        _tenths("7.8 8.3 8.1 9.0 7.6 4.2"),
        6,
        not_fitted=("defroster",),
        open_midweek=(StillOpen("Left tail light out", 6, MONDAY + timedelta(days=_TUE)),),
    ),
    Machine(
        "WL04",
        "site-machine",
        Paper.LETTER,
        "Bess Calloway",
        Decimal("6190.7"),
        _tenths("8.0 7.7 8.4 8.2 7.1"),
        5,
        open_before=(StillOpen("Washer pump dead", 17, date(2026, 11, 10)),),
        open_midweek=(StillOpen("Washer pump dead", 17, date(2026, 11, 10)),),
    ),
    Machine(
        "WL07", "site-machine", Paper.LETTER, "Carl Winnick", Decimal("2348.9"), _tenths("9.4 8.8 0.3 9.1 8.6 4.8"), 6
    ),
    Machine(
        "RT11",
        "road-truck",
        Paper.LETTER,
        "Dora Pell",
        Decimal("14260.5"),
        _tenths("10.2 9.7 10.8 9.9 10.4 5.5"),
        6,
        open_midweek=(StillOpen("Right mirror cracked", 6, MONDAY),),
    ),
    Machine("RT12", "road-truck", Paper.LETTER, "Emmet Vance", Decimal("9875.0"), _tenths("9.1 10.3 9.6 11.2 8.7"), 5),
    Machine(
        "RT15",
        "road-truck",
        Paper.LETTER,
        "Faye Ostrow",
        Decimal("5541.8"),
        _tenths("8.9 9.3 9.0 9.5 8.2 3.9"),
        5,
        not_fitted=("coupling", "trailer-lines"),
    ),
    Machine(
        "FL01",
        "forklift",
        Paper.A4,
        "Gil Harmon",
        Decimal("3307.2"),
        _tenths("4.6 5.1 3.8 4.4 5.0 2.3"),
        5,
        open_midweek=(StillOpen("Battery cable corroded", 12, MONDAY),),
    ),
    Machine(
        "FL02",
        "forklift",
        Paper.A4,
        "Hanna Brook",
        Decimal("1096.3"),
        _tenths("5.2 4.9 6.0 5.5 0.4"),
        5,
        not_fitted=("engine-oil", "coolant", "fuel", "inching"),
    ),
)

NOTES: dict[tuple[str, int], Note] = {
    ("WL03", _TUE): Note(defects=(("lights", "left tail light out"),), told=FOREMAN, spoilt_first=True),
    ("WL03", _WED): Note(scanned_twice=True),
    ("WL04", _WED): Note(defects=(("wipers", "washer pump dead"),), told=FOREMAN, struck_out="wipers"),
    # Ticked fit although the parking brake is a safety item; parked and repaired only on the second report.
    ("WL07", _TUE): Note(defects=(("parking-brake", "park brake won't hold on ramp"),), told=FOREMAN),
    ("WL07", _WED): Note(
        defects=(("parking-brake", "park brake same as yesterday"),), fit="parked", told=FOREMAN, repaired=True
    ),
    ("WL07", _SAT): Note(operator=RELIEF),
    ("RT11", _MON): Note(defects=(("mirrors", "right mirror cracked"),), told=FOREMAN),
    ("RT11", _TUE): Note(upside_down=True),
    ("RT11", _THU): Note(missing=True),
    ("RT12", _TUE): Note(both_ticked="gauges"),
    ("RT12", _THU): Note(
        defects=(("belts", "alternator belt squeals"), ("wipers", "wiper blade torn")),
        told=FOREMAN,
        photographed="phone_1.jpg",
    ),
    ("RT12", _FRI): Note(photographed="phone_2.jpg"),
    ("RT15", _WED): Note(signed=False),
    # 5569.0 on the meter, two digits swapped: 99 hours in one day.
    ("RT15", _THU): Note(written_hours=Decimal("5659.0")),
    ("RT15", _FRI): Note(defects=(("body", "tarp torn at front"),)),
    ("FL01", _MON): Note(defects=(("battery", "battery cable corroded"),), told=FOREMAN),
    ("FL01", _SAT): Note(operator=RELIEF),
    ("FL02", _FRI): Note(defects=(("mast", "lift chain slack on left"),), fit="parked", told=FOREMAN),
}


def shifts() -> Iterator[Shift]:
    """Every shift of the week, day by day as a clerk piles the sheets up, missing sheets included."""
    taken = {machine.template: FIRST_LOOSE_SHEET for machine in MACHINES}
    for day in range(6):
        for machine in MACHINES:
            if day >= len(machine.used):
                continue
            note = NOTES.get((machine.unit, day), Note())
            loose = None
            if note.spoilt_first or day >= machine.planned:
                loose = taken[machine.template]
                taken[machine.template] += 1
            yield Shift(machine, day, note, loose)
