"""Unit, date and hours of simulated sheets of one day, and nothing else on them: what their thresholds lack most.

A threshold that is to show one wrong field in two thousand needs thousands of fields, and a sheet has three. To read
these alone takes half the time of reading a whole page.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import FieldKind
from scanform.intake import Page
from scanform.locate import LocatedSheet, locate, page_qualities, scan_grade
from scanform.read import Reading
from scanform.read.combs import read_combs
from scanform.settle import Known
from scanform.training.trial import FieldTrial, Plan, known_when_read, number_trials, setting, simulated

__all__ = ["NumberPage", "number_page", "run_number_trials"]


class NumberPage(NamedTuple):
    """Unit, date and hours of one page beside the truth: with what its plan says is known, and with neither register
    nor earlier readings. ``scan_grade``: as the page itself shows it.
    """

    fields: list[FieldTrial]
    unaided: list[FieldTrial]
    scan_grade: str


def run_number_trials(plans: Sequence[Plan], workers: int | None = None) -> Iterator[NumberPage]:
    """Every planned page that was located, in order; ``plans``: sheets of one day."""
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        for page in pool.map(number_page, plans, chunksize=4):
            if page is not None:
                yield page


def number_page(plan: Plan) -> NumberPage | None:
    """One page; None if it was not located."""
    cv2.setNumThreads(1)
    known_layouts, _ = setting()
    page = simulated(plan)
    pixels = cv2.imdecode(np.frombuffer(page.encoded, np.uint8), cv2.IMREAD_GRAYSCALE)
    found = locate(Page("numbers", 1, "", page.pixels if pixels is None else pixels), known_layouts)
    if not isinstance(found, LocatedSheet):
        return None
    readings = _combs(found)
    known = known_when_read(plan, page.truth)
    return NumberPage(
        number_trials(found, readings, known, page.truth),
        number_trials(found, readings, Known(today=known.today), page.truth),
        readings[0].scan_grade,
    )


def _combs(found: LocatedSheet) -> list[Reading]:
    """The sheet's combs as :func:`scanform.read.read_sheet` reads them where nothing is printed or crossed out."""
    _, instruments = setting()
    fields = [field for field in found.layout.fields if field.kind is FieldKind.COMB]
    grade = scan_grade(page_qualities(found)).value
    read = read_combs(found, fields, instruments.characters, instruments.lines, {})
    return [replace(reading, scan_grade=grade) for reading in read]
