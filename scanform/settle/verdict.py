"""A field on its way to being settled: value, raw probability, and the reasons against accepting it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from scanform.form import Field
from scanform.read import Alternative, Reading
from scanform.settle.calibration import Calibration
from scanform.settle.combs import CombResult
from scanform.settle.types import SettledField, State

__all__ = ["Verdict", "only_unsure", "settled", "trust_in", "verdict_on"]

# A printed border further than this from where its field was sampled: what was cut out may not be the field.
_WORST_RESIDUAL_MM = 0.6


@dataclass
class Verdict:
    """What settling thinks of one field so far.

    ``calibrated_as`` names the calibration that turns ``raw`` and ``clean`` (combs: the probability that all cells hold
    clean characters; words: 1 if the vocabulary has them all, else less) into a confidence. ``reasons``: sentences;
    any reason makes the field doubtful whatever its confidence. ``certain`` fields (an empty field, a printed value)
    still go through the threshold.
    """

    spec: Field
    reading: Reading
    value: str | bool | None
    raw: float
    calibrated_as: str
    reasons: list[str] = field(default_factory=list)
    alternatives: tuple[Alternative, ...] = ()
    clean: float = 1.0

    @property
    def text(self) -> str | None:
        """The value as text; None if nothing is written."""
        return str(self.value) if self.value else None

    def doubt(self, reason: str) -> None:
        """Add a reason, once."""
        if reason not in self.reasons:
            self.reasons.append(reason)


def verdict_on(spec: Field, reading: Reading, result: CombResult, calibrated_as: str) -> Verdict:
    """What comes of a field once its value is settled, with the reasons that settling it gave."""
    verdict = Verdict(spec, reading, result.value, result.raw, calibrated_as, [], result.alternatives, result.clean)
    for reason in result.reasons:
        verdict.doubt(reason)
    return verdict


def trust_in(verdict: Verdict, calibration: Calibration, barred_right: float) -> float:
    """How far the hours may lean on a unit or a date: wholly if it is accepted, else by its confidence.

    ``barred_right``: how often one that a reason bars is right, so far as its own confidence says so.
    """
    field = settled(verdict, calibration)
    if field.state is State.ACCEPTED:
        return 1.0
    return min(field.confidence, barred_right) if verdict.reasons else field.confidence


def settled(verdict: Verdict, calibration: Calibration) -> SettledField:
    """Accepted, or doubtful with reasons; what the reading noted stays with the field either way."""
    kind = verdict.calibrated_as
    grade = verdict.reading.scan_grade
    confidence = calibration.confidence(kind, verdict.raw, verdict.clean, grade)
    reasons = list(verdict.reasons)
    if math.isinf(verdict.reading.residual_mm):
        reasons.append("the printed box cannot be seen; the page is torn, covered or cut off here")
    elif verdict.reading.residual_mm > _WORST_RESIDUAL_MM:
        reasons.append(
            f"the printed box is {verdict.reading.residual_mm:.1f} mm from where it should be; "
            "the page is creased or torn here"
        )
    if verdict.reading.crossed_out:
        reasons.append("a long line is drawn across the sheet, which may be crossed out as a whole")
    if confidence < calibration.threshold(kind, grade) and not reasons:
        reasons.append(_unsure(verdict))
    ink_alone = verdict.reading.alternatives[0].value if verdict.reading.line_steps is not None else None
    return SettledField(
        id=verdict.spec.id,
        kind=verdict.spec.kind.value,
        value=verdict.value,
        state=State.DOUBTFUL if reasons else State.ACCEPTED,
        confidence=round(confidence, 6),
        reasons=(*reasons, *verdict.reading.notes),
        polygon_px=verdict.reading.polygon_px,
        alternatives=verdict.alternatives or verdict.reading.alternatives,
        critical=verdict.spec.critical,
        original=None if ink_alone is None else str(ink_alone),
    )


# What a field that is doubtful for its low confidence alone says.
_MAY_ALSO_SAY = "the ink may also say"
_MAY_BE_WRITTEN = "there may be something written here"
_NOT_CLEAR = "the ink is not clear enough to be sure"


def only_unsure(reasons: Sequence[str]) -> bool:
    """Whether these are the reasons of a field that nothing but its low confidence made doubtful."""
    return len(reasons) == 1 and reasons[0].startswith((_MAY_ALSO_SAY, _MAY_BE_WRITTEN, _NOT_CLEAR))


def _unsure(verdict: Verdict) -> str:
    others = [a for a in (verdict.alternatives or verdict.reading.alternatives) if a.value != verdict.value]
    if others and others[0].probability > 0.001 and others[0].value not in (None, ""):
        return f"{_MAY_ALSO_SAY} '{others[0].value}'"
    if verdict.value in (None, ""):
        return _MAY_BE_WRITTEN
    return _NOT_CLEAR
