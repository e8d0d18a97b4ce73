"""Read written signs: one box in which a tick, a cross, a dash or the letters N/A may stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np

from scanform.form import Field
from scanform.locate import LocatedSheet
from scanform.read.networks import open_network, softmax
from scanform.read.types import Reading, likeliest_first

__all__ = ["MAP_PX_PER_MM", "MAP_SIDE", "MARGIN_MM", "MEANINGS", "SYMBOLS", "SymbolNet", "read_symbols", "symbol_maps"]

MARGIN_MM = 1.2  # to the border of the box below on the tightest sheet there are 1.4 mm
PX_PER_MM = 12.0  # a scan of 300 dpi has 11.8
MAP_PX_PER_MM = PX_PER_MM / 2
MAP_SIDE = 48  # 8 mm: a box of 5.6 mm and its margin
# What a box may hold: nothing, the four signs of the legend, some other sign, a sign that was taken back.
SYMBOLS = ("blank", "tick", "cross", "dash", "letters", "other", "struck")
MEANINGS: Mapping[str, str | None] = {"blank": None, "tick": "ok", "cross": "defect", "dash": "na", "letters": "na"}
# How often each is found before looking, against a tick. No outside source. The four signs count alike, though most
# boxes hold a tick: no number of good days may turn a poor cross into one. A third of a week's boxes stay empty, and in
# the training one sign in sixteen was so faint that a scan may lose it, which is several times too many: with less
# weight no empty box of a fax would be sure. Odd signs and ones taken back are put several times higher than the
# simulated crews make them (one box in 500), so that what is in doubt goes to a person.
_BEFOREHAND = np.array([4.0, 1.0, 1.0, 1.0, 1.0, 0.1, 0.1])
_PAPER_PERCENTILE = 85  # border and letters cover a quarter of the patch, a scribbled-out sign half of it
# As for tick boxes: of 30 simulated phone pages 28 have no empty patch below 0.75 of those beside it.
_LEAST_OF_NEIGHBOURS = 0.75
_BESIDE = 4
_INSET_MM = 0.55  # inside of the border line, its blur and a locating error of 0.15 mm
_INK_LEVEL = 0.3
# Second opinion by area of ink alone, mm2 inside the border. See models/symbols.md for where the two come from.
_LEAST_SIGN_MM2 = 0.35
_MOST_BLANK_MM2 = 0.9
_SAY_FROM = 0.5
_PICTURE_SIDE = 8


def symbol_maps(patches: np.ndarray, sheet: LocatedSheet) -> np.ndarray:
    """Darkness of patches, uint8 (n, 2 k, 2 k) at 12 px/mm, as float32 (n, k, k): 0 the paper beside it, 1 solid print.

    Paper is measured in each patch, and in those beside it where ink leaves none to see: give patches in order.
    """
    n, height, width = patches.shape
    tall = cv2.resize(patches.reshape(n * height, width), (width // 2, n * height // 2), interpolation=cv2.INTER_AREA)
    small = tall.reshape(n, height // 2, width // 2).astype(np.float32)
    paper = np.percentile(small.reshape(n, -1), _PAPER_PERCENTILE, axis=1)
    padded = np.pad(paper, _BESIDE, mode="edge")
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * _BESIDE + 1), axis=1)
    paper = np.maximum(paper, _LEAST_OF_NEIGHBOURS * around)[:, None, None]
    full = np.maximum(paper * (1 - sheet.print_grey / max(sheet.paper_grey, 1.0)), 25.0)
    return np.clip((paper - small) / full, 0, 1.25).astype(np.float32)


class SymbolNet:
    """The small network that tells written signs apart; loaded once, one thread."""

    def __init__(self) -> None:
        """Loads the network and its temperature from the package's ``models``."""
        self._session, constants = open_network("symbols")
        self._temperature = float(constants["temperature"])

    def logits(self, maps: np.ndarray) -> np.ndarray:
        """Raw scores float32 (n, 7) for maps float32 (n, 48, 48), columns as :data:`SYMBOLS`."""
        return self._session.run(["logits"], {"maps": np.ascontiguousarray(maps, np.float32)})[0]

    def probabilities(self, maps: np.ndarray) -> np.ndarray:
        """Calibrated probabilities float64 (n, 7), each symbol weighed by how often it is found."""
        return softmax(self.logits(maps).astype(np.float64) / self._temperature + np.log(_BEFOREHAND))


