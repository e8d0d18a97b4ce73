"""Run simulated pages through the rooms and set every field beside the truth: for calibration and for the bench."""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache

import cv2
import numpy as np

from scanform.batch.bounds import keep_freed_memory
from scanform.form import (
    DAYS,
    Box,
    Field,
    FieldKind,
    Layout,
    Paper,
    built_in_templates,
    date_of,
    lay_out,
    parted,
    unit_characters,
)
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, locate
from scanform.press import pad_sheets, sheets_pdf
from scanform.read import Instruments, Reading, read_sheet
from scanform.read.writing import read_name
from scanform.settle import Known, MeterReading, UnitRecord, calibration
from scanform.settle.names import settle_name
from scanform.settle.sheet import number_verdicts, verdicts_of
from scanform.settle.verdict import Verdict, settled
from scanform.simulate import CREW, Grade, SheetTruth, SimulatedPage, make_page, random_unit, render_pdf
from scanform.training.digits import Digits
from scanform.training.faces import face_signs, kept_apart

__all__ = [
    "NUMBERS",
    "FieldTrial",
    "PageTrial",
    "Plan",
    "blank_sheets",
    "field_trials",
    "known_when_read",
    "number_trials",
    "position_errors_mm",
    "run_trials",
    "setting",
    "simulated",
    "trials_in_turn",
]

_MOST_DAYS_OLD = 14  # sheets are scanned once a week, and read within another
_REGISTER = 40
_SHARE_LATE = 0.1  # of sheets that come in with a later week's; no outside source
NUMBERS = ("unit", "date", "hours")


@dataclass(frozen=True)
class Plan:
    """One page to make and read. ``digits``: which split of real digits goes into the combs, None for simulated ones.

    ``register``: whether units and crew are known when the page is settled; ``last_reading``: whether the unit's hour
    meter was read one to four days before. ``weekly``: a sheet of a week instead of one of a day. ``strange_hand``: the
    combs are written in a hand that no training saw.
    """

    grade: Grade
    seed: int
    digits: str | None
    register: bool = True
    last_reading: bool = True
    weekly: bool = False
    strange_hand: bool = False


@dataclass(frozen=True)
class FieldTrial:
    """One field, read and true. ``unclear``: the paper itself has no single right answer, so only a doubt is right.
    ``taken_back``: the writer struck an answer out and gave another.

    ``kind``: the calibration it goes by. ``raw``, ``clean``: probabilities before calibration, ``confidence`` after.
    ``barred``: a reason other than a low probability made it doubtful. ``disputed``: it holds a real digit whose label
    is not what readers see (:func:`scanform.training.digits.disputed`).
    ``picture``: the ink as PNG, of accepted fields that are wrong.
    """

    id: str
    kind: str
    item: bool
    truth: str | bool | None
    value: str | bool | None
    right: bool
    unclear: bool
    raw: float
    clean: float
    barred: bool
    accepted: bool
    text: str | None
    confidence: float
    taken_back: bool = False
    picture: bytes | None = None
    disputed: bool = False


@dataclass(frozen=True)
class PageTrial:
    """One page; ``fields`` is empty if it was not located. ``errors_mm``: of field positions. ``unaided``: unit,
    date and hours once more, settled with neither register nor earlier readings. ``scan_grade``: as the page itself
    shows it, "" if it was not located. Seconds are CPU time; ``text_s`` is that part of ``read_s`` and ``settle_s``
    which went into lines of text, measured by reading and settling them once more.
    """

    plan: Plan
    located: bool
    reason: str
    errors_mm: tuple[float, ...]
    fields: tuple[FieldTrial, ...]
    unaided: tuple[FieldTrial, ...]
    decode_s: float
    locate_s: float
    read_s: float
    settle_s: float
    scan_grade: str = ""
    text_s: float = 0.0


def run_trials(plans: Sequence[Plan], workers: int | None = None) -> Iterator[PageTrial]:
    """Make, read and compare every planned page, in order."""
    with _pool(workers) as pool:
        yield from pool.map(_trial, plans, chunksize=4)


