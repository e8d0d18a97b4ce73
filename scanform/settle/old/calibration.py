"""The calibration of what only old forms have: fitted like the rest, on other pages, and kept in its own file."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache
from importlib import resources

from scanform.settle.calibration import Calibration, calibration_for, from_json
from scanform.settle.types import Known

__all__ = ["OLD_KINDS", "old_calibration_for"]

# Kinds of field that only old forms have: words to circle, and what is written without cells.
OLD_KINDS = ("circle", "written-date", "written-date-free", "written-hours", "written-hours-between",
             "written-hours-free", "written-number", "written-unit", "written-unit-free")  # fmt: skip


@lru_cache(maxsize=1)
def _old() -> Calibration:
    return from_json(json.loads((resources.files("scanform.settle.old") / "calibration.json").read_text()))


def old_calibration_for(known: Known) -> Calibration:
    """The binder's calibration with the kinds of old forms beside its own."""
    return _beside(known.silent_error_target, known.thresholds)


@lru_cache(maxsize=8)
def _beside(silent_error_target: float | None, site: tuple[tuple[str, float], ...]) -> Calibration:
    chosen, old = calibration_for(silent_error_target, site), _old()
    if silent_error_target is not None:
        old = old.for_target(silent_error_target)
    return replace(
        chosen,
        maps={**chosen.maps, **old.maps},
        fitted={**chosen.fitted, **old.fitted},
        families={**chosen.families, **old.families},
        steps={**chosen.steps, **old.steps},
        targets={**chosen.targets, **old.targets},
    )
