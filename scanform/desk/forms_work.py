"""What is done with files for a form: a proposal from its blank, and a first look at filled pages of it.

Files come from outside, so they are opened in a process of its own that may die or hang (:mod:`scanform.batch.crew`).
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import cv2
import numpy as np

from scanform.adopt import Proposal, print_of, propose
from scanform.batch import CarriedPage, Task
from scanform.batch.crew import Job, Loss, done_in_order
from scanform.batch.knowledge import MeterBook
from scanform.batch.worker import carry, prepare
from scanform.binder import Binder
from scanform.errors import FileUnreadable, TemplateError, UsageError
from scanform.form import AdoptedTemplate, lay_out
from scanform.intake import count_pages, load_page
from scanform.report import quarter_turns, turned
from scanform.settle import SettledField, settle_sheet

__all__ = ["MOST_TRIED", "Tried", "proposal_for", "tried"]

MOST_TRIED = 5  # pages: enough to see what is amiss, few enough to wait for
_PROPOSAL_S = 300.0  # a scanned blank at 600 dpi takes some 20 s, most of it Tesseract's
_PAGE_S = 180.0  # a page takes a second; a machine with other work to do has time
_SHOWN_HIGH_PX = 1600
_JPEG_QUALITY = 82
_one_at_a_time = threading.Lock()  # the desk stays quick for the others


BoxPx = tuple[float, float, float, float]  # x, y, width, height


@dataclass(frozen=True)
class Tried:
    """One page read with a form that is being made; nothing of it is on record.

    ``fields``: settled, each with the box (x, y, width, height) of its place on the upright page in px of ``picture``;
    empty if the page was not taken for the form, ``said`` then says why. ``picture``: JPEG, ``size_px`` its size.
    """

    source: str
    number: int
    said: str
    fields: tuple[tuple[SettledField, BoxPx | None], ...]
    picture: bytes
    size_px: tuple[int, int]


def proposal_for(path: Path, page: int | None, name: str) -> Proposal:
    """A template of that name proposed for the blank in a file.

    UsageError, TemplateError or FileUnreadable with a sentence on what is missing.
    """
    piece = _Blank(path, page, name)
    with _one_at_a_time:
        found = next(done_in_order(Job(_proposed, _PROPOSAL_S), [piece], lambda blank: blank.path, 1))
    if isinstance(found, Loss):
        raise UsageError(
            f"{path.name}: looking for its fields {found.value}; scan the blank at 300 dpi and try it again."
        )
    return found


def tried(paths: Sequence[Path], template: AdoptedTemplate, binder: Binder) -> tuple[list[Tried], int]:
    """The first pages of the files read with the template and settled with what the binder knows; nothing is recorded.

    Also how many further pages were left out.
    """
    with _one_at_a_time:
        tasks, more = _tasks(paths)
        job: Job[Task, _Seen] = Job(_seen, _PAGE_S, prepare, ((template,),))
        ends = done_in_order(job, tasks, lambda task: task.path, 1)
        seen = list(ends)
    known = replace(binder.known(), recall=MeterBook(binder).of, today=date.today())
    layout = lay_out(template, template.paper)
    results = []
    for task, page in zip(tasks, seen, strict=True):
        if isinstance(page, Loss):
            results.append(Tried(task.source, task.number, f"Reading this page {page.value}.", (), b"", (0, 0)))
            continue
        carried = page.carried
        settled = settle_sheet(layout, carried.readings, known) if carried.readings else ()
        said = carried.reason or " ".join(carried.warnings)
        fields = tuple((field, page.boxes.get(field.id)) for field in settled)
        results.append(Tried(task.source, task.number, said, fields, page.picture, page.size_px))
    return results, more


@dataclass(frozen=True)
class _Blank:
    path: Path
    page: int | None
    name: str


@dataclass(frozen=True)
class _Seen:
    carried: CarriedPage
    picture: bytes
    size_px: tuple[int, int]
    boxes: dict[str, BoxPx]


def _proposed(blank: _Blank) -> Proposal:
    pages = count_pages(blank.path)
    if pages > 1 and blank.page is None:
        raise UsageError(
            f"{blank.path.name} has {pages} pages, which may be as many forms; say which page it is and drop it again."
        )
    try:
        return propose(print_of(blank.path, blank.page), blank.name)
    except TemplateError as problem:
        raise TemplateError(f"{blank.path.name}: {str(problem).removeprefix(f'{blank.path}: ')}") from problem


def _tasks(paths: Sequence[Path]) -> tuple[list[Task], int]:
    counted = done_in_order(Job(_counted, _PAGE_S), paths, lambda path: path, 1)
    tasks: list[Task] = []
    for path, pages in zip(paths, counted, strict=True):
        if isinstance(pages, Loss):
            raise FileUnreadable(f"{path.name}: opening it {pages.value}; scan the page again.")
        tasks += [Task(path, number, path.name) for number in range(1, pages + 1)]
    return tasks[:MOST_TRIED], max(0, len(tasks) - MOST_TRIED)


def _counted(path: Path) -> int:
    return count_pages(path)


def _seen(task: Task) -> _Seen:
    carried = carry(task)
    if carried.width_px is None:
        return _Seen(carried, b"", (0, 0), {})
    polygons = {reading.field_id: reading.polygon_px for reading in carried.readings if len(reading.polygon_px) == 4}
    turns = quarter_turns(polygons.values())
    pixels = np.rot90(load_page(task.path, task.number).pixels, turns)
    factor = min(1.0, _SHOWN_HIGH_PX / pixels.shape[0])
    small = cv2.resize(np.ascontiguousarray(pixels), None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    boxes: dict[str, BoxPx] = {}
    for field_id, polygon in polygons.items():
        corners = np.array(turned(polygon, turns, carried.width_px, carried.height_px or 0)) * factor
        (left, top), (right, bottom) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
        boxes[field_id] = (left, top, right - left, bottom - top)
    jpeg = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])[1].tobytes()
    return _Seen(replace(carried, beside=()), jpeg, (small.shape[1], small.shape[0]), boxes)
