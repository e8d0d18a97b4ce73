"""A second opinion on what is written without cells, dates, numbers and units: a small recogniser of our own."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from scanform.read.networks import open_network, softmax
from scanform.read.old.written_line import PX_PER_MM, WrittenLine

__all__ = ["HEIGHT_PX", "SIGNS", "NumberReader", "number_picture"]

SIGNS = "0123456789abcdefghijklmnopqrstuvwxyz.,/-' "  # what the network knows; capitals and small letters are one
HEIGHT_PX = 40
_STRETCH = 1.5  # the network looks in steps of 4 px, and two ones that touch want three of them
_RIM_MM = 0.6
_SOLID = 0.75  # as for the line recogniser
_MOST_WIDE_PX = 900
_LEAST_WIDE_PX = 32


def number_picture(line: WrittenLine) -> np.ndarray:
    """The line for the network: float32 (40, width), 0 paper to 1 ink, with a rim of paper."""
    rim = round(_RIM_MM * PX_PER_MM)
    ink = cv2.copyMakeBorder(np.minimum(line.dark / _SOLID, 1.0), rim, rim, rim, rim, cv2.BORDER_CONSTANT, value=0.0)
    scale = HEIGHT_PX / ink.shape[0]
    width = int(np.clip(round(ink.shape[1] * scale * _STRETCH), _LEAST_WIDE_PX, _MOST_WIDE_PX))
    width += -width % 4
    return np.asarray(cv2.resize(ink, (width, HEIGHT_PX), interpolation=cv2.INTER_AREA), np.float32)


class NumberReader:
    """The network, loaded once; one thread. See ``number_line.md`` beside it for what it was trained on."""

    def __init__(self) -> None:
        """Loads the network and its temperature."""
        self._session, constants = open_network("number_line", "scanform.read.old")
        self._temperature = float(constants["temperature"])

    def steps(self, line: WrittenLine, characters: Sequence[str]) -> np.ndarray:
        """What the network sees from left to right: float32 (steps, 1 + len(characters)), rows sum to 1.

        Column 0 is "no character here" (CTC's blank); a letter's probability stands with its small form.
        """
        logits = self._session.run(None, {"lines": number_picture(line)[None]})[0][0]
        found = softmax(logits / self._temperature)
        column = {character: n for n, character in enumerate(characters, start=1)}
        steps = np.zeros((len(found), 1 + len(characters)), np.float32)
        steps[:, 0] = found[:, 0]
        for n, sign in enumerate(SIGNS, start=1):
            steps[:, column[sign]] = found[:, n]
        return steps
