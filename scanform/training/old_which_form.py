"""Which form a page is taken for: located only, among the templates of all forms and, once more, without its own.

Pages are made on the way, from seeds of their own, so that there may be more than a corpus has.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from multiprocessing import get_context
from typing import NamedTuple

import cv2
import numpy as np

from scanform.form import AdoptedTemplate, built_in_templates
from scanform.intake import Page
from scanform.locate import KnownLayouts, LocatedSheet, sheets_on
from scanform.training.old_forms import DrawnForm, listed, make_copy, master

__all__ = ["SEEDS", "TakenFor", "taken_for"]

SEEDS = 9_850_000
_GRADES = ("office", "worn", "bitonal")
Runs = Mapping[tuple[str, str], AdoptedTemplate]  # a form's name and its print run


@dataclass(frozen=True)
class TakenFor:
    """One page. ``found``: it was located as its own print run. ``wrong``: as anything else, in words; empty if not.
    ``without_own``: what it was located as where its own form's templates were not there; empty if as nothing.
    """

    where: str
    found: bool
    wrong: str
    without_own: str


class _Page(NamedTuple):
    form: str
    run: str
    number: int


def taken_for(pages: int, runs: Runs, workers: int | None = None) -> Iterator[TakenFor]:
    """So many pages, of all the print runs of ``runs`` in turn, grades in turn as well."""
    names = list(runs)
    asked = [_Page(*names[n % len(names)], n // len(names)) for n in range(pages)]
    asked.sort()  # pages of one form together: drawing it and reading its blank are done once
    with ProcessPoolExecutor(
        workers, mp_context=get_context("spawn"), initializer=_prepare, initargs=(dict(runs),)
    ) as pool:
        yield from pool.map(_page, asked, chunksize=8)


class _Workplace:
    runs: Runs
    known: KnownLayouts


def _prepare(runs: Runs) -> None:
    cv2.setNumThreads(1)
    _Workplace.runs = runs
    _Workplace.known = KnownLayouts([*built_in_templates(), *runs.values()])


@lru_cache(maxsize=2)
def _without(form: str) -> KnownLayouts:
    return KnownLayouts([*built_in_templates(), *(t for (name, _), t in _Workplace.runs.items() if name != form)])


@lru_cache(maxsize=2)
def _blank(form: str, run: str) -> tuple[DrawnForm, np.ndarray, int]:
    """A print run, its blank uint8 at 300 dpi, and its binder's seed."""
    seed = SEEDS + list(_Workplace.runs).index((form, run))
    drawn = listed(form).draw(run)
    return drawn, master(drawn, listed(form).generations, seed), seed


def _page(asked: _Page) -> TakenFor:
    drawn, blank, seed = _blank(asked.form, asked.run)
    grade = _GRADES[asked.number % len(_GRADES)]
    copy = make_copy(listed(asked.form), drawn, blank, grade, seed, asked.number)
    where = f"{asked.form} {asked.run} seed {seed} copy {asked.number} {copy.grade.value}"
    page = Page(where, 1, "0" * 64, copy.pixels)
    own = _Workplace.runs[asked.form, asked.run]
    as_found = _names(page, _Workplace.known)
    found = as_found == [(own.name, own.version)]
    wrong = "" if found or not as_found else _said(as_found)
    return TakenFor(where, found, wrong, _said(_names(page, _without(asked.form))))


def _names(page: Page, known: KnownLayouts) -> list[tuple[str, int]]:
    sheets = sheets_on(page, known)
    located: Sequence[LocatedSheet] = [sheet for sheet in sheets if isinstance(sheet, LocatedSheet)]
    return [(sheet.layout.template.name, sheet.layout.template.version) for sheet in located]


def _said(names: Sequence[tuple[str, int]]) -> str:
    return " and ".join(f"{name} version {version}" for name, version in names)
