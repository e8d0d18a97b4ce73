"""The sets of blank forms, by the letter that stands for each."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.unseen.c_html import chairlift_opening, council_gully, hire_condition, mowing_crew

__all__ = ["SETS"]

SETS: Mapping[str, tuple[Callable[[str], DrawnForm], ...]] = {
    "c": (
        chairlift_opening, council_gully, hire_condition, mowing_crew,
    ),
}
