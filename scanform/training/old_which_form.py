"""Which form a page is taken for: located only, among the templates of all forms and, once more, without its own.

The pages are a corpus's copies, and as many more as are asked for, made on the way from seeds of their own.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import ArrayLike

from scanform.form import AdoptedTemplate, built_in_templates
from scanform.intake import Page, load_page
from scanform.locate import KnownLayouts, LocatedSheet, sheets_on
from scanform.simulate.warp import PointMap
from scanform.training.old_copies import form_to_px, off_mm
from scanform.training.old_forms import DrawnForm, listed, make_copy, master

__all__ = ["SEEDS", "TakenFor", "copies_taken_for", "pages_taken_for"]

SEEDS = 9_850_000
_GRADES = ("office", "worn", "bitonal")
Runs = Mapping[tuple[str, str], AdoptedTemplate]  # a form's name and its print run


@dataclass(frozen=True)
class TakenFor:
    """One page. ``found``: it was located as its own print run. ``wrong``: as anything else, in words; empty if not.
    ``without_own``: what it was located as where its own form's templates were not there; empty if as nothing.
    ``off_mm``: how far each field was looked for from where it is; those on a corner that is torn off are left out.
    """

    where: str
    found: bool
    wrong: str
    without_own: str
    off_mm: tuple[float, ...]


class _Made(NamedTuple):
    form: str
    run: str
    number: int


class _Copy(NamedTuple):
    form: str
    run: str
    file: Path


def copies_taken_for(corpus: Path, runs: Runs, workers: int | None = None) -> Iterator[TakenFor]:
    """All filled copies in a corpus of the print runs of ``runs``."""
    truths = ((name, file) for name in dict(runs) for file in sorted((corpus / name[0] / "copies").glob("*.json")))
    asked = []
    for (form, run), file in truths:
        said = json.loads(file.read_text(encoding="utf-8"))
        if said["run"] == run:
            asked.append(_Copy(form, run, file.parent / said["file"]))
    yield from _asked(_copy, asked, runs, workers)


def pages_taken_for(pages: int, runs: Runs, workers: int | None = None) -> Iterator[TakenFor]:
    """So many pages made here, of all the print runs of ``runs`` in turn, grades in turn as well."""
    names = list(runs)
    asked = [_Made(*names[n % len(names)], n // len(names)) for n in range(pages)]
    asked.sort()  # pages of one form together: drawing it and reading its blank are done once
    yield from _asked(_made, asked, runs, workers)


def _asked(how: Callable[[Any], TakenFor], asked: Sequence[Any], runs: Runs, workers: int | None) -> Iterator[TakenFor]:
    context = get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context, initializer=_prepare, initargs=(dict(runs),)) as pool:
        yield from pool.map(how, asked, chunksize=8)


class _Workplace:
    runs: Runs
    known: KnownLayouts


def _prepare(runs: Runs) -> None:
    cv2.setNumThreads(1)
    _Workplace.runs = runs
    _Workplace.known = KnownLayouts([*built_in_templates(), *runs.values()])


@lru_cache(maxsize=2)
def _blank(form: str, run: str) -> tuple[DrawnForm, np.ndarray, int]:
    """A print run, its blank uint8 at 300 dpi, and its binder's seed."""
    seed = SEEDS + list(_Workplace.runs).index((form, run))
    drawn = listed(form).draw(run)
    return drawn, master(drawn, listed(form).generations, seed), seed


def _copy(asked: _Copy) -> TakenFor:
    truth = json.loads(asked.file.with_suffix(".json").read_text(encoding="utf-8"))
    where = f"{asked.form}/{asked.file.name}"
    return _told(load_page(asked.file, 1), asked.form, asked.run, where, form_to_px(truth), truth["lost_px"])


def _made(asked: _Made) -> TakenFor:
    drawn, blank, seed = _blank(asked.form, asked.run)
    grade = _GRADES[asked.number % len(_GRADES)]
    copy = make_copy(listed(asked.form), drawn, blank, grade, seed, asked.number)
    where = f"{asked.form} {asked.run} seed {seed} copy {asked.number} {copy.grade.value}"
    page = Page(where, 1, "0" * 64, copy.pixels)
    return _told(page, asked.form, asked.run, where, copy.form_to_px, copy.lost_px)


def _told(page: Page, form: str, run: str, where: str, to_px: PointMap, lost_px: Sequence[ArrayLike]) -> TakenFor:
    own = _Workplace.runs[form, run]
    located = _located(page, _Workplace.known)
    as_found = _names(located)
    found = as_found == [(own.name, own.version)]
    wrong = "" if found or not as_found else _said(as_found)
    without = _said(_names(_located(page, _Workplace.known.without(own.name))))
    return TakenFor(where, found, wrong, without, _off_mm(located[0], to_px, lost_px) if found else ())


def _off_mm(sheet: LocatedSheet, to_px: PointMap, lost_px: Sequence[ArrayLike]) -> tuple[float, ...]:
    boxes = [spec.box_mm for spec in sheet.layout.fields]
    looked = np.array([np.mean(sheet.polygon_px(box), axis=0) for box in boxes])
    return tuple(off_mm(looked, np.array([box.centre_mm for box in boxes]), to_px, lost_px))


def _located(page: Page, known: KnownLayouts) -> list[LocatedSheet]:
    return [sheet for sheet in sheets_on(page, known) if isinstance(sheet, LocatedSheet)]


def _names(sheets: Sequence[LocatedSheet]) -> list[tuple[str, int]]:
    return [(sheet.layout.template.name, sheet.layout.template.version) for sheet in sheets]


def _said(names: Sequence[tuple[str, int]]) -> str:
    return " and ".join(f"{name} version {version}" for name, version in names)
