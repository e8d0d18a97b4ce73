"""One simulated page of a made year's kind, read as an office that keeps its record would read it.

The register, the crew and the unit's meter some days before and after are known; most sheets come from a pad that has
printed unit and date. What a field's ink comes to is given by itself: the rules between fields are left out.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import DAYS, Layout, Paper, date_of, find_template, lay_out, parted
from scanform.intake import Page
from scanform.locate import LocatedSheet, locate
from scanform.press import pad_sheets, sheets_pdf
from scanform.read import Reading, read_sheet
from scanform.settle import Known, MeterReading, SettledField, State, UnitRecord, calibration, hours_window
from scanform.settle.sheet import verdicts_of
from scanform.settle.verdict import settled
from scanform.simulate import CREW, Grade, SheetTruth, fill, random_day, random_truth, random_writer, render_pdf, scan
from scanform.simulate.weekly import random_week
from scanform.training.trial import setting
from scanform.training.year_fleet import fleet
from scanform.training.year_rules import broken_rules

__all__ = ["SAME", "complaints", "hours_kind", "kind_of_field", "read_page", "stored"]

SAME = "same as yesterday"
_COMPLAINTS = Path(__file__).with_name("year_complaints.csv")
_UNITS = 40
# An office with a sheet-fed scanner, now and then a dirty sheet or a photo; chosen, no outside source.
_GRADES = {Grade.OFFICE: 0.75, Grade.BITONAL: 0.12, Grade.WORN: 0.08, Grade.PHONE: 0.05}
# More than there are in the year, so that each kind is read often enough; every kind is counted by itself.
_SHARE_BY_HAND, _SHARE_FIRST = 0.3, 0.12
_WEEKLY_EVERY = 8
_PADS = 12  # printed sheets a template and paper: each of one unit and day
_SHARE_REPAIRED = 0.3  # of lines, so that the workshop's block is read often enough
_MOST_LINES = 4
_MOST_DAYS_APART = 4  # from the neighbouring sheets
_USUAL_A_DAY = 100  # tenths of an hour at the most (common practice)


class _Sheet(NamedTuple):
    """A sheet before anybody has written on it; ``unit`` and ``on`` are None where the pad was printed for none."""

    layout: Layout
    print: np.ndarray
    unit: str | None
    on: dt.date | None


@lru_cache(maxsize=1)
def complaints() -> Mapping[str, tuple[tuple[str, ...], ...]]:
    """By item name, its defects; each in the words that several writers use for it."""
    found: dict[str, list[tuple[str, ...]]] = {}
    with _COMPLAINTS.open(encoding="utf-8", newline="") as file:
        for item, *words in list(csv.reader(file))[1:]:
            found.setdefault(item, []).append(tuple(words))
    return {item: tuple(defects) for item, defects in found.items()}


def kind_of_field(field_id: str, weekly: bool) -> str:
    """What fields are read alike: all answers, all lines' words, all their numbers, and so on."""
    stem = parted(field_id)[0]
    if stem.startswith("item."):
        return "mark" if weekly else "answer"
    if stem.startswith("defect."):
        return "defect" + "".join(f".{part}" for part in stem.split(".")[2:])
    return stem


def hours_kind(weekly: bool, head_is_sure: bool, neighbours: bool) -> str:
    """What hours are read alike: a week's; a day's whose unit and date are sure and whose meter is known; others."""
    return "hours of a week" if weekly else "hours" if head_is_sure and neighbours else "hours alone"


def read_page(seed: int) -> list[tuple[str, str, str, str]]:
    """Kind, truth, reading and state of every field of one page; nothing if it was not located."""
    cv2.setNumThreads(1)
    rng = np.random.default_rng(seed)
    known_layouts, instruments = setting()
    weekly = seed % _WEEKLY_EVERY == 0
    units = tuple(fleet(_UNITS))
    sheet = _sheet(seed, weekly, bool(rng.random() < _SHARE_BY_HAND))
    unit = sheet.unit or str(rng.choice(units))
    day = sheet.on or random_day(rng)
    truth = _truth(sheet.layout, rng, unit, day - dt.timedelta(days=day.weekday()) if weekly else day)
    printed = ("unit", "date") if sheet.unit else ()
    page, truth = fill(sheet.layout, sheet.print, truth, random_writer(rng), rng, printed=printed)
    grade = list(_GRADES)[int(rng.choice(len(_GRADES), p=list(_GRADES.values())))]
    scanned = scan(page, grade, rng)
    located = locate(Page("year", 1, "", scanned.pixels), known_layouts)
    if not isinstance(located, LocatedSheet):
        return []
    known = _known(truth, units, rng)
    fields = _by_themselves(located.layout, read_sheet(located, instruments), known)
    return [_row(field, fields, truth, known, weekly, sheet.unit is not None) for field in fields.values()]


