"""Combs cut out of scans, as pictures, and the real reader run over them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np

from scanform.form import Field, FieldKind
from scanform.form.geometry import Box
from scanform.read import Reading
from scanform.read.characters import CharacterNet
from scanform.read.combs import read_combs
from scanform.read.lines import LineReader

FOLDER = Path(__file__).parent.parent / "fixtures" / "hard" / "combs"
PX_PER_MM = 8.0
MARGIN_MM = 1.0  # of paper around the comb's box in a picture


@cache
def networks() -> tuple[CharacterNet, LineReader]:
    return CharacterNet(), LineReader()


@dataclass(frozen=True)
class Strip:
    """A comb's picture: grey uint8 at 8 px/mm, its cells in mm from the box's corner."""

    grey: np.ndarray
    field: Field
    paper_grey: float
    print_grey: float

    def patches(self, boxes: list[Box], margin_mm: float, px_per_mm: float) -> np.ndarray:
        """As a located sheet samples them, from a page that lies as the sheet does."""
        out = []
        for box in boxes:
            x, y = (box.x_mm - margin_mm + MARGIN_MM) * PX_PER_MM, (box.y_mm - margin_mm + MARGIN_MM) * PX_PER_MM
            wide, high = (round((side + 2 * margin_mm) * px_per_mm) for side in (box.w_mm, box.h_mm))
            step = PX_PER_MM / px_per_mm
            move = np.array([[step, 0, x + step / 2 - 0.5], [0, step, y + step / 2 - 0.5]])
            flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
            out.append(cv2.warpAffine(self.grey, move, (wide, high), flags=flags, borderMode=cv2.BORDER_REPLICATE))
        return np.stack(out)

    def polygon_px(self, _box: Box) -> tuple[tuple[float, float], ...]:
        return ((0.0, 0.0),) * 4

    def residual_of(self, _field: Field) -> float:
        return 0.0


def cases() -> list[dict]:
    return json.loads((FOLDER / "cases.json").read_text())


def strip_of(grey: np.ndarray, name: str, charset: str, cells_mm: list, paper: float, ink: float) -> Strip:
    cells = tuple(Box(*cell) for cell in cells_mm)
    box = Box(0.0, 0.0, cells[-1].right_mm, cells[-1].bottom_mm)
    field = Field(id=name, kind=FieldKind.COMB, box_mm=box, charset=charset, cells_mm=cells)
    return Strip(grey, field, paper, ink)


def read_case(case: dict) -> Reading:
    grey = cv2.imread(str(FOLDER / case["file"]), cv2.IMREAD_GRAYSCALE)
    charset = "alnum" if case["comb"] == "unit" else "digits"
    strip = strip_of(grey, case["comb"], charset, case["cells_mm"], case["paper_grey"], case["print_grey"])
    return read_combs(strip, [strip.field], *networks(), {})[0]
