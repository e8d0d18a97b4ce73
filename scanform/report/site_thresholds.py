"""Acceptance thresholds from a site's own paper: its answered spot checks, and its settled doubts.

Above a threshold lie two sorts of fields: those that were accepted, of which the spot checks are a fair sample, and
those that were doubtful for their low confidence alone, of which people have settled some. Each sort has an exact upper
bound on its share of errors (each at 97.5 %, so that both hold together at 95 %); weighed by how many fields there are
of each they bound the errors that the threshold lets through. The lowest threshold whose bound keeps the target is
proposed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scanform.binder import Binder, JudgedField
from scanform.settle import FAMILIES, calibration_for, clopper_pearson, family_of, fewest_for, upper_bound
from scanform.settle.calibration import CAP, LEAST_THRESHOLD

__all__ = ["Proposal", "proposals", "thresholds_after"]

_CONFIDENCE = 0.95


@dataclass(frozen=True)
class Proposal:
    """What a family's threshold should be by the site's own fields.

    ``before``: the lowest and the highest threshold in force (kinds of field and scan grades have their own),
    ``after``: the one proposed for all of them, None if the fields cannot tell. ``checked``,
    ``wrong``: answered spot checks; ``settled``: doubts settled that were doubtful for their confidence alone.
    ``needed``: answered spot checks that would be enough, with no further error. ``at_most``: bound on the silent
    errors with ``after``. ``now_doubtful``, ``now_accepted``: fields of the record that would change sides if they were
    read again. ``proven``: ``at_most`` is within the target; else the site's errors alone speak for ``after``.
    """

    family: str
    target: float
    before: tuple[float, float]
    after: float | None
    checked: int
    wrong: int
    settled: int
    needed: int
    at_most: float = 1.0
    now_doubtful: int = 0
    now_accepted: int = 0
    proven: bool = True

    @property
    def changes(self) -> bool:
        """Whether anything would be another than it is."""
        return self.after is not None and self.before != (self.after, self.after)


def proposals(binder: Binder) -> list[Proposal]:
    """One for each family of which the record holds any field."""
    by_family: dict[str, list[JudgedField]] = {family: [] for family in FAMILIES}
    for field in binder.judged_fields():
        by_family.setdefault(family_of(field.field_id, field.kind), []).append(field)
    chosen = binder.settings()
    calibration = calibration_for(chosen.silent_error_target, tuple(sorted(chosen.thresholds.items())))
    found = []
    for family, fields in by_family.items():
        members = [kind for kind, of in calibration.families.items() if of == family]
        if fields and members:
            now = [calibration.threshold(kind, grade) for kind, grade in calibration.maps if kind in members]
            target = min(calibration.targets[kind, ""] for kind in members)
            found.append(_proposal(family, fields, (min(now), max(now)), target))
    return found


def thresholds_after(binder: Binder, found: Sequence[Proposal]) -> dict[str, float]:
    """The site's thresholds with the proposed ones in them."""
    return dict(binder.settings().thresholds) | {p.family: p.after for p in found if p.after is not None}


def _proposal(family: str, fields: Sequence[JudgedField], before: tuple[float, float], target: float) -> Proposal:
    accepted = [f for f in fields if f.accepted]
    unsure = [f for f in fields if f.only_unsure]
    checked = [f for f in accepted if f.drawn and f.right is not None]
    settled = [f for f in unsure if f.right is not None]
    wrong = sum(f.right is False for f in checked)
    needed = fewest_for(target, wrong, _CONFIDENCE)
    plain = Proposal(family, target, before, None, len(checked), wrong, len(settled), needed)
    if not checked:
        return plain
    candidates = sorted(
        {_candidate(f.confidence) for f in [*checked, *settled]} | set(map(_candidate, before)), reverse=True
    )
    after, at_most = None, 1.0
    for candidate in candidates:
        bound = _bound(accepted, checked, unsure, settled, candidate)
        if bound <= target:
            after, at_most = candidate, bound
    proven = after is not None
    if after is None:
        after = _above_every_error(checked, target)
    if after is None:
        return plain
    return Proposal(
        family,
        target,
        before,
        after,
        len(checked),
        wrong,
        len(settled),
        needed,
        at_most if proven else _bound(accepted, checked, unsure, settled, after),
        sum(f.confidence < after for f in accepted),
        sum(f.confidence >= after for f in unsure),
        proven,
    )


def _candidate(confidence: float) -> float:
    return float(np.clip(np.floor(confidence * 1e6) / 1e6, LEAST_THRESHOLD, CAP))


def _bound(
    accepted: Sequence[JudgedField],
    checked: Sequence[JudgedField],
    unsure: Sequence[JudgedField],
    settled: Sequence[JudgedField],
    threshold: float,
) -> float:
    """Upper bound on the share of errors among all fields at or above a threshold."""
    above = [(_above(accepted, threshold), _above(checked, threshold))]
    above.append((_above(unsure, threshold), _above(settled, threshold)))
    present = [pair for pair in above if pair[0]]
    total = sum(len(all_) for all_, _ in present)
    if not total:
        return 1.0
    confidence = 1 - (1 - _CONFIDENCE) / len(present)
    return sum(
        len(all_) / total * (upper_bound(sum(f.right is False for f in seen), len(seen), confidence) if seen else 1.0)
        for all_, seen in present
    )


def _above(fields: Sequence[JudgedField], threshold: float) -> list[JudgedField]:
    return [field for field in fields if field.confidence >= threshold]


def _above_every_error(checked: Sequence[JudgedField], target: float) -> float | None:
    """A threshold above every error found, where so many were found that the target is surely missed; else None."""
    wrong = [f.confidence for f in checked if f.right is False]
    if not wrong or clopper_pearson(len(wrong), len(checked), 2 * _CONFIDENCE - 1)[0] <= target:
        return None
    return min(float(np.ceil(max(wrong) * 1e6 + 1) / 1e6), 1.0)