def read_symbols(
    sheet: LocatedSheet, fields: Sequence[Field], net: SymbolNet, meanings: Mapping[str, str | None] = MEANINGS
) -> list[Reading]:
    """One Reading a field, in order. Values are answers; None is an empty box.

    ``meanings``: the answer that each of :data:`SYMBOLS` stands for. What is left of the probabilities is that of signs
    without one: of another kind, or taken back.
    """
    if not fields:
        return []
    boxes = [field.box_mm for field in fields]
    maps = symbol_maps(sheet.patches(boxes, MARGIN_MM, PX_PER_MM), sheet)
    rows = net.probabilities(maps)
    ink = _ink_mm2(maps)
    pictures = _ink_pictures(maps)
    return [
        _reading(sheet, field, row, float(area), picture, meanings)
        for field, row, area, picture in zip(fields, rows, ink, pictures, strict=True)
    ]


def _reading(
    sheet: LocatedSheet,
    field: Field,
    row: np.ndarray,
    ink_mm2: float,
    picture: np.ndarray,
    meanings: Mapping[str, str | None],
) -> Reading:
    probabilities: dict[str | None, float] = {}
    for symbol, answer in meanings.items():
        probabilities[answer] = probabilities.get(answer, 0.0) + float(row[SYMBOLS.index(symbol)])
    alternatives = likeliest_first(probabilities)
    return Reading(
        field_id=field.id,
        kind=field.kind,
        alternatives=alternatives,
        polygon_px=sheet.polygon_px(field.box_mm),
        residual_mm=sheet.residual_of(field),
        ink_mm2=ink_mm2,
        evidence=tuple(_evidence(row, alternatives[0].value, ink_mm2, meanings)),
        ink_picture=picture,
    )


def _evidence(
    row: np.ndarray, best: str | bool | None, ink_mm2: float, meanings: Mapping[str, str | None]
) -> list[str]:
    found = []
    likeliest = SYMBOLS[int(row.argmax())]
    if row[SYMBOLS.index("struck")] > _SAY_FROM:
        found.append("the sign is struck out or written over")
    elif row[SYMBOLS.index("other")] > _SAY_FROM:
        found.append("the sign is none of tick, cross, dash and N/A")
    elif likeliest in MEANINGS and likeliest not in meanings:
        found.append(f"the sign looks like a {likeliest}, of which the form's legend says nothing")
    elif best is None and ink_mm2 > _MOST_BLANK_MM2:
        found.append("there is ink in the box that may be a sign")
    elif best is not None and ink_mm2 < _LEAST_SIGN_MM2:
        found.append("the sign is faint")
    return found


def _ink_mm2(maps: np.ndarray) -> np.ndarray:
    inner = round((MARGIN_MM + _INSET_MM) * MAP_PX_PER_MM)
    inside = maps[:, inner:-inner, inner:-inner]
    return (inside > _INK_LEVEL).sum(axis=(1, 2)) / MAP_PX_PER_MM**2


def _ink_pictures(maps: np.ndarray) -> np.ndarray:
    """Where ink lies inside each box, coarsely: uint8 (n, 1, 8, 8)."""
    half = 2 * int(MAP_PX_PER_MM)  # the 4 mm in the middle
    middle = maps.shape[1] // 2
    inner = maps[:, middle - half : middle + half, middle - half : middle + half]
    step = 2 * half // _PICTURE_SIDE
    small = inner.reshape(len(maps), _PICTURE_SIDE, step, _PICTURE_SIDE, step).mean(axis=(2, 4))
    return np.clip(small * 200, 0, 255).astype(np.uint8)[:, None]
