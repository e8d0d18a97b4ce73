"""What character stands in a cell: calibrated probabilities from the project's own small networks.

The networks (``digits.onnx``, ``digits_second.onnx``, ``closer.onnx`` and ``characters.onnx`` in ``scanform/models``,
see their card ``characters.md``) give logits that know no prior; the constants in the JSON files beside them make
probabilities of them that mean what they say (fitted by :mod:`scanform.training.calibration` on digits and typefaces
that nothing else used). Two networks read digits, the mean of their logits counts; where the first, which takes a third
of the time, is sure of a plain digit by itself, the second is not asked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from scanform.read.networks import open_network

if TYPE_CHECKING:
    import onnxruntime

__all__ = ["ALPHABET", "CharacterNet", "CharacterProbabilities", "Charset", "Which"]

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
Charset = Literal["digits", "alnum"]
Which = Literal["digits", "alnum", "closer"]  # a charset's network, or the larger one for digits that stay unsure

# Least probability that a reading may claim for "empty" or "not empty": dirt and faint pens are never certain.
_EMPTY_DOUBT = 1e-4
# A digit that the first of both networks is as sure of as this, and as sure that it is nothing else, is left at that:
# 75 of 100 real digits of the calibration split in cells (4,755 passages: as many right, the same log loss, and of
# scribbles and characters written over one another as many seen as if both had looked at all).
_PLAIN = 0.998
_PLAINLY_NOTHING_ELSE = 0.02
_HEADS = {"digits": 10, "alnum": len(ALPHABET), "closer": 10}
_NETWORKS: dict[Which, str] = {"digits": "digits", "alnum": "characters", "closer": "closer"}


class CharacterProbabilities(NamedTuple):
    """What n cells hold.

    ``rows``: float32 (n, 37), rows sum to 1; a column for each of :data:`ALPHABET`, and last the empty cell.
    ``other``: float32 (n,), probability that the cell holds something that is no single clean character
    (a scribble, a character crossed out or written over, two in one cell). It stands beside the rows, which
    say which character it is if it is one.
    """

    rows: np.ndarray
    other: np.ndarray


class CharacterNet:
    """The networks for combs of digits, for combs with letters and for unsure digits, loaded once; one thread."""

    def __init__(self) -> None:
        """Loads the networks and their calibration from the package's ``models``."""
        self._opened = {which: open_network(name) for which, name in _NETWORKS.items()}
        self._second, _ = open_network("digits_second", constants="digits")

    def logits(self, glyphs: np.ndarray, which: Which) -> np.ndarray:
        """A network's own logits for float32 (n, 28, 28): float32 (n, 12) for digits and closer, (n, 38) for alnum.

        Columns: the characters, then "no clean character", then "nothing but dirt". Of digits, the mean of both
        networks' logits.
        """
        if not len(glyphs):
            return np.zeros((0, _HEADS[which] + 2), np.float32)
        logits = _run(self._opened[which][0], glyphs)
        return (logits + _run(self._second, glyphs)) / 2 if which == "digits" else logits

    def probabilities(self, glyphs: np.ndarray, ink_mm2: np.ndarray, which: Which) -> CharacterProbabilities:
        """Calibrated probabilities of what each cell holds.

        ``glyphs`` float32 (n, 28, 28) and ``ink_mm2`` float32 (n,) as :func:`scanform.read.glyphs.glyphs_of`
        gives them. ``which`` "digits" and "closer" leave no probability on letters. A cell without any ink gets equal
        shares beside its "empty".
        """
        inked = np.flatnonzero(ink_mm2 > 0)
        constants = self._opened[which][1]
        logits = np.zeros((len(glyphs), _HEADS[which] + 2), np.float32)
        if which != "digits":
            logits[inked] = self.logits(glyphs[inked], which)
            return calibrated(logits, ink_mm2, constants)
        if len(inked):
            logits[inked] = _run(self._opened[which][0], glyphs[inked])
            again = inked[~_plain(calibrated(logits[inked], ink_mm2[inked], constants))]
            if len(again):
                logits[again] = (logits[again] + _run(self._second, glyphs[again])) / 2
        return calibrated(logits, ink_mm2, constants)


def _run(network: onnxruntime.InferenceSession, glyphs: np.ndarray) -> np.ndarray:
    logits: np.ndarray = network.run(None, {"glyphs": np.ascontiguousarray(glyphs, np.float32)})[0]
    return logits


def _plain(read: CharacterProbabilities) -> np.ndarray:
    """Which cells hold a plain digit by what one network says of them: bool (n,)."""
    empty = read.rows[:, -1]
    digit = read.rows[:, :10].max(axis=1) / np.maximum(1 - empty, 1e-9)
    return (digit >= _PLAIN) & (np.maximum(empty, read.other) <= _PLAINLY_NOTHING_ELSE)


def calibrated(logits: np.ndarray, ink_mm2: np.ndarray, constants: dict[str, float]) -> CharacterProbabilities:
    """Logits of one network, (n, characters + 2), to probabilities; ``constants`` as in the JSON file beside it.

    Characters: softmax at ``temperature`` after ``digit_bias`` is added to the digits, mixed with ``floor`` of equal
    shares. Other and empty: logistic in the class's lead over the characters, for empty also in the logarithm of
    the ink's area.
    """
    n, width = logits.shape
    count = width - 2
    bias = np.where(np.arange(count) < 10, constants["digit_bias"], 0.0)
    cooled = (logits[:, :count] + bias) / constants["temperature"]
    cooled = np.exp(cooled - cooled.max(axis=1, keepdims=True)) if n else cooled
    characters = cooled / cooled.sum(axis=1, keepdims=True)
    characters = (1 - constants["floor"]) * characters + constants["floor"] / count
    best = logits[:, :count].max(axis=1, initial=-np.inf)
    inked = ink_mm2 > 0
    area = np.log(np.maximum(ink_mm2, 1e-3))
    lead = np.clip(logits[:, count + 1] - best, -_LEAD_CAP, _LEAD_CAP)
    empty = _logistic(constants["empty_lead"] * lead + constants["empty_area"] * area + constants["empty_bias"])
    empty = np.where(inked, np.clip(empty, _EMPTY_DOUBT, 1 - _EMPTY_DOUBT), 1 - _EMPTY_DOUBT)
    characters = np.where(inked[:, None], characters, 1 / count)
    lead = np.clip(logits[:, count] - best, -_LEAD_CAP, _LEAD_CAP)
    other = np.where(inked, _logistic(constants["other_lead"] * lead + constants["other_bias"]), 0.0)
    rows = np.zeros((n, len(ALPHABET) + 1), np.float32)
    rows[:, :count] = characters * (1 - empty[:, None])
    rows[:, -1] = empty
    return CharacterProbabilities(rows, other.astype(np.float32))


_LEAD_CAP = 12.0  # logits differ by more only far from anything that was calibrated


def _logistic(x: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-x))
