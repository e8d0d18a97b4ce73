"""One call, one simulated page: filled in, captured, with the truth beside it. The same seed gives the same bytes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from scanform.form.layout import FieldKind, Layout
from scanform.simulate import trouble
from scanform.simulate import weekly as weekly_sheet
from scanform.simulate.hand import RealDigits
from scanform.simulate.people import CREW, random_unit
from scanform.simulate.scanner import Grade, scan
from scanform.simulate.sheet import SheetTruth, fill, random_truth
from scanform.simulate.warp import PointMap
from scanform.simulate.writer import Writer, random_writer

__all__ = ["SimulatedPage", "make_page", "random_day"]

FIRST_DAY = date(2026, 1, 1)
# Shares of sheets on which something goes wrong; chosen so that a set of 300 holds several of each.
SHARE_CHANGED = 0.08
SHARE_BOTH = 0.03
SHARE_DIRT = 0.05
SHARE_UNSIGNED = 0.03


@dataclass(frozen=True, eq=False)
class SimulatedPage:
    """A captured page and what it truly says.

    ``pixels``: uint8 (height, width) grey as decoded from ``encoded``. ``mm_to_px``: (n, 2) page mm to (n, 2) px.
    ``lost_mm``: torn-off areas as (n, 2) mm polygons.
    """

    encoded: bytes = field(repr=False)
    suffix: str
    truth: SheetTruth
    mm_to_px: PointMap = field(repr=False)
    pixels: np.ndarray = field(repr=False)
    grade: Grade
    writer: Writer = field(repr=False)
    lost_mm: tuple[np.ndarray, ...] = ()


def random_day(rng: np.random.Generator) -> date:
    """A day within two years from FIRST_DAY."""
    return FIRST_DAY + timedelta(days=int(rng.integers(0, 730)))


def make_page(
    layout: Layout,
    blank: np.ndarray,
    grade: Grade | str,
    seed: int,
    *,
    units: Sequence[str] | None = None,
    crew: Sequence[str] = CREW,
    on: date | None = None,
    serial: str = "",
    printed: Mapping[str, str] | None = None,
    real_digits: RealDigits | None = None,
    quarter_turns: int = 0,
) -> SimulatedPage:
    """Fill ``blank`` (uint8 raster of the printed sheet, 300 dpi) by a random writer and capture it at ``grade``.

    A week's sheet is of the week that ``on`` lies in.

    ``printed``: values of fields that are printed already (unit and date of a pad): true, but not written. Only
    ``seed`` and the other arguments decide the result.
    """
    grade = Grade(grade)
    rng = np.random.default_rng([seed, list(Grade).index(grade)])
    writer = random_writer(rng)
    day = random_day(rng) if on is None else on
    if units is None:
        units = [random_unit(len(layout.field("unit").cells_mm), rng)]
    weekly = layout.template.covers == "week"
    if weekly:
        day -= timedelta(days=day.weekday())
        truth = weekly_sheet.random_week(layout, rng, units, crew, day, serial=serial)
        truth = weekly_sheet.missed(truth, rng)
    else:
        truth = random_truth(layout, rng, units, crew, day, serial=serial)
    printed = dict(printed or {})
    truth = replace(truth, values={**truth.values, **printed})
    if rng.random() < SHARE_UNSIGNED:
        truth = trouble.unsigned(truth)
    page, truth = fill(layout, blank, truth, writer, rng, real_digits, printed)
    troubled = weekly_sheet.week_troubles if weekly else _troubled
    truth = troubled(page, layout, truth, writer, rng)
    result = scan(page, grade, rng, quarter_turns)
    return SimulatedPage(
        result.encoded, result.suffix, truth, result.page_mm_to_px, result.pixels, grade, writer, result.lost_mm
    )


def _troubled(
    page: np.ndarray, layout: Layout, truth: SheetTruth, writer: Writer, rng: np.random.Generator
) -> SheetTruth:
    """Now and then an answer taken back, two answers, or dirt in a box; each on a field of its own."""
    choices = [f.id for f in layout.fields if f.kind is FieldKind.CHOICE]
    places = iter(rng.permutation(choices).tolist())
    for share, happen in (
        (SHARE_CHANGED, trouble.change_answer),
        (SHARE_BOTH, trouble.tick_both),
        (SHARE_DIRT, trouble.dirty_box),
    ):
        if rng.random() < share:
            truth = happen(page, layout, truth, next(places), writer, rng)
    return truth
