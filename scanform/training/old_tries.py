"""Fields of old forms, settled one by one with what a binder may know of each: what their calibration is fitted on.

Pages are those of :mod:`scanform.training.old_fields`, and others in hands that taught nothing: typefaces, real digits
that were kept apart. Dates are settled with what a binder's other sheets tell half of the time, now and then with
sheets filed before and after besides, and with nothing the rest; hours beside a neighbour a few days away, between two
of them, and alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache, partial
from itertools import chain
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from rich.progress import track

from scanform.form import Field, Layout
from scanform.read import Instruments, Reading, read_sheet
from scanform.settle import Known, MeterReading, UnitRecord, same_value
from scanform.settle.old import old_verdicts
from scanform.settle.verdict import Verdict
from scanform.simulate import Grade, random_unit
from scanform.training.digits import calibration_split
from scanform.training.line_data import LINES, by_digit, write_in_face, write_real_digits
from scanform.training.old_fields import Truth, Writing, make_field_page

__all__ = ["SEEDS", "Tried", "tried_fields", "tried_on_pages"]

SEEDS = 5_820_000
_STRANGE_SEEDS, _STRANGE_RUN = 5_822_500, 4
_IN_FACES, _IN_REAL_DIGITS = range(60), range(100, 160)
_GRADES = (Grade.OFFICE, Grade.WORN, Grade.BITONAL)
_TODAY = date(2026, 7, 1)
_UNITS = 24
_NEIGHBOURS, _NEIGHBOUR_DAYS = 20, 25
# Of the dates with others about them, those in a stack that is told sheet by sheet; stacks in order and in none; sheets
# in the wrong place; sheets a day. No outside source.
_FILED, _IN_ORDER, _MISFILED, _SHEETS_A_DAY = 0.6, 0.8, 0.05, (1, 2, 3, 6)


@dataclass(frozen=True)
class Tried:
    """One field as it was settled, and whether that is right. ``kind``: what it is calibrated as."""

    kind: str
    raw: float
    right: bool
    barred: bool
    written: bool


def tried_fields(
    layout: Layout, readings: Iterable[Reading], truth: dict[str, Truth], order: str, rng: np.random.Generator
) -> Iterator[Tried]:
    """Every field of a page, settled alone as if it were the only one of its name on a sheet of a binder."""
    by_id = {reading.field_id: reading for reading in readings}
    for spec in layout.fields:
        stem = spec.id.partition(".")[0]
        for known, beside in _knowledge(stem, truth[spec.id], order, rng):
            yield _tried(_settled_alone(layout, spec, by_id[spec.id], known, beside), truth[spec.id])


def _knowledge(
    stem: str, truth: Truth, order: str, rng: np.random.Generator
) -> Iterator[tuple[Known, tuple[str, date] | None]]:
    """What may be known when a field is settled; for hours also the unit and the day of the sheet."""
    known = Known(today=_TODAY)
    if stem == "date":
        if rng.random() < 0.5:
            known = replace(known, day_first=8 * (order == "dmy"), month_first=8 * (order == "mdy"))
        if truth.value is not None and rng.random() < 0.5:
            away = rng.integers(-_NEIGHBOUR_DAYS, _NEIGHBOUR_DAYS + 1, _NEIGHBOURS)
            day = date.fromisoformat(truth.value)
            known = replace(known, days=tuple(day + timedelta(days=int(n)) for n in away))
            if rng.random() < _FILED:
                known = replace(known, **_filed(day, rng))
        yield known, None
    elif stem == "hours":
        yield known, None
        if truth.value is not None:
            days = int(rng.integers(1, 5))
            before = max(Decimal(truth.value) - Decimal(int(rng.integers(0, 120 * days))) / 10, Decimal(0))
            on = _TODAY - timedelta(days=30)
            reading = MeterReading("X1", on - timedelta(days=days), before)
            yield replace(known, readings=(reading,)), ("X1", on)
            yield replace(known, readings=_both_sides(Decimal(truth.value), on, rng)), ("X1", on)
    elif stem == "unit":
        yield known, None
        units = {random_unit(int(rng.integers(4, 7)), rng) for _ in range(_UNITS)}
        if truth.value is not None and rng.random() < 0.98:
            units.add(truth.value)
        yield replace(known, units=tuple(UnitRecord(unit) for unit in sorted(units))), None
    else:
        yield known, None


def _both_sides(hours: Decimal, on: date, rng: np.random.Generator) -> tuple[MeterReading, ...]:
    """Readings before and after one, each up to three days away, of a machine that works up to twelve hours a day."""
    found = []
    for onward in (-1, 1):
        days = int(rng.integers(1, 4))
        run = Decimal(int(rng.integers(0, 121)) * days) / 10
        found.append(MeterReading("X1", on + timedelta(days=onward * days), max(hours + onward * run, Decimal(0))))
    return tuple(found)


def _filed(day: date, rng: np.random.Generator) -> dict[str, Any]:
    """A stack of which one sheet is of ``day``: the dates of the others, as far as they are accepted, and its place."""
    count, a_day = 2 * _NEIGHBOURS, int(rng.choice(_SHEETS_A_DAY))
    place = int(rng.integers(count))
    away = (np.arange(count) - place) // a_day
    if rng.random() >= _IN_ORDER:
        away = rng.integers(-_NEIGHBOUR_DAYS, _NEIGHBOUR_DAYS + 1, count)
    elif rng.random() < _MISFILED:
        away = away + int(rng.integers(3, _NEIGHBOUR_DAYS)) * int(rng.choice((-1, 1)))
    last = count if rng.random() < 0.5 else place  # read a second time, or with the sheets before it alone
    filed = [day + timedelta(days=int(n)) if rng.random() < 0.75 else None for n in away]
    return {"filed": tuple(filed[:last]), "place": place}


def _settled_alone(
    layout: Layout, spec: Field, reading: Reading, known: Known, beside: tuple[str, date] | None
) -> Verdict:
    return old_verdicts(replace(layout, fields=(spec,)), [reading], known, beside)[spec.id]


def _tried(verdict: Verdict, truth: Truth) -> Tried:
    said, true = verdict.value, truth.value
    if verdict.calibrated_as.startswith("written-hours") and said is not None and true is not None:
        right = Decimal(str(said)) == Decimal(true)
    else:
        right = same_value("unit" if "unit" in verdict.calibrated_as else verdict.spec.id, said, true)
    written = truth.value is not None or truth.unclear
    return Tried(verdict.calibrated_as, verdict.raw, right and not truth.unclear, bool(verdict.reasons), written)


@lru_cache(maxsize=1)
def _instruments() -> Instruments:
    return Instruments()


def _page(n: int) -> list[Tried]:
    page = make_field_page(SEEDS + n, _GRADES[n % len(_GRADES)])
    readings = read_sheet(page.sheet, _instruments())
    return list(tried_fields(page.sheet.layout, readings, page.truth, page.order, np.random.default_rng([SEEDS, n])))


def _strange_page(n: int, writing: Writing) -> list[Tried]:
    """One in a hand that neither the simulator nor any training of the network for numbers used."""
    seed = _STRANGE_SEEDS + n
    page = make_field_page(seed, _GRADES[n // _STRANGE_RUN % len(_GRADES)], LINES, writing)
    readings = read_sheet(page.sheet, _instruments())
    return list(tried_fields(page.sheet.layout, readings, page.truth, page.order, np.random.default_rng([seed, 1])))


def _strange_writing(data: Path) -> Iterator[tuple[int, Writing]]:
    """Which pages are written how."""
    faces = sorted((data / "faces" / "calibration").glob("*.ttf"))
    yield from ((n, partial(write_in_face, faces[n % len(faces)])) for n in _IN_FACES if faces)
    yield from ((n, partial(write_real_digits, by_digit(calibration_split()))) for n in _IN_REAL_DIGITS)


def tried_on_pages(count: int, data: Path | None, workers: int) -> Iterator[Tried]:
    """All fields of so many pages; with ``data``, of those in hands kept apart besides."""
    strange = list(_strange_writing(data)) if data else []
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        usual = pool.map(_page, range(count), chunksize=4)
        others = pool.map(_strange_page, *zip(*strange, strict=True), chunksize=4) if strange else ()
        for tried in track(chain(usual, others), total=count + len(strange), description="Reading"):
            yield from tried
