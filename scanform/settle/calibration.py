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

__all__ = ["Calibration", "calibration", "log_odds"]

_MARK_THRESHOLD = 0.99  # judged, not fitted; see calibration()
_LEAST = 1e-5  # probabilities nearer to 0 or 1 than this are taken for this: nothing was calibrated beyond


def log_odds(probability: float) -> float:
    """Logarithm of the odds, with the probability held away from 0 and 1."""
    clipped = min(max(probability, _LEAST), 1 - _LEAST)
    return math.log(clipped / (1 - clipped))


@dataclass(frozen=True)
class Calibration:
    """Per kind of field: a logistic map (Platt) of the raw probabilities, and the acceptance threshold."""

    slopes: dict[str, float]
    clean_slopes: dict[str, float]
    offsets: dict[str, float]
    thresholds: dict[str, float]
    silent_error_target: float

    def confidence(self, kind: str, raw: float, clean: float = 1.0) -> float:
        """Calibrated probability that the value is right.

        ``raw``: probability of the value if all its characters are clean ones; ``clean``: that they are (combs).
        """
        exponent = self.slopes[kind] * log_odds(raw) + self.clean_slopes[kind] * log_odds(clean) + self.offsets[kind]
        return 1 / (1 + math.exp(-exponent))

    def threshold(self, kind: str) -> float:
        """Least confidence at which a field of that kind is accepted."""
        return self.thresholds[kind]


@lru_cache(maxsize=1)
def calibration() -> Calibration:
    """The calibration that came with the installed models."""
    data = json.loads((resources.files("scanform.models") / "calibration.json").read_text())
    kinds = data["kinds"]
    # Files fitted before there were week's sheets have no signs in them. Until one has, signs go by the map of tick
    # boxes, which are read in the same way, and by a threshold a good deal stricter than any of theirs.
    kinds.setdefault("mark", kinds["choice"] | {"threshold": max(kinds["choice"]["threshold"], _MARK_THRESHOLD)})
    return Calibration(
        slopes={kind: float(values["slope"]) for kind, values in kinds.items()},
        clean_slopes={kind: float(values["clean_slope"]) for kind, values in kinds.items()},
        offsets={kind: float(values["offset"]) for kind, values in kinds.items()},
        thresholds={kind: float(values["threshold"]) for kind, values in kinds.items()},
        silent_error_target=float(data["silent_error_target"]),
    )