def _sheet(seed: int, weekly: bool, by_hand: bool) -> _Sheet:
    names = _templates(weekly)
    papers = list(Paper)
    name, paper = names[seed % len(names)], papers[seed // len(names) % len(papers)]
    return _blank(name, paper, None if by_hand else seed % _PADS)


@lru_cache(maxsize=2)
def _templates(weekly: bool) -> list[str]:
    return sorted({name for name in fleet(_UNITS).values() if (find_template(name).covers == "week") == weekly})


@lru_cache(maxsize=256)
def _blank(name: str, paper: Paper, pad: int | None) -> _Sheet:
    """A sheet of a pad printed for one unit and day, or for none."""
    template = find_template(name)
    layout = lay_out(template, paper)
    unit: str | None = None
    days: tuple[dt.date, ...] = ()
    on: dt.date | None = None
    if pad is not None:
        rng = np.random.default_rng([730_000, pad])
        on = random_day(rng)
        on -= dt.timedelta(days=on.weekday() if template.covers == "week" else 0)
        unit, days = str(rng.choice([u for u, t in fleet(_UNITS).items() if t == name])), (on,)
    sheets = pad_sheets(template, paper.value, "YEAR25", unit=unit, days=days, copies=1)
    return _Sheet(layout, render_pdf(sheets_pdf(layout, sheets), 300)[0], unit, on)


def _truth(layout: Layout, rng: np.random.Generator, unit: str, day: dt.date) -> SheetTruth:
    """The sheet with some defect lines filled from the list of complaints, some of them repaired and signed for."""
    weekly = layout.template.covers == "week"
    truth = (random_week if weekly else random_truth)(layout, rng, [unit], CREW, day)
    values = dict(truth.values)
    for name in values:
        if name.startswith("item.") and values[name] == "defect":
            values[name] = "ok"
        elif name.startswith("defect."):
            values[name] = None
    worked = [n for n, name in enumerate(DAYS) if values.get(f"initials.{name}")]
    numbers = {item.name: item.number for item in layout.template.items}
    items = [str(name) for name in rng.permutation([item for item in complaints() if item in numbers])]
    signed = False
    for line, item in enumerate(items[: int(rng.integers(0, _MOST_LINES + 1))], start=1):
        defects = complaints()[item]
        words = [*defects[int(rng.integers(len(defects)))], SAME]
        found_on = int(rng.choice(worked)) if weekly else 0
        values[f"item.{item}.{DAYS[found_on]}" if weekly else f"item.{item}"] = "defect"
        values |= {f"defect.{line}.day": str(found_on + 1)} if weekly else {}
        values[f"defect.{line}.item"] = str(numbers[item])
        values[f"defect.{line}"] = words[int(rng.choice(len(words), p=(0.29, 0.29, 0.29, 0.13)))]
        repaired = bool(rng.random() < _SHARE_REPAIRED)
        signed = signed or repaired
        values[f"defect.{line}.repair"] = ("repaired" if rng.random() < 0.8 else "not-needed") if repaired else None
    if signed:
        values |= {"workshop.date": values["date"], "workshop.signature": True}
    return replace(truth, values=values)


def _known(truth: SheetTruth, units: tuple[str, ...], rng: np.random.Generator) -> Known:
    """What the record knows on the Sunday on which the week's stack is read."""
    day = dt.date.fromisoformat(str(truth.values["date"]))
    monday = day - dt.timedelta(days=day.weekday())
    week = tuple(monday + dt.timedelta(days=n) for n in range(6))
    return Known(
        units=tuple(UnitRecord(unit) for unit in units),
        crew=CREW,
        readings=() if rng.random() < _SHARE_FIRST else _neighbours(truth, rng),
        today=monday + dt.timedelta(days=6),
        days=week * 4,
    )


def _neighbours(truth: SheetTruth, rng: np.random.Generator) -> tuple[MeterReading, ...]:
    """The unit's meter some days before, and in half of the cases also after: a stack is not in order."""
    unit = str(truth.values["unit"])
    found = []
    for way, share in ((-1, 1.0), (1, 0.5)):
        written = [(parted(f)[1], v) for f, v in truth.values.items() if parted(f)[0] == "hours" and v]
        day, hours = written[0 if way < 0 else -1]
        on = date_of(dt.date.fromisoformat(str(truth.values["date"])), day)
        apart = int(rng.integers(1, _MOST_DAYS_APART + 1))
        ran = Decimal(int(rng.integers(0, _USUAL_A_DAY * apart + 1))).scaleb(-1)
        there = Decimal(str(hours)) + way * ran
        if rng.random() < share and there >= 0 and on is not None:
            found.append(MeterReading(unit, on + way * dt.timedelta(days=apart), there))
    return tuple(found)


def _by_themselves(layout: Layout, readings: Sequence[Reading], known: Known) -> dict[str, SettledField]:
    """Every field as it is settled, but for the doubts that come of what others say."""
    verdicts = verdicts_of(layout, readings, known)
    date = settled(verdicts["date"], calibration())
    sure = layout.template.covers == "week" and date.state is State.ACCEPTED and date.value
    monday = dt.date.fromisoformat(str(date.value)) if sure else None
    assert known.today is not None
    values = {field_id: verdict.value for field_id, verdict in verdicts.items()}
    for field_id, reasons in broken_rules(layout, values, monday, known.today).items():
        verdicts[field_id].reasons = [reason for reason in verdicts[field_id].reasons if reason not in reasons]
    return {spec.id: settled(verdicts[spec.id], calibration()) for spec in layout.fields}


def _row(
    field: SettledField, fields: Mapping[str, SettledField], truth: SheetTruth, known: Known, weekly: bool, pad: bool
) -> tuple[str, str, str, str]:
    kind = kind_of_field(field.id, weekly)
    if kind == "hours":
        head = [fields[name] for name in ("unit", "date")]
        sure = all(part.state is State.ACCEPTED for part in head)
        on = dt.date.fromisoformat(str(head[1].value)) if head[1].value else None
        window = hours_window(known, str(head[0].value) if head[0].value else None, on)
        kind = hours_kind(weekly, sure, window is not None)
    elif kind in ("unit", "date") and pad:
        kind = f"{kind} of a pad"
    true, read = stored(truth.values.get(field.id)), stored(field.value)
    # A name, a number and words are right whatever their capitals.
    return kind, true, true if true.strip() == read.strip() else read, field.state.value


def stored(value: str | bool | None) -> str:
    """A value as the list of readings has it: small letters, "" for nothing written."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return (value or "").casefold()
