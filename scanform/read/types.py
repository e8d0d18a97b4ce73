"""What leaves the reading room: alternatives with probabilities, and the evidence they came from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from scanform.form.layout import FieldKind

__all__ = ["Alternative", "Reading", "likeliest_first"]


@dataclass(frozen=True)
class Alternative:
    """One thing the ink may say. ``value`` None means "nothing written" (or no answer marked)."""

    value: str | bool | None
    probability: float


def likeliest_first(probabilities: Mapping[str | None, float]) -> tuple[Alternative, ...]:
    """The answers that a field may have, with the probability of each."""
    ranked = sorted(probabilities.items(), key=lambda pair: -pair[1])
    return tuple(Alternative(value, probability) for value, probability in ranked)


@dataclass(frozen=True, eq=False)
class Reading:
    """What one field's ink says, with no opinion about plausibility.

    ``alternatives``: best first, probabilities sum to at most 1 (the rest is "something else").
    ``cell_probabilities``: combs only; float32 (n_cells, len(ALPHABET) + 1), rows sum to 1, the last column
    is "empty cell". See :data:`scanform.read.characters.ALPHABET`.
    ``cell_other``: combs only; float32 (n_cells,), probability that a cell holds no single clean character.
    ``ink_picture``: choices, decisions and marks only; uint8 (boxes, 8, 8), where ink lies inside each box.
    ``printed``: the value that the press printed into the field, as the sheet's code says it; None if it was free.
    ``line_steps``: free writing only; float32 (steps, 1 + len(line_characters)), what the line recogniser sees from
    left to right, rows sum to 1; column 0 is "no character here" (CTC's blank), then ``line_characters``.
    ``line_again``: dates and numbers in free writing only; float32 (steps, 1 + len(line_characters)), what the
    recogniser sees of the same line stretched.
    ``line_numbers``: the same fields; float32 (steps, 1 + len(line_characters)), what the network for dates and numbers
    alone sees.
    ``evidence``: short phrases for a person ("struck out", "dirt in the box", "cell 3 overwritten").
    ``notes``: phrases on what is no doubt and yet worth keeping ("one line is drawn down 6 boxes and passes OK").
    ``taken_back``: choices and decisions only; the answer that is plainly struck out where another one plainly stands.
    ``polygon_px``: 4 corner points (x, y) in page pixels, clockwise from the field's own top left.
    ``residual_mm``: how far the field's printed artwork was from where the map put it, after correction.
    ``scan_grade``: how the page was captured, as its pixels show it (:class:`scanform.locate.ScanGrade`).
    ``crossed_out``: whether long lines run slantwise over the whole sheet.
    """

    field_id: str
    kind: FieldKind
    alternatives: tuple[Alternative, ...]
    polygon_px: tuple[tuple[float, float], ...]
    residual_mm: float
    ink_mm2: float = 0.0
    evidence: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    taken_back: str | None = None
    cell_probabilities: np.ndarray | None = field(default=None, repr=False)
    cell_other: np.ndarray | None = field(default=None, repr=False)
    ink_picture: np.ndarray | None = field(default=None, repr=False)
    printed: str | None = None
    line_steps: np.ndarray | None = field(default=None, repr=False)
    line_characters: str = ""
    line_again: np.ndarray | None = field(default=None, repr=False)
    line_numbers: np.ndarray | None = field(default=None, repr=False)
    scan_grade: str = "other"
    crossed_out: bool = False
