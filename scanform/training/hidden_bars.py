"""Fits what tells a one that ends at its cell's border from a seven whose bar lies upon it (scanform.read.hidden_bar).

    python -m scanform.training.hidden_bars --cells 16000

Ones and sevens, by the simulator's hands and real ones of the calibration split, are put so that their upper edge lies
within 0.6 mm of the upper border, any place alike, and scanned. Fitted on are those that end at the border and that the
network takes for a one. Sevens are drawn more often, since few of them are, and weigh as much less. Prints the three
constants, and how many of either would have a share below 0.008.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np
from rich.progress import track
from scipy.optimize import minimize

from scanform.read.characters import CharacterNet
from scanform.read.glyphs import Glyphs, glyphs_of
from scanform.simulate import random_writer
from scanform.training import digits
from scanform.training.cells import MARGIN_MM, CellPrint, random_print, scanned_cell
from scanform.training.ink import FINE_PX_PER_MM, digit_ink, hand_ink

__all__ = ["fit", "near_the_border"]

_SEED = 100
_SHARE_OF_SEVENS = 0.85
_AROUND_MM = 0.6
_GRADES = {"office": 0.4, "bitonal": 0.3, "worn": 0.1, "phone": 0.1, "fax": 0.1}
_TAKEN_FOR_ONE = 0.5
_SMALL = 0.008


def near_the_border(
    digit: int, real: np.ndarray | None, rng: np.random.Generator
) -> tuple[np.ndarray, CellPrint] | None:
    """The patch of a cell whose ``digit`` ends near its upper border, and the cell.

    ``real``: uint8 (n, 28, 28) to take the digit from; None for a simulated hand. None if the hand has no such digit.
    """
    cell = random_print(rng) if rng.random() < 0.3 else CellPrint(rule_mm=rng.uniform(0.25, 0.35))
    writer = random_writer(rng)
    height = writer.comb_height * cell.h_mm
    if real is None:
        ink = hand_ink(str(digit), writer, height, rng)
    else:
        ink = digit_ink(real[int(rng.integers(0, len(real)))], height, float(rng.uniform(0.85, 1.1)), rng)
    if ink is None:
        return None
    first = int(np.flatnonzero(ink.max(axis=1) > 0.3)[0])
    # The picture's middle is laid on the cell's: paper is added above or below until the edge is where it is wanted.
    edge_mm = rng.uniform(-_AROUND_MM, _AROUND_MM) - writer.pen.width_mm / 2
    down = round((edge_mm - cell.h_mm / 2) * FINE_PX_PER_MM) - first + ink.shape[0] // 2
    aside = round(rng.normal(0, 0.45) * FINE_PX_PER_MM)
    ink = np.pad(ink, ((max(2 * down, 0), max(-2 * down, 0)), (max(2 * aside, 0), max(-2 * aside, 0))))
    grade = str(rng.choice(list(_GRADES), p=list(_GRADES.values())))
    return scanned_cell(ink, cell, grade, rng, off_centre_mm=0.0), cell


def fit(traces: np.ndarray, seven: np.ndarray) -> np.ndarray:
    """Weights of the two traces and the offset, float64 (3,), for float (n, 2) and bool (n,)."""
    x = np.column_stack([traces, np.ones(len(traces))])
    weight = np.where(seven, 1.0, _SHARE_OF_SEVENS / (1 - _SHARE_OF_SEVENS))
    sign = np.where(seven, 1.0, -1.0)

    def loss(v: np.ndarray) -> float:
        return float(weight @ np.logaddexp(0, -sign * (x @ v)) / weight.sum() + 1e-4 * v[:-1] @ v[:-1])

    return minimize(loss, np.zeros(3)).x


def _taken_for_a_one(glyphs: Glyphs, net: CharacterNet) -> bool:
    if not glyphs.ink_mm2[0] or np.isnan(glyphs.bar_traces[0, 0]):
        return False
    return bool(net.probabilities(glyphs.maps, glyphs.ink_mm2, "digits").rows[0, 1] > _TAKEN_FOR_ONE)


def _collect(cells: int, wanted: Callable[[Glyphs], bool]) -> tuple[np.ndarray, np.ndarray]:
    real = digits.calibration_split()
    images = {digit: real.images[real.labels == digit] for digit in (1, 7)}
    traces, seven = [], []
    for n in track(range(cells), description="Drawing"):
        rng = np.random.default_rng([_SEED, n])
        digit = 7 if rng.random() < _SHARE_OF_SEVENS else 1
        drawn = near_the_border(digit, images[digit] if n % 2 else None, rng)
        if drawn is None:
            continue
        patch, cell = drawn
        glyphs = glyphs_of(patch[None], cell.w_mm, cell.h_mm, MARGIN_MM)
        if wanted(glyphs):
            traces.append(glyphs.bar_traces[0])
            seven.append(digit == 7)
    return np.array(traces, float), np.array(seven)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cells", type=int, default=16_000)
    net = CharacterNet()
    traces, seven = _collect(parser.parse_args().cells, lambda glyphs: _taken_for_a_one(glyphs, net))
    weights = fit(traces, seven)
    share = 1 / (1 + np.exp(-(traces @ weights[:2] + weights[2])))
    print(f"excess {weights[0]:.2f}, lean {weights[1]:.2f}, offset {weights[2]:.2f}")
    for name, of in (("ones", ~seven), ("sevens", seven)):
        print(f"{name}: {of.sum()}, of these below {_SMALL}: {(share[of] < _SMALL).mean():.3f}")


if __name__ == "__main__":
    main()
