"""Fits the weights by which further opinions on a comb's digits are pooled with the first, and measures them.

    python -m scanform.training.pool --pages 600

Pages are simulated with seeds that nothing else uses (POOL_SEEDS), half of them with real digits of the calibration
split in their combs. The larger network's weights have the greatest likelihood of those digits in dates and hour meters
that it is asked about; then the line's, of the digits in combs that are still not sure. Pages from HELD_OUT_SEEDS on, a
third as many, are measured and not fitted on. Writes ``scanform/models/pool.json``.
"""

from __future__ import annotations

import argparse
import json
from datetime import date
from importlib import resources
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np
from scipy.optimize import minimize

from scanform.intake import Page
from scanform.locate import LocatedSheet, locate
from scanform.read.combs import CombOpinions, comb_opinions, to_hear
from scanform.read.second_opinion import PoolWeights, digit_opinion, pooled
from scanform.simulate import Grade
from scanform.training.trial import Plan, setting, simulated

__all__ = ["HELD_OUT_SEEDS", "POOL_SEEDS", "collect", "fit"]

POOL_SEEDS = 6_200_000
HELD_OUT_SEEDS = 6_250_000
_SHARES = {Grade.OFFICE: 0.4, Grade.BITONAL: 0.35, Grade.WORN: 0.1, Grade.PHONE: 0.08, Grade.FAX: 0.07}
# n digits without an error bound its rate at about 3/n with 95 % confidence: no more certainty is fitted.
_RULE_OF_THREE = 3.0


class Opinions(NamedTuple):
    """Digits on which another opinion was asked: ``own`` and ``other`` float (n, 10), ``truth`` int (n,)."""

    own: np.ndarray
    other: np.ndarray
    truth: np.ndarray


def collect(pages: int, first_seed: int) -> list[tuple[CombOpinions, np.ndarray]]:
    """Both networks' opinions on each date and hour meter of simulated pages of which the first alone is not sure.

    With each goes what its inked cells say, int (n,), -1 where nothing is written.
    """
    combs: list[tuple[CombOpinions, np.ndarray]] = []
    known, instruments = setting()
    for number, grade in enumerate(_SHARES):
        for n in range(round(pages * _SHARES[grade])):
            page = simulated(Plan(grade, first_seed + 10_000 * number + n, "calibration" if n % 2 else None))
            pixels = cv2.imdecode(np.frombuffer(page.encoded, np.uint8), cv2.IMREAD_GRAYSCALE)
            found = locate(Page("pool", 1, "", page.pixels if pixels is None else pixels), known)
            if not isinstance(found, LocatedSheet):
                continue
            for name in ("date", "hours"):
                spec = found.layout.field(name)
                opinions = comb_opinions(found, spec, instruments.characters)
                if opinions is None:
                    continue
                written = _written(name, str(page.truth.values[name]), len(spec.cells_mm))
                signs = [written[cell] for cell in opinions.inked]
                combs.append((opinions, np.array([-1 if sign == " " else int(sign) for sign in signs])))
    return combs


def closer_asked(combs: list[tuple[CombOpinions, np.ndarray]]) -> Opinions:
    """The digits that the larger network is asked about."""
    kept = [(c.own[of], c.closer[of], truth[of]) for c, truth in combs for of in [c.asked & (truth >= 0)]]
    return Opinions(*(np.concatenate(column) for column in zip(*kept, strict=True)))


def line_asked(combs: list[tuple[CombOpinions, np.ndarray]], closer: PoolWeights) -> Opinions:
    """The digits that the line reads, of the combs that the larger network has not made sure."""
    reader = setting()[1].lines
    kept = []
    for comb, truth in combs:
        so_far = np.where(comb.asked[:, None], pooled(comb.own, comb.closer, closer), comb.own)
        heard = to_hear(comb.field, so_far)
        if len(heard):
            line, true = digit_opinion(comb.ink[heard], reader), truth[heard]
            kept.append((so_far[heard][true >= 0], line[true >= 0], true[true >= 0]))
    return Opinions(*(np.concatenate(column) for column in zip(*kept, strict=True)))


def _written(name: str, value: str, cells: int) -> str:
    """What stands in the cells; a leading zero may or may not be written, and stands for itself if it is."""
    if name == "date":
        return value.replace("-", "")
    return value.replace(".", "").rjust(cells, "0")


def fit(seen: Opinions) -> PoolWeights:
    """The weights with the greatest likelihood."""
    every = np.arange(len(seen.truth))
    floor = _RULE_OF_THREE / len(seen.truth)

    def loss(v: np.ndarray) -> float:
        p = pooled(seen.own, seen.other, PoolWeights(*np.exp(v)))[every, seen.truth]
        return float(-np.log((1 - floor) * p + floor / 10).mean())

    best = minimize(loss, np.log([0.6, 0.5, 1e-5]), method="Nelder-Mead", options={"maxiter": 500})
    own, other, least = np.exp(best.x)
    return PoolWeights(float(own), float(other), float(max(least, 1e-9)))


def _measured(seen: Opinions, weights: PoolWeights) -> dict[str, dict[str, float]]:
    """Share of digits right, mean log loss, share given less than 0.98, for each opinion and for both."""
    every = np.arange(len(seen.truth))
    found = {}
    for name, p in (("so_far", seen.own), ("other", seen.other), ("pooled", pooled(seen.own, seen.other, weights))):
        true = p[every, seen.truth]
        found[name] = {
            "right": round(float(np.mean(p.argmax(axis=1) == seen.truth)), 4),
            "log_loss": round(float(-np.log(np.maximum(true, 1e-9)).mean()), 4),
            "below_0.98": round(float(np.mean(true < 0.98)), 4),
        }
    return found


def _entry(weights: PoolWeights, seen: Opinions, held_out: Opinions) -> dict[str, object]:
    return {
        **weights._asdict(),
        "digits": len(seen.truth),
        "fitted": _measured(seen, weights),
        "held_out_digits": len(held_out.truth),
        "held_out": _measured(held_out, weights),
    }


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=600)
    given = parser.parse_args()
    seen, held_out = collect(given.pages, POOL_SEEDS), collect(given.pages // 3, HELD_OUT_SEEDS)
    closer = fit(closer_asked(seen))
    heard, heard_held_out = line_asked(seen, closer), line_asked(held_out, closer)
    line = fit(heard)
    written = {
        "made_by": "python -m scanform.training.pool",
        "made_on": date.today().isoformat(),
        "pages": given.pages,
        "seeds_from": POOL_SEEDS,
        "held_out_seeds_from": HELD_OUT_SEEDS,
        "closer": _entry(closer, closer_asked(seen), closer_asked(held_out)),
        "line": _entry(line, heard, heard_held_out),
    }
    target = Path(str(resources.files("scanform.models"))) / "pool.json"
    target.write_text(json.dumps(written, indent=1) + "\n")
    print(target.read_text())


if __name__ == "__main__":
    main()
