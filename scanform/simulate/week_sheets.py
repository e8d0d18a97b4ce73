"""The sheets of the demo week as they lay in the office on Friday: pressed, filled in, some of them spoilt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from scanform.form import FieldKind, Layout, find_template, lay_out
from scanform.press import Sheet, pad_sheets, sheets_pdf
from scanform.simulate.pens import DPI
from scanform.simulate.quarry import HANDS, MACHINES, MECHANIC, MONDAY, PAD_DAYS, Machine, Shift
from scanform.simulate.raster import render_pdf
from scanform.simulate.sheet import SheetTruth, Value, fill
from scanform.simulate.trouble import change_answer, spoil, tick_both, unsigned
from scanform.simulate.writer import Writer, random_writer

__all__ = ["SEED", "Filled", "filled_sheet", "hands_of_the_crew", "spoilt_sheet"]

SEED = 47
BLANK_PAD_SHEETS = 25
ITEMS_BEFORE_VOID = 9
# The sheet tells its writers to scribble a wrong box out; these marks could pass for that.
LIKE_A_STRIKE = {"fill", "scribble"}


@dataclass(frozen=True, eq=False)
class Filled:
    """One filled sheet: its pixels (uint8 (height, width), at DPI), what it says, and the seed it was made from."""

    pixels: np.ndarray
    truth: SheetTruth
    seed: list[int]


def hands_of_the_crew() -> dict[str, Writer]:
    """Everybody's handwriting by name: the same all week."""
    hands = {}
    for name, number in HANDS.items():
        writer = random_writer(np.random.default_rng([SEED, number]))
        marks = tuple((mark, share) for mark, share in writer.marks if mark not in LIKE_A_STRIKE)
        hands[name] = replace(writer, marks=marks)
    return hands


def filled_sheet(shift: Shift, hands: dict[str, Writer], seed: list[int]) -> Filled:
    """The sheet of a shift as it lay in the office on Friday."""
    machine, note = shift.machine, shift.note
    layout = lay_out(find_template(machine.template), machine.paper)
    rng = np.random.default_rng(seed)
    writer = hands[shift.operator]
    printed: tuple[str, ...]
    if shift.loose_sheet is None:
        sheet, printed = _pad_sheet(layout, machine, shift.on), ("unit", "date")
    else:
        sheet, printed = _loose_sheet(layout, shift.loose_sheet), ()
    truth = _truth(shift, layout, sheet.code.serial)
    page, truth = fill(layout, _printed(layout, sheet), truth, writer, rng, printed=printed)
    if note.struck_out:
        truth = change_answer(page, layout, truth, f"item.{note.struck_out}", writer, rng)
    if note.both_ticked:
        truth = tick_both(page, layout, truth, f"item.{note.both_ticked}", writer, rng)
    if note.repaired:
        page, truth = _closed_by_workshop(page, layout, truth, shift.on, hands[MECHANIC], rng)
    return Filled(page, truth, seed)


def _truth(shift: Shift, layout: Layout, serial: str) -> SheetTruth:
    machine, note = shift.machine, shift.note
    values = _nothing_written(layout)
    numbers = {item.name: item.number for item in layout.template.items}
    for name in numbers:
        values[f"item.{name}"] = "na" if name in machine.not_fitted else "ok"
    for n, (name, words) in enumerate(note.defects, start=1):
        values[f"item.{name}"] = "defect"
        values[f"defect.{n}.item"] = str(numbers[name])
        values[f"defect.{n}"] = words
    hours = machine.hours(shift.day)
    values |= {
        "unit": machine.unit,
        "date": shift.on.isoformat(),
        "hours": f"{note.written_hours or hours:.1f}",
        "operator": shift.operator,
        "signature": True,
        "fit": note.fit,
        "told": note.told,
    }
    troubles = []
    if shift.loose_sheet is not None:
        troubles.append("unit and date by hand")
    if note.written_hours:
        troubles.append(f"hours misread: the meter stood at {hours:.1f}")
    critical = {item.name for item in layout.template.items if item.critical}
    if note.fit == "fit" and any(name in critical for name, _ in note.defects):
        troubles.append("fit to use in spite of a safety defect")
    if note.upside_down:
        troubles.append("upside down")
    truth = SheetTruth(layout.template.name, layout.template.version, serial, values, tuple(troubles))
    return truth if note.signed else unsigned(truth)


def _nothing_written(layout: Layout) -> dict[str, Value]:
    return {f.id: False if f.kind is FieldKind.SIGNATURE else None for f in layout.fields}


def _closed_by_workshop(
    page: np.ndarray, layout: Layout, truth: SheetTruth, on: date, mechanic: Writer, rng: np.random.Generator
) -> tuple[np.ndarray, SheetTruth]:
    """The mechanic's own hand on the first defect line and in the workshop's block."""
    closing: dict[str, Value] = {
        "defect.1.repair": "repaired",
        "workshop.date": on.isoformat(),
        "workshop.signature": True,
    }
    only = replace(truth, values=_nothing_written(layout) | closing)
    page, _ = fill(layout, page, only, mechanic, rng)
    return page, replace(truth, values=truth.values | closing)


def spoilt_sheet(shift: Shift, hands: dict[str, Writer], seed: list[int]) -> Filled:
    """The printed sheet that the operator began with yesterday's hours, and crossed out."""
    layout = lay_out(find_template(shift.machine.template), shift.machine.paper)
    rng = np.random.default_rng(seed)
    writer = hands[shift.operator]
    sheet = _pad_sheet(layout, shift.machine, shift.on)
    values = _nothing_written(layout) | {
        "unit": shift.machine.unit,
        "date": shift.on.isoformat(),
        "hours": f"{shift.machine.hours(shift.day - 1):.1f}",
        "operator": shift.operator,
    }
    for item in layout.template.items[:ITEMS_BEFORE_VOID]:
        values[f"item.{item.name}"] = "ok"
    truth = SheetTruth(layout.template.name, layout.template.version, sheet.code.serial, values)
    page, truth = fill(layout, _printed(layout, sheet), truth, writer, rng, printed=("unit", "date"))
    return Filled(page, spoil(page, layout, truth, writer, rng), seed)


def _pad_sheet(layout: Layout, machine: Machine, on: date) -> Sheet:
    """The sheet of that day out of the machine's two pads of the week; the second knows what the first brought up."""
    days = tuple(MONDAY + timedelta(days=k) for k in range(machine.planned))
    late = on >= days[PAD_DAYS]
    half = days[PAD_DAYS:] if late else days[:PAD_DAYS]
    pad = f"DM47{MACHINES.index(machine)}{'B' if late else 'A'}"
    still_open = machine.open_midweek if late else machine.open_before
    sheets = pad_sheets(
        layout.template, layout.paper, pad, unit=machine.unit, days=half, copies=1, still_open=still_open
    )
    return sheets[half.index(on)]


def _loose_sheet(layout: Layout, place: int) -> Sheet:
    """A sheet off the blank pad of its kind, unit and date still to be written."""
    pad = "DM47Z" + {"site-machine": "S", "road-truck": "R", "forklift": "F"}[layout.template.name]
    sheets = pad_sheets(layout.template, layout.paper, pad, unit=None, days=(), copies=BLANK_PAD_SHEETS)
    return sheets[place - 1]


def _printed(layout: Layout, sheet: Sheet) -> np.ndarray:
    (page,) = render_pdf(sheets_pdf(layout, [sheet]), DPI)
    return page