def trials_in_turn(plans: Sequence[Plan], rounds: int) -> list[PageTrial]:
    """The same by one worker, which makes all pages first and then reads the whole stack as often as ``rounds`` says.

    Each second count is the least of the rounds: what else a shared machine does can only add to it.
    """
    with _pool(1) as pool:
        return pool.submit(_in_turn, plans, rounds).result()


def _pool(workers: int | None) -> ProcessPoolExecutor:
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    os.environ.setdefault("OMP_THREAD_LIMIT", "1")
    return ProcessPoolExecutor(workers or os.cpu_count(), mp_context=multiprocessing.get_context("spawn"))


def _in_turn(plans: Sequence[Plan], rounds: int) -> list[PageTrial]:
    pages = [simulated(plan) for plan in plans]
    stacks = [[_read(plan, page) for plan, page in zip(plans, pages, strict=True)] for _ in range(rounds)]
    return [_least_seconds(of_a_page) for of_a_page in zip(*stacks, strict=True)]


def _least_seconds(of_a_page: Sequence[PageTrial]) -> PageTrial:
    seconds = ("decode_s", "locate_s", "read_s", "settle_s", "text_s")
    least = {name: min(getattr(trial, name) for trial in of_a_page) for name in seconds}
    return replace(of_a_page[0], **least)


@lru_cache(maxsize=1)
def _setting() -> tuple[KnownLayouts, Instruments, tuple[str, ...]]:
    cv2.setNumThreads(1)
    keep_freed_memory()  # as in the workers of a batch
    rng = np.random.default_rng(20261125)
    units: dict[str, None] = {}
    while len(units) < _REGISTER:
        units[random_unit(7, rng)] = None
    return KnownLayouts(built_in_templates()), Instruments(), tuple(units)


@lru_cache(maxsize=2)
def blank_sheets(covers: str) -> list[tuple[Layout, np.ndarray]]:
    """The built-in sheets that cover a ``day`` or a ``week``, on each paper, with their print (uint8, 300 dpi).

    Apart, so that a seed means the same page whatever sheets of the other kind there are.
    """
    found = []
    for template in built_in_templates():
        if template.covers == covers:
            for paper in Paper:
                layout = lay_out(template, paper)
                sheets = pad_sheets(template, paper.value, "BENCH0", unit=None, days=(), copies=1)
                found.append((layout, render_pdf(sheets_pdf(layout, sheets), 300)[0]))
    return found


@lru_cache(maxsize=3)
def _real_digits(split: str) -> dict[str, np.ndarray]:
    from scanform.training import digits

    found: Digits = {"test": digits.test_split, "calibration": digits.calibration_split}[split]()
    return {str(d): found.images[found.labels == d] for d in range(10)}


def _disputed_combs(truth: SheetTruth) -> frozenset[str]:
    """The combs of a page with test digits that hold one whose label is not what readers see."""
    otherwise = _disputed_pictures()
    return frozenset(comb for comb, signs in truth.pasted.items() if any(otherwise[d][n] for d, n in signs))


@lru_cache(maxsize=1)
def _disputed_pictures() -> dict[str, np.ndarray]:
    """Of each picture that ``_real_digits("test")`` holds, in its order, whether its label is disputed."""
    from scanform.training.digits import disputed, test_split

    labels = test_split().labels
    return {str(d): disputed()[labels == d] for d in range(10)}


def setting() -> tuple[KnownLayouts, Instruments]:
    """The layouts and networks that trials are read with."""
    known_layouts, instruments, _ = _setting()
    return known_layouts, instruments


def simulated(plan: Plan) -> SimulatedPage:
    """The planned page, filled in by hand on a blank sheet of one of the built-in templates and papers."""
    _, _, units = _setting()
    sheets = blank_sheets("week" if plan.weekly else "day")
    layout, blank = sheets[plan.seed % len(sheets)]
    return make_page(
        layout,
        blank,
        plan.grade,
        plan.seed,
        units=units,
        real_digits=_ink_for_combs(plan),
    )


def _ink_for_combs(plan: Plan) -> dict[str, np.ndarray] | None:
    if not plan.strange_hand:
        return _real_digits(plan.digits) if plan.digits else None
    faces = kept_apart()
    return face_signs(faces[plan.seed % len(faces)])


