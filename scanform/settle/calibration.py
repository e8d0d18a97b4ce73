"""From raw probabilities to calibrated ones, and the thresholds above which a field is accepted.

The numbers live in ``scanform/models/calibration.json``; ``python -m scanform.training.settling`` fits them on
simulated pages that nothing else used, and writes beside them what they were fitted on.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

__all__ = ["Calibration", "calibration"]

_LEAST = 1e-7


@dataclass(frozen=True)
class Calibration:
    """Per kind of field: Platt's logistic map of the raw probability, and the acceptance threshold."""

    slopes: dict[str, float]
    offsets: dict[str, float]
    thresholds: dict[str, float]
    silent_error_target: float

    def confidence(self, kind: str, raw: float) -> float:
        """Calibrated probability that the value is right."""
        clipped = min(max(raw, _LEAST), 1 - _LEAST)
        logit = math.log(clipped / (1 - clipped))
        return 1 / (1 + math.exp(-(self.slopes[kind] * logit + self.offsets[kind])))

    def threshold(self, kind: str) -> float:
        """Least confidence at which a field of that kind is accepted."""
        return self.thresholds[kind]


@lru_cache(maxsize=1)
def calibration() -> Calibration:
    """The calibration that came with the installed models."""
    data = json.loads((resources.files("scanform.models") / "calibration.json").read_text())
    kinds = data["kinds"]
    return Calibration(
        slopes={kind: float(values["slope"]) for kind, values in kinds.items()},
        offsets={kind: float(values["offset"]) for kind, values in kinds.items()},
        thresholds={kind: float(values["threshold"]) for kind, values in kinds.items()},
        silent_error_target=float(data["silent_error_target"]),
    )
