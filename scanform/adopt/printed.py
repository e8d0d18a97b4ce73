"""The places to tick or to write in that a blank shows: a person's own are laid beside them."""

from __future__ import annotations

import numpy as np

from scanform.adopt.brackets import brackets_of
from scanform.adopt.drawing import LINE_PX_PER_MM, ink_of, line_mask, scaled
from scanform.adopt.faint import all_cells
from scanform.form import BLANK_PX_PER_MM, Box

__all__ = ["printed_places"]


def printed_places(picture: np.ndarray) -> list[Box]:
    """Boxes, cells and rooms between brackets on a blank, uint8 (height, width) grey at 8 px/mm, in no order.

    From its lines alone, without its words, which takes a second: a frame broken by its own label may be missing.
    """
    grey = scaled(picture, LINE_PX_PER_MM / BLANK_PX_PER_MM)
    ink = ink_of(grey)
    return [*all_cells(grey, ink, line_mask(ink), ()), *brackets_of(ink)]
