"""What a worker process does with one page: open it, find the sheet, read it. No settling, no record."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import cv2

from scanform.batch.bounds import keep_freed_memory
from scanform.errors import FileUnreadable, StorageFailed
from scanform.form import Box, Template
from scanform.intake import Page, load_page, shown
from scanform.locate import KnownLayouts, LocatedSheet, NotLocated, sheets_on
from scanform.read import Instruments, Reading, ink_signature, read_sheet

__all__ = ["CarriedPage", "Task", "carry", "prepare"]


@dataclass(frozen=True)
class Task:
    """One page to carry: the file, the page's number in it, and the file as the user named it.

    ``copy`` is the archived file, from which the page is read if there is one, and ``sha256`` that of its bytes.
    """

    path: Path
    number: int
    source: str
    copy: Path | None = None
    sha256: str = ""


@dataclass(frozen=True)
class CarriedPage:
    """What came of one page before settling.

    ``outcome``: ``read`` if a sheet was found (then ``readings`` are its fields), else ``blank``, ``unknown-form`` or
    ``unreadable`` with ``reason``. ``frames_px``: the registration marks' outlines, for drawing. ``part`` of ``parts``:
    which sheet of the picture it is; ``beside``: the picture's further sheets, carried along with the first.
    """

    task: Task
    outcome: str
    reason: str | None
    width_px: int | None = None
    height_px: int | None = None
    template: str | None = None
    version: int | None = None
    paper: str | None = None
    serial: str | None = None
    residual_mm: float | None = None
    readings: tuple[Reading, ...] = ()
    ink: bytes | None = None
    frames_px: tuple[tuple[tuple[float, float], ...], ...] = ()
    warnings: tuple[str, ...] = ()
    part: int = 1
    parts: int = 1
    beside: tuple[CarriedPage, ...] = ()


class _Workplace:
    known: KnownLayouts
    instruments: Instruments


def prepare(templates: tuple[Template, ...]) -> None:
    """Load models and lay out the sheets, once in each process."""
    cv2.setNumThreads(1)  # one page a core is faster than many cores a page
    keep_freed_memory()
    _Workplace.known = KnownLayouts(templates)
    _Workplace.instruments = Instruments()


def carry(task: Task) -> CarriedPage:
    """Carry one page through intake, locating and reading; whatever goes wrong with it stays with it.

    StorageFailed if the disk or the memory failed, which is no fault of the page.
    """
    try:
        return _carried(task)
    except StorageFailed:
        raise  # the page may be sound, so it must not go on record as anything else
    except Exception as problem:  # a fault of ours or of a library costs this page, not the rest of the stack
        said = f"{type(problem).__name__}: {problem}"
        reason = (
            f"{shown(task.source)}, page {task.number} could not be read ({shown(said)}); the file is kept. "
            "Scan the sheet again."
        )
        return CarriedPage(task, "unreadable", reason)


def _carried(task: Task) -> CarriedPage:
    try:
        page = load_page(task.copy or task.path, task.number, task.source)
    except FileUnreadable as problem:
        if task.copy is not None and not task.copy.is_file():
            raise StorageFailed(
                f"{task.copy} is no longer there; once the binder's drive or network share is back run the same "
                "command again."
            ) from problem
        return CarriedPage(task, "unreadable", str(problem))
    found = sheets_on(page, _Workplace.known)
    first, *others = (_sheet(task, page, sheet, part, len(found)) for part, sheet in enumerate(found, start=1))
    return replace(first, beside=tuple(others))


def _sheet(task: Task, page: Page, found: LocatedSheet | NotLocated, part: int, parts: int) -> CarriedPage:
    height, width = page.pixels.shape
    if not isinstance(found, LocatedSheet):
        return CarriedPage(task, found.outcome, found.reason, width, height, part=part, parts=parts)
    readings = tuple(read_sheet(found, _Workplace.instruments))
    return CarriedPage(
        task=task,
        outcome="read",
        reason=None,
        width_px=width,
        height_px=height,
        template=found.layout.template.name,
        version=found.layout.template.version,
        paper=found.layout.paper.value,
        serial=found.code.serial if found.code else None,
        residual_mm=round(found.residual_mm, 3),
        readings=readings,
        ink=ink_signature(readings),
        frames_px=tuple(found.polygon_px(Box(*mark.box_mm)) for mark in found.layout.marks),
        warnings=found.warnings,
        part=part,
        parts=parts,
    )
