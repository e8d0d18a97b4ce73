"""Every field that was accepted and is wrong, as a picture of its ink, and all of them on one sheet to look over."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from scanform.training.bench_table import silent
from scanform.training.trial import FieldTrial, PageTrial

__all__ = ["CONTACT_SHEET", "SilentError", "silent_errors", "write_pictures"]

CONTACT_SHEET = "all.png"
_WIDE, _HIGH, _LINE = 460, 150, 22  # px of one picture on the contact sheet, and of a line of its caption
_ACROSS = 3
_MOST_ON_SHEET = 120


@dataclass(frozen=True)
class SilentError:
    """One such field and the page it stands on."""

    page: PageTrial
    field: FieldTrial
    aided: bool

    @property
    def name(self) -> str:
        """Names the page and the field: enough to make the very page again."""
        plan = self.page.plan
        hand = "strange hand" if plan.strange_hand else "real digits" if plan.digits else "own hand"
        return f"{plan.grade.value} seed {plan.seed} ({hand}) {self.field.id}" + ("" if self.aided else " unaided")

    @property
    def said(self) -> str:
        """What is written, what was accepted, and with what confidence."""
        field = self.field
        paper = "has no single answer" if field.unclear else f"says '{field.truth}'"
        return f"{field.kind}: paper {paper}, accepted as '{field.value}' at {field.confidence:.5f}"


def silent_errors(trials: Iterable[PageTrial]) -> list[SilentError]:
    """All of them but words, which are free text and measured by character; those read without help come last."""
    pages = list(trials)
    aided = [SilentError(page, f, True) for page in pages for f in page.fields if silent(f) and f.kind != "words"]
    alone = [SilentError(page, f, False) for page in pages for f in page.unaided if silent(f)]
    known = {(error.page.plan, error.field.id) for error in aided}
    return aided + [error for error in alone if (error.page.plan, error.field.id) not in known]


def write_pictures(errors: list[SilentError], folder: Path) -> list[Path]:
    """One PNG an error, and the contact sheet; what an earlier run left in ``folder`` goes. Returns the files."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    written, tiles = [], []
    for number, error in enumerate(errors, start=1):
        if error.field.picture is None:
            continue
        path = folder / f"{number:03d}-{error.field.kind}-{error.page.plan.grade.value}-{error.page.plan.seed}.png"
        path.write_bytes(error.field.picture)
        written.append(path)
        tiles.append(_tile(number, error))
    if tiles:
        written.append(_contact_sheet(tiles[:_MOST_ON_SHEET], folder / CONTACT_SHEET))
    return written


def _tile(number: int, error: SilentError) -> np.ndarray:
    assert error.field.picture is not None
    ink = np.asarray(cv2.imdecode(np.frombuffer(error.field.picture, np.uint8), cv2.IMREAD_GRAYSCALE))
    scale = min((_WIDE - 12) / ink.shape[1], (_HIGH - 8) / ink.shape[0], 4.0)
    size = (max(round(ink.shape[1] * scale), 1), max(round(ink.shape[0] * scale), 1))
    small = cv2.resize(ink, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
    tile = np.full((_HIGH + 3 * _LINE, _WIDE), 255, np.uint8)
    tile[4 : 4 + size[1], 6 : 6 + size[0]] = small
    lines = (f"{number}. {error.name}", *error.said.split(", accepted"))
    for n, line in enumerate((lines[0], lines[1], "accepted" + lines[2])):
        at = (6, _HIGH + (n + 1) * _LINE - 6)
        cv2.putText(tile, line[:62], at, cv2.FONT_HERSHEY_SIMPLEX, 0.42, 0, 1, cv2.LINE_AA)
    tile[-1] = 200
    return tile


def _contact_sheet(tiles: list[np.ndarray], path: Path) -> Path:
    blank = np.full_like(tiles[0], 255)
    padded = tiles + [blank] * (-len(tiles) % _ACROSS)
    rows = [np.hstack(padded[n : n + _ACROSS]) for n in range(0, len(padded), _ACROSS)]
    path.write_bytes(cv2.imencode(".png", np.vstack(rows))[1].tobytes())
    return path
