"""Settle a unit number in free writing: the register's unit that the ink allows, or what the ink says by itself."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from scanform.form import unit_characters
from scanform.read import Reading
from scanform.settle.combs import CombResult
from scanform.settle.old.ways_to_write import Looks, WaysToWrite, likely_texts, looks_of
from scanform.settle.types import Known

__all__ = ["settle_written_unit"]

_INK_ALLOWS = -7.0  # log: of the nearest listed unit against the ink's own reading; 1 in 1,000
_INK_PREFERS = -3.0  # log: 1 in 20
_UNLISTED = 0.02  # share of sheets for a unit that the register lacks, as for combs
_BESIDE = 0.1  # of these, such as differ from a listed one by so little that the ink leaves it open
_CHARACTERS = tuple("0123456789abcdefghijklmnopqrstuvwxyz")


def settle_written_unit(reading: Reading, known: Known) -> CombResult:
    """The unit, from the register if there is one."""
    if reading.alternatives[0].value is None:
        return CombResult(None, reading.alternatives[0].probability, ["no unit number is written"])
    looks = looks_of(reading, _free_ways().signs)
    texts = likely_texts(looks, _free_ways())
    said = _by_unit(texts)
    if not said:
        return CombResult(None, 0.2, [f"the ink reads '{reading.alternatives[0].value}', which is no unit number"])
    ranked = sorted(said.items(), key=lambda pair: -pair[1])
    free, best = ranked[0]
    if not known.units:
        weights = np.exp(np.array([score for _, score in ranked]) - best)
        shares = [(unit, float(w / weights.sum())) for (unit, _), w in zip(ranked[:4], weights, strict=False)]
        return CombResult(free, shares[0][1], [], shares)
    names = [unit.unit for unit in known.units]
    scores = _listed(looks, names) - best
    order = np.argsort(scores)[::-1]
    top = int(order[0])
    if scores[top] < _INK_ALLOWS:
        reason = f"the ink reads '{free}', which is not in the register; the nearest there is {names[top]}"
        return CombResult(free, 0.3, [reason], [(free, 0.5), *((names[int(k)], 0.1) for k in order[:3])])
    reasons = [f"the ink rather says '{free}'"] if scores[top] < _INK_PREFERS else []
    weights = np.exp(scores - scores[top])
    listed = free in {unit_characters(name) for name in names}
    unlisted = _UNLISTED * (_BESIDE if listed else float(np.exp(-scores[top])))
    total = float(weights.sum()) + unlisted
    alternatives = [(names[int(k)], float(weights[k]) / total) for k in order[:4]]
    return CombResult(names[top], 1 / total, reasons, alternatives)


@lru_cache(maxsize=1)
def _free_ways() -> WaysToWrite:
    sign = _CHARACTERS
    or_not = ("", *sign)
    gap = ("", "-", " ")
    return WaysToWrite((
        (sign, or_not, or_not, gap, sign, or_not, or_not, or_not, or_not),
        (("no ", "no. ", "no"), sign, or_not, or_not, or_not, or_not, or_not),
    ))  # fmt: skip


def _by_unit(texts: dict[str, float]) -> dict[str, float]:
    found: dict[str, float] = {}
    for text, score in texts.items():
        unit = unit_characters(_bare(text).upper())
        if unit:
            found[unit] = float(np.logaddexp(found.get(unit, -np.inf), score))
    return found


def _bare(text: str) -> str:
    """Without "No" before a number."""
    for begin in ("no. ", "no ", "no"):
        rest = text.removeprefix(begin)
        if rest != text and rest.isdecimal():
            return rest
    return text


def _listed(looks: Looks, names: list[str]) -> np.ndarray:
    """Log likelihood of each unit of the register, however it is written: float64 (n,)."""
    spelt = [(n, form) for n, name in enumerate(names) for form in _forms(name)]
    scores = looks.scores([form for _, form in spelt])
    found = np.full(len(names), -np.inf)
    for (n, _), score in zip(spelt, scores, strict=True):
        found[n] = np.logaddexp(found[n], score)
    return found


def _forms(name: str) -> list[str]:
    plain = unit_characters(name).lower()
    letters = plain.rstrip("0123456789")
    digits = plain[len(letters) :]
    forms = [plain]
    if letters and digits:
        forms += [f"{letters}-{digits}", f"{letters} {digits}"]
    elif digits:
        forms += [f"no {digits}", f"no. {digits}"]
    return forms
