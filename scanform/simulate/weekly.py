"""A week's sheet as a crew fills it in: what it says, and what goes wrong on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np

from scanform.form.days import DAYS, parted
from scanform.form.layout import FieldKind, Layout
from scanform.simulate.complaints import complaint_about
from scanform.simulate.pens import DPI
from scanform.simulate.sheet import SHARE_NA, SheetTruth, Value
from scanform.simulate.signs import ODD_SIGNS, RETRACTIONS, odd_sign, retract
from scanform.simulate.ticks import NON_MARKS, draw_mark
from scanform.simulate.writer import Writer

__all__ = ["change_sign", "dirty_sign_box", "missed", "random_week", "unknown_sign", "week_troubles"]

# Shares of sheets and days; no outside source, chosen so that every case occurs often enough to be measured.
DEFECTS_A_WEEK = (0.50, 0.30, 0.20)
SHARE_IDLE_WORKDAY = 0.12
SHARE_IDLE_WEEKEND = 0.75
SHARE_DAY_NAMED = 0.85  # of defect lines
SHARE_STANDS = 0.6  # of defects: still there on the days after
SHARE_CHANGED, SHARE_ODD, SHARE_DIRT, SHARE_MISSED = 0.15, 0.10, 0.15, 0.10
MOST_HOURS_A_DAY = 14.0  # common practice


def random_week(
    layout: Layout,
    rng: np.random.Generator,
    units: Sequence[str],
    crew: Sequence[str],
    monday: date,
    hours: Decimal | None = None,
    serial: str = "",
) -> SheetTruth:
    """A plausible week: idle days, most items OK, some never fitted, up to two defects that stand for some days.

    ``hours``: the meter on Monday. ``monday`` becomes the sheet's date.
    """
    template = layout.template
    values: dict[str, Value] = {f.id: False if f.kind is FieldKind.SIGNATURE else None for f in layout.fields}
    days = [d for n, d in enumerate(DAYS) if rng.random() >= (SHARE_IDLE_WEEKEND if n > 4 else SHARE_IDLE_WORKDAY)]
    days = days or [DAYS[int(rng.integers(0, 5))]]
    for item in template.items:
        usual = "na" if rng.random() < SHARE_NA and not item.critical else "ok"
        for day in days:
            values[f"item.{item.name}.{day}"] = usual
    wanted = min(int(rng.choice(3, p=DEFECTS_A_WEEK)), template.defect_lines)
    bad = sorted(int(k) for k in rng.choice(len(template.items), wanted, replace=False))
    last_bad = False
    for n, k in enumerate(bad, start=1):
        item, first = template.items[k], int(rng.integers(0, len(days)))
        stands = days[first:] if rng.random() < SHARE_STANDS else days[first : first + 1]
        for day in stands:
            values[f"item.{item.name}.{day}"] = "defect"
        last_bad |= item.critical and days[-1] in stands
        values[f"defect.{n}.item"] = str(item.number)
        if len(stands) > 1 or rng.random() < SHARE_DAY_NAMED:
            values[f"defect.{n}.day"] = str(DAYS.index(days[first]) + 1)
        values[f"defect.{n}"] = complaint_about(item.name, rng)
    _meter(values, layout, rng, days, hours)
    for day in days:
        values[f"initials.{day}"] = True
    values |= {
        "unit": str(rng.choice(list(units))),
        "date": monday.isoformat(),
        "operator": str(rng.choice(list(crew))),
        "signature": True,
        "fit": "parked" if last_bad else "fit",
    }
    if bad and rng.random() < 0.8:
        values["told"] = str(rng.choice(list(crew)))
    return SheetTruth(template.name, template.version, serial, values)


def _meter(
    values: dict[str, Value], layout: Layout, rng: np.random.Generator, days: Sequence[str], hours: Decimal | None
) -> None:
    whole = len(layout.field(f"hours.{DAYS[0]}").cells_mm) - 1
    most = 10 ** (whole + 1) - 1 - int(MOST_HOURS_A_DAY * 10) * len(DAYS)
    digits = int(rng.integers(3, whole + 1))
    tenths = int(hours * 10) if hours is not None else min(int(rng.integers(0, 10 ** (digits + 1))), most)
    for day in days:
        values[f"hours.{day}"] = f"{Decimal(tenths) / 10:.1f}"
        tenths += int(rng.integers(10, int(MOST_HOURS_A_DAY * 10)))


def change_sign(
    page: np.ndarray, layout: Layout, truth: SheetTruth, field_id: str, writer: Writer, rng: np.random.Generator
) -> SheetTruth:
    """The sign is taken back, in place: what is meant now, the box alone does not say."""
    # The same sign again would take nothing back, and a line through a dash is a dash.
    instead = "cross" if truth.values[field_id] == "ok" else "tick"
    ways = [how for how in RETRACTIONS if truth.values[field_id] != "na" or how != "line through"]
    retract(page, layout.field(field_id).box_mm, str(rng.choice(ways)), instead, writer, rng)
    return replace(
        truth,
        values={**truth.values, field_id: None},
        troubles=(*truth.troubles, f"sign taken back: {field_id}"),
        unclear=truth.unclear | {field_id},
    )


def unknown_sign(
    page: np.ndarray, layout: Layout, truth: SheetTruth, field_id: str, writer: Writer, rng: np.random.Generator
) -> SheetTruth:
    """A sign that is none of the legend's in an empty box, in place; no value is right."""
    odd_sign(page, layout.field(field_id).box_mm, str(rng.choice(ODD_SIGNS)), writer, rng)
    return replace(truth, troubles=(*truth.troubles, f"unknown sign: {field_id}"), unclear=truth.unclear | {field_id})


