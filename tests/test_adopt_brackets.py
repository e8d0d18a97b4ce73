"""A typewriter's tick boxes on a scan: brackets with nothing between them, and no others."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from scanform.adopt.brackets import brackets_of
from scanform.adopt.drawing import LINE_PX_PER_MM, ink_of
from scanform.simulate import render_pdf
from scanform.training.old_forms.pad import Pad


def typed(lines: list[str]) -> np.ndarray:
    """Lines typed 8 mm apart in 11 pt, the first 12 mm down: uint8 ink at 12 px/mm."""
    pad = Pad(100.0, 12.0 + 8.0 * len(lines), face="Courier")
    for k, line in enumerate(lines):
        pad.text(10, 12 + 8 * k, line, 11)
    (page,) = render_pdf(pad.form("typed", "a").pdf, LINE_PX_PER_MM * 25.4)
    return ink_of(cv2.GaussianBlur(page, (0, 0), 1.0))


def test_the_room_between_brackets_is_found_where_it_was_typed() -> None:
    found = sorted(
        brackets_of(typed(["1. Horn   [  ] OK  [  ] BAD", "2. Brakes [  ] OK  [  ] BAD"])), key=lambda b: b[:2]
    )
    pitch = 11 * 0.6 * 25.4 / 72  # Courier's characters are 0.6 of their size wide
    middles = sorted(box.centre_mm[0] for box in found)
    assert middles == pytest.approx([10 + pitch * 12] * 2 + [10 + pitch * 21] * 2, abs=0.3)
    assert all(box.w_mm == pytest.approx(2 * pitch, abs=1.2) for box in found)


def test_brackets_round_words_are_no_places_to_tick() -> None:
    assert brackets_of(typed(["Oil [cold] level", "LEFT ] AND [ RIGHT", "ELIT JILL 1I [x] IL"])) == []
