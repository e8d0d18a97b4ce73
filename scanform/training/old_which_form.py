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

from scanform.form import AdoptedTemplate, built_in_templates
from scanform.intake import Page, load_page
from scanform.locate import KnownLayouts, LocatedSheet, sheets_on
from scanform.training.old_forms import DrawnForm, listed, make_copy, master

__all__ = ["SEEDS", "TakenFor", "copies_taken_for", "pages_taken_for"]

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
    return _told(load_page(asked.file, 1), asked.form, asked.run, f"{asked.form}/{asked.file.name}")


def _made(asked: _Made) -> TakenFor:
    drawn, blank, seed = _blank(asked.form, asked.run)
    grade = _GRADES[asked.number % len(_GRADES)]
    copy = make_copy(listed(asked.form), drawn, blank, grade, seed, asked.number)
    where = f"{asked.form} {asked.run} seed {seed} copy {asked.number} {copy.grade.value}"
    return _told(Page(where, 1, "0" * 64, copy.pixels), asked.form, asked.run, where)


def _told(page: Page, form: str, run: str, where: str) -> TakenFor:
    own = _Workplace.runs[form, run]
    as_found = _names(page, _Workplace.known)
    found = as_found == [(own.name, own.version)]
    wrong = "" if found or not as_found else _said(as_found)
    return TakenFor(where, found, wrong, _said(_names(page, _Workplace.known.without(own.name))))


def _names(page: Page, known: KnownLayouts) -> list[tuple[str, int]]:
    sheets = sheets_on(page, known)
    located: Sequence[LocatedSheet] = [sheet for sheet in sheets if isinstance(sheet, LocatedSheet)]
    return [(sheet.layout.template.name, sheet.layout.template.version) for sheet in located]


def _said(names: Sequence[tuple[str, int]]) -> str:
    return " and ".join(f"{name} version {version}" for name, version in names)