def dirty_sign_box(
    page: np.ndarray, layout: Layout, truth: SheetTruth, field_id: str, writer: Writer, rng: np.random.Generator
) -> SheetTruth:
    """A speck or a touch of the pen in an empty box, in place."""
    draw_mark(page, layout.field(field_id).box_mm, str(rng.choice(NON_MARKS)), writer.pen, rng, DPI)
    return replace(truth, troubles=(*truth.troubles, f"dirt: {field_id}"))


def missed(truth: SheetTruth, rng: np.random.Generator) -> SheetTruth:
    """One item was not looked at on one day; to be filled in."""
    answered = [f for f, v in truth.values.items() if f.startswith("item.") and v == "ok"]
    if not answered or rng.random() >= SHARE_MISSED:
        return truth
    field_id = answered[int(rng.integers(0, len(answered)))]
    return replace(
        truth, values={**truth.values, field_id: None}, troubles=(*truth.troubles, f"not answered: {field_id}")
    )


def week_troubles(
    page: np.ndarray, layout: Layout, truth: SheetTruth, writer: Writer, rng: np.random.Generator
) -> SheetTruth:
    """Now and then a sign taken back, one that nobody knows, dirt; each in a box of its own, on the filled page."""
    marks = [f.id for f in layout.fields if f.kind is FieldKind.MARK]
    signed = [m for m in marks if truth.values[m] is not None]
    used = {parted(m)[1] for m in signed}
    empty = [m for m in marks if truth.values[m] is None]
    if rng.random() < SHARE_CHANGED and signed:
        truth = change_sign(page, layout, truth, str(rng.choice(signed)), writer, rng)
    if rng.random() < SHARE_DIRT and empty:
        truth = dirty_sign_box(page, layout, truth, str(rng.choice(empty)), writer, rng)
    free = [m for m in empty if parted(m)[1] in used and f"dirt: {m}" not in truth.troubles]
    if rng.random() < SHARE_ODD and free:
        truth = unknown_sign(page, layout, truth, str(rng.choice(free)), writer, rng)
    return truth
