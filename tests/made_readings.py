"""Readings made by hand, as the reading room would hand them over: for the tests of settling, which need no ink."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import lru_cache

import numpy as np

from scanform.form import Field, FieldKind, Layout, Paper, find_template, lay_out
from scanform.read import ALPHABET, EMPTY, Alternative, Reading
from scanform.read.lines import LATIN
from scanform.read.strings import best_strings
from scanform.settle import Known, SettledField, UnitRecord, settle_sheet
from scanform.settle.sheet import verdicts_of
from scanform.settle.verdict import Verdict

Cell = str | Mapping[str, float]  # one sure sign, or signs with the probabilities that the ink gives them

TODAY = date(2026, 11, 27)
PLACE = ((100.0, 100.0), (300.0, 100.0), (300.0, 140.0), (100.0, 140.0))
SURE = 1 - 1e-7
_SIGNS = ALPHABET + EMPTY


@lru_cache(maxsize=1)
def sheet() -> Layout:
    return lay_out(find_template("site-machine"), Paper.A4)


def cell_row(cell: Cell, charset: str) -> np.ndarray:
    """float32 (37,): the named signs' shares, the rest spread over the charset's other signs and the empty cell."""
    shares = {cell: SURE} if isinstance(cell, str) else dict(cell)
    allowed = _SIGNS if charset == "alnum" else "0123456789" + EMPTY
    assert set(shares) <= set(allowed), f"{shares} in a cell for {charset}"
    rest = max(1 - sum(shares.values()), 0.0) / (len(allowed) - len(shares))
    return np.array([shares.get(s, rest if s in allowed else 0.0) for s in _SIGNS], np.float32)


def comb(
    field_id: str,
    cells: Sequence[Cell],
    *,
    other: float = 0.0,
    printed: str | None = None,
    evidence: tuple[str, ...] = (),
    residual_mm: float = 0.05,
) -> Reading:
    """A comb's reading; cells missing at the right are empty. ``other``: share of "no clean character" in each cell."""
    spec = sheet().field(field_id)
    filled = [*cells, *[EMPTY] * (len(spec.cells_mm) - len(cells))]
    assert len(filled) == len(spec.cells_mm), f"{field_id} has {len(spec.cells_mm)} cells"
    rows = np.stack([cell_row(cell, spec.charset) for cell in filled])
    ranked = [Alternative(text if text.strip() else None, p) for text, p in best_strings(rows, 5)]
    return Reading(
        field_id,
        FieldKind.COMB,
        tuple(ranked),
        PLACE,
        residual_mm,
        evidence=evidence,
        cell_probabilities=rows,
        cell_other=np.full(len(filled), other, np.float32),
        printed=printed,
    )


def unit_cells(text: str, **odd: Cell) -> list[Cell]:
    """The characters of ``text`` as sure cells, with the ones named ``c0``, ``c1``, ... replaced."""
    return [odd.get(f"c{n}", sign) for n, sign in enumerate(text)]


def plain(
    field_id: str, value: str | bool | None, probability: float = SURE, evidence: tuple[str, ...] = ()
) -> Reading:
    """A choice, decision, signature, name or words: one alternative, and what is left of it on the opposite."""
    spec = sheet().field(field_id)
    if spec.kind is FieldKind.SIGNATURE:
        others: list[str | bool | None] = [not value]
    elif spec.answers:
        others = [a.answer for a in spec.answers if a.answer != value] + ([None] if value is not None else [])
    else:
        others = []
    if spec.kind is FieldKind.TEXT and value is not None:
        return written(field_id, list(str(value)), probability=probability, evidence=evidence)
    rest = [Alternative(o, (1 - probability) / len(others)) for o in others]
    ranked = sorted([Alternative(value, probability), *rest], key=lambda a: -a.probability)
    return Reading(field_id, spec.kind, tuple(ranked), PLACE, 0.05, ink_mm2=1.0, evidence=evidence)


def written(
    field_id: str,
    signs: Sequence[Cell],
    *,
    says: str | None = None,
    probability: float = SURE,
    evidence: tuple[str, ...] = (),
) -> Reading:
    """A line of free writing: what the recogniser sees, sign by sign, each one step with a step of paper after it.

    A sign may be several with their probabilities; ``""`` among them is "nothing". ``says``: the greedy text.
    """
    steps = np.full((2 * len(signs) + 1, len(LATIN) + 1), (1 - SURE) / len(LATIN), np.float32)
    steps[:, 0] = SURE
    for n, sign in enumerate(signs):
        shares = {sign: probability} if isinstance(sign, str) else dict(sign)
        rest = max(1 - sum(shares.values()), 1e-7) / len(LATIN)
        steps[2 * n + 1] = rest
        for one, share in shares.items():
            steps[2 * n + 1, LATIN.index(one) + 1 if one else 0] = share
    steps /= steps.sum(axis=1, keepdims=True)
    likeliest = [s if isinstance(s, str) else max(s, key=lambda one, s=s: s[one]) for s in signs]  # type: ignore[misc]
    return Reading(
        field_id,
        FieldKind.TEXT,
        (Alternative(says or "".join(likeliest), probability),),
        PLACE,
        0.05,
        ink_mm2=1.0,
        evidence=evidence,
        line_steps=steps,
        line_characters=LATIN,
    )


def hours_cells(text: str) -> list[Cell]:
    """An hour meter's cells for a number such as ``1234.5``, set to the right."""
    digits = text.replace(".", "")
    return list(digits.rjust(len(sheet().field("hours").cells_mm), EMPTY))


def _clean(spec: Field) -> Reading:
    if spec.kind is FieldKind.COMB:
        written = {"unit": "WL07", "date": "20261126", "hours": hours_cells("4521.3")}
        return comb(spec.id, list(written.get(spec.id, "")))
    if spec.kind is FieldKind.CHOICE:
        return plain(spec.id, "ok")
    value: str | bool | None = {"operator": "Dora Pell", "signature": True, "fit": "fit"}.get(spec.id)
    return plain(spec.id, False if spec.id == "workshop.signature" else value)


def readings(*changed: Reading) -> list[Reading]:
    """The readings of a whole clean sheet in the layout's order, with some of them replaced."""
    by_id = {reading.field_id: reading for reading in changed}
    assert set(by_id) <= {spec.id for spec in sheet().fields}
    return [by_id.get(spec.id) or _clean(spec) for spec in sheet().fields]


KNOWN = Known(units=(UnitRecord("WL-07"), UnitRecord("WL-01"), UnitRecord("EX-15")), crew=("Dora Pell",), today=TODAY)


def settle(*changed: Reading, known: Known = KNOWN) -> dict[str, SettledField]:
    """A clean sheet with some readings replaced, settled: fields by id."""
    return {field.id: field for field in settle_sheet(sheet(), readings(*changed), known)}


def verdicts(*changed: Reading, known: Known = KNOWN) -> dict[str, Verdict]:
    """The same before the threshold: what settling thinks, whatever the calibration."""
    return verdicts_of(sheet(), readings(*changed), known)


def reasons_of(field: SettledField) -> str:
    return " ".join(field.reasons)