def _trial(plan: Plan) -> PageTrial:
    return _read(plan, simulated(plan))


def _read(plan: Plan, page: SimulatedPage) -> PageTrial:
    known_layouts, instruments = setting()
    started = time.process_time()
    pixels = cv2.imdecode(np.frombuffer(page.encoded, np.uint8), cv2.IMREAD_GRAYSCALE)
    decoded = time.process_time()
    found = locate(Page("trial", 1, "", page.pixels if pixels is None else pixels), known_layouts)
    located = time.process_time()
    if not isinstance(found, LocatedSheet):
        return PageTrial(plan, False, found.reason, (), (), (), decoded - started, located - decoded, 0.0, 0.0)
    readings = read_sheet(found, instruments)
    read = time.process_time()
    known = known_when_read(plan, page.truth)
    # First without any help: it also prepares the day's calendar, which a real batch does once and not for each page.
    unaided = field_trials(found, readings, Known(today=known.today), page.truth)
    settling = time.process_time()
    fields = field_trials(found, readings, known, page.truth)
    settled_at = time.process_time()
    for name in _read_text_again(found, readings, instruments):
        settle_name(name, known)
    text_s = time.process_time() - settled_at
    disputed = _disputed_combs(page.truth) if plan.digits == "test" else frozenset()
    fields, unaided = ([replace(f, disputed=f.id in disputed) for f in some] for some in (fields, unaided))
    return PageTrial(
        plan,
        True,
        "",
        position_errors_mm(found, page.mm_to_px),
        tuple(fields),
        tuple(field for field in unaided if parted(field.id)[0] in NUMBERS),
        decoded - started,
        located - decoded,
        read - located,
        settled_at - settling,
        readings[0].scan_grade if readings else "",
        text_s,
    )


def _read_text_again(found: LocatedSheet, readings: Sequence[Reading], instruments: Instruments) -> list[Reading]:
    """Reads the lines of text of a page without defect words: the names."""
    written = sorted(reading.field_id for reading in readings if reading.line_steps is not None)
    if any(field_id.startswith("defect.") for field_id in written):
        return []
    return [read_name(found, found.layout.field(field_id), instruments.lines) for field_id in written]


def known_when_read(plan: Plan, truth: SheetTruth) -> Known:
    """What the binder knows when the planned page, which says ``truth``, is settled."""
    today = _today(truth, plan.seed)
    if not plan.register:
        return Known(today=today)
    return Known(
        units=tuple(UnitRecord(unit) for unit in _setting()[2]),
        crew=CREW,
        readings=_last_reading(truth, plan.seed) if plan.last_reading else (),
        today=today,
        days=_days_of_the_batch(truth, plan.seed, today),
    )


def _today(truth: SheetTruth, seed: int) -> date:
    """The day on which the sheet is read."""
    age = int(np.random.default_rng([seed, 8]).integers(0, _MOST_DAYS_OLD + 1))
    written = [parted(field_id)[1] for field_id, value in truth.values.items() if value]
    last = max((day for day in written if day is not None), key=DAYS.index, default=None)
    on = date_of(date.fromisoformat(str(truth.values["date"])), last)
    assert on is not None
    return on + timedelta(days=age)


def _days_of_the_batch(truth: SheetTruth, seed: int, today: date) -> tuple[date, ...]:
    """Dates of the sheets before it in the stack: of its own fortnight, but for one sheet in ten that lay about."""
    rng = np.random.default_rng([seed, 9])
    middle = date.fromisoformat(str(truth.values["date"]))
    if rng.random() < _SHARE_LATE:
        middle = today
    return tuple(min(middle + timedelta(days=int(n)), today) for n in rng.integers(-4, 5, 12))


