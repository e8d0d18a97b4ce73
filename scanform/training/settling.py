"""Fit what settling leans on: calibration of raw probabilities, and acceptance thresholds.

    python -m scanform.training.settling --pages 1500

Pages are simulated with seeds that nothing else uses (CALIBRATION_SEEDS), half of them with real digits of the
calibration split in their combs; as many pages again are read for unit, date and hours alone
(:mod:`scanform.training.number_pages`). The maps and thresholds themselves are :mod:`scanform.training.maps`'s.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
from rich.progress import track

from scanform.locate import ScanGrade
from scanform.settle.calibration import log_odds
from scanform.simulate import Grade
from scanform.training.maps import TARGETS, fit
from scanform.training.number_pages import NumberPage, run_number_trials
from scanform.training.trial import FieldTrial, PageTrial, Plan, run_trials

__all__ = ["CALIBRATION_SEEDS", "calibrated_fields", "collect"]

CALIBRATION_SEEDS = 5_000_000  # and upwards; the bench's begin at 9,000,000
_SHARES = {Grade.OFFICE: 0.35, Grade.BITONAL: 0.3, Grade.WORN: 0.15, Grade.PHONE: 0.1, Grade.FAX: 0.1}
_WEEKLY_ONE_IN = 6  # a week's sheet has a hundred signs; one such page to so many of a day's
# Most of these are empty on most sheets; calibration is about the ones that are written.
_SELDOM_WRITTEN = ("words", "item-number", "name")
_GRADES = list(ScanGrade)
_NUMBERS_SEEDS = 5_700_000  # and upwards: pages of which unit, date and hours alone are read


def calibrated_fields(page: PageTrial | NumberPage) -> list[FieldTrial]:
    """The fields of a page that say something about calibration: not barred, not an empty field left empty."""
    # Every page also tells how well unit and hours are read when neither register nor meter is known.
    alone = [field for field in page.unaided if field.kind.endswith("-free")]
    aided = [field for field in page.fields if not field.kind.endswith("-free")]
    return [
        field
        for field in aided + alone
        if not field.barred and not (_seldom_written(field) and field.truth is None and field.value is None)
    ]


def _seldom_written(field: FieldTrial) -> bool:
    return field.kind in _SELDOM_WRITTEN or field.id == "workshop.date"


def collect(pages: int, number_pages: int, workers: int | None) -> dict[str, np.ndarray]:
    """Per kind of field, float64 (n, 4): log odds of the raw and the clean probability, right (0 or 1), scan grade.

    ``number_pages``: so many further pages are read for unit, date and hours alone. The grade is the one that the page
    showed, as its place in ``ScanGrade``.
    """
    whole, numbers = _plans(pages, CALIBRATION_SEEDS), _plans(number_pages, _NUMBERS_SEEDS)
    whole += [Plan(p.grade, p.seed + 500_000, p.digits, weekly=True) for p in whole[::_WEEKLY_ONE_IN]]
    found: dict[str, list[tuple[float, float, float, float]]] = defaultdict(list)
    read: Iterator[PageTrial | NumberPage] = chain(run_trials(whole, workers), run_number_trials(numbers, workers))
    for page in track(read, total=len(whole) + len(numbers), description="Reading"):
        for field in calibrated_fields(page):
            right = field.right and not field.unclear
            grade = _GRADES.index(ScanGrade(page.scan_grade))
            found[field.kind].append((log_odds(field.raw), log_odds(field.clean), float(right), float(grade)))
    return {kind: np.array(found[kind]).reshape(-1, 4) for kind in {**TARGETS, **found}}


def _plans(pages: int, first_seed: int) -> list[Plan]:
    return [
        Plan(grade, first_seed + 10_000 * g + n, "calibration" if n % 2 else None)
        for g, (grade, share) in enumerate(_SHARES.items())
        for n in range(round(pages * share))
    ]


def main() -> None:
    """Fit, write ``calibration.json``, and print what came out."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=1500)
    parser.add_argument("--number-pages", type=int, help="read for unit, date and hours alone; as many as --pages")
    parser.add_argument("--workers", type=int)
    parser.add_argument("--found", type=Path, default=Path(".train_data/settling.npz"), help="what the reading found")
    parser.add_argument("--refit", action="store_true", help="fit to what an earlier run found, without reading again")
    parser.add_argument("--out", type=Path, default=Path(__file__).parents[1] / "models" / "calibration.json")
    arguments = parser.parse_args()
    if not arguments.refit:
        arguments.found.parent.mkdir(parents=True, exist_ok=True)
        alone = arguments.pages if arguments.number_pages is None else arguments.number_pages
        contents: dict[str, Any] = collect(arguments.pages, alone, arguments.workers)
        contents |= {"pages": arguments.pages, "number_pages": alone}
        np.savez_compressed(arguments.found, **contents)
    with np.load(arguments.found) as found:
        tables = {kind: found[kind] for kind in found.files if not kind.endswith("pages")}
        result = fit(tables, int(found["pages"]), CALIBRATION_SEEDS) | {"number_pages": int(found["number_pages"])}
    arguments.out.write_text(_as_json(result))
    print(_summary(result))


def _as_json(result: dict[str, Any]) -> str:
    """As JSON with one line a map and a step, so that a change can be read."""
    return json.dumps(result, indent=1) + "\n"


def _summary(result: dict[str, Any]) -> str:
    lines = ["kind          grade    fitted on  wrong  threshold  accepted"]
    for kind, values in result["kinds"].items():
        for grade, own in {"all": values, **values["grades"]}.items():
            accepted = f"{own['accepted_at_threshold']:9.2%}" if "accepted_at_threshold" in own else "        -"
            lines.append(
                f"{kind:13} {grade:8} {own['fitted_on']:9} {own['wrong_among_them']:6} {own['threshold']:10} {accepted}"
            )
    return "\n".join(lines)


if __name__ == "__main__":
    main()