def _last_reading(truth: SheetTruth, seed: int) -> tuple[MeterReading, ...]:
    """The unit's meter some days before, at 0 to 14 h a day (common practice)."""
    first = next((f for f, v in truth.values.items() if parted(f)[0] == "hours" and v), "hours")
    unit, on, hours = (truth.values.get(name) for name in ("unit", "date", first))
    if not (unit and on and hours):
        return ()
    rng = np.random.default_rng([seed, 7])
    days = int(rng.integers(1, 5))
    before = Decimal(str(hours)) - Decimal(int(rng.integers(0, 140 * days + 1))).scaleb(-1)
    if before < 0:
        return ()
    day = date_of(date.fromisoformat(str(on)), parted(first)[1])
    assert day is not None
    return (MeterReading(str(unit), day - timedelta(days=days), before),)


def field_trials(found: LocatedSheet, readings: Sequence[Reading], known: Known, truth: SheetTruth) -> list[FieldTrial]:
    """Every field of a sheet beside the truth."""
    verdicts = verdicts_of(found.layout, readings, known)
    return _beside_truth(found, [verdicts[spec.id] for spec in found.layout.fields], truth)


def number_trials(
    found: LocatedSheet, readings: Sequence[Reading], known: Known, truth: SheetTruth
) -> list[FieldTrial]:
    """Unit, date and hours of a sheet of one day beside the truth; ``readings``: of its combs, at least."""
    verdicts = number_verdicts(found.layout, {reading.field_id: reading for reading in readings}, known)
    return _beside_truth(found, [verdicts[name] for name in NUMBERS], truth)


def _beside_truth(found: LocatedSheet, verdicts: Sequence[Verdict], truth: SheetTruth) -> list[FieldTrial]:
    fields = []
    for verdict in verdicts:
        spec = verdict.spec
        true = truth.values.get(spec.id)
        barred = bool(verdict.reasons)
        field = settled(verdict, calibration())
        right, unclear = _same(spec.id, true, verdict.value), spec.id in truth.unclear
        silent = field.state == "accepted" and (unclear or not right)
        fields.append(
            FieldTrial(
                id=spec.id,
                kind=verdict.calibrated_as,
                item=spec.kind in (FieldKind.CHOICE, FieldKind.MARK),
                truth=true,
                value=verdict.value,
                right=right,
                unclear=unclear,
                taken_back=spec.id in truth.taken_back - truth.unclear,
                raw=verdict.raw,
                clean=verdict.clean,
                barred=barred,
                accepted=field.state == "accepted",
                text=str(verdict.value or "") if spec.kind is FieldKind.TEXT else None,
                confidence=field.confidence,
                picture=_picture(found, verdict.reading) if silent else None,
            )
        )
    return fields


def _picture(found: LocatedSheet, reading: Reading) -> bytes:
    """The field's ink with a little of what surrounds it, as PNG."""
    corners = np.array(reading.polygon_px)
    (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
    margin = 0.4 * min(right - left, bottom - top)
    height, width = found.page.pixels.shape
    x0, y0 = max(int(left - margin), 0), max(int(top - margin), 0)
    x1, y1 = min(int(right + margin) + 1, width), min(int(bottom + margin) + 1, height)
    return cv2.imencode(".png", found.page.pixels[y0:y1, x0:x1])[1].tobytes()


def _same(field_id: str, truth: str | bool | None, value: str | bool | None) -> bool:
    if isinstance(truth, str) and isinstance(value, str):
        if field_id == "unit":
            return unit_characters(truth) == unit_characters(value)
        return truth.casefold().strip() == value.casefold().strip()
    return truth == value or (truth in (None, "") and value in (None, ""))


def _boxes(field: Field) -> list[Box]:
    return [a.box_mm for a in field.answers] or list(field.cells_mm) or [field.box_mm] * (field.kind is FieldKind.MARK)


def position_errors_mm(found: LocatedSheet, truth: Callable[[np.ndarray], np.ndarray]) -> tuple[float, ...]:
    """Distance of every box's and cell's middle from the truth."""
    boxes = [b for f in found.layout.fields for b in _boxes(f)]
    true_px = truth(np.array([box.centre_mm for box in boxes]))
    seen_px = np.array([np.mean(found.polygon_px(box), axis=0) for box in boxes])
    px_per_mm = found.map.px_per_mm() / found.raster_scale
    return tuple((np.linalg.norm(true_px - seen_px, axis=1) / px_per_mm).round(4).tolist())
