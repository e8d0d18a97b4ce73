"""How well damaged sheets are found and read: a row a kind of damage, from staples to a photo at 35 degrees.

    python -m scanform.training.damaged --pages 100

Of each page it is asked whether the sheet was located, whether it is the right one (template, version, paper, serial,
unit), how far its fields lie from the truth, and whether anything that was accepted is wrong.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache

import cv2
import numpy as np

from scanform.form import Paper, built_in_templates, lay_out, unit_characters
from scanform.intake import Page
from scanform.locate import LocatedSheet, NotLocated, sheets_on
from scanform.press import pad_sheets, sheets_pdf
from scanform.read import read_sheet
from scanform.settle import Known, UnitRecord
from scanform.simulate import CREW, Grade, SheetTruth, fill, random_truth, random_writer, render_pdf, scan
from scanform.simulate.damage import PAPER_DAMAGES, Damage
from scanform.simulate.shots import Shot, fed_unevenly, laid_out, on_copy, photo_at, shadow_edge
from scanform.simulate.warp import PointMap
from scanform.training.bench_table import silent
from scanform.training.trial import FieldTrial, field_trials, position_errors_mm, setting

__all__ = ["KINDS", "DamageTrial", "damage_rows", "damage_trial", "run_damage_trials"]

_DPI = 300.0
_FILLED = 12  # filled sheets a worker keeps; every page damages one or two of them anew
_SEED = 9_700_000
_UNITS = ("WL-014", "WL-07", "FL-22", "TR-105", "EX-3", "DT-41")
_MOST_TILT_DEG = 35.0
_PHOTO_PX = 2800


@dataclass(frozen=True, eq=False)
class _Filled:
    """A filled sheet: its paper as uint8 (height, width) at 300 dpi, and what it says."""

    paper: np.ndarray
    size: Paper
    truth: SheetTruth


@dataclass(frozen=True)
class DamageTrial:
    """One damaged picture. ``sheets``: how many are in it; ``located``: how many were found where they are.

    ``strange``: sheets given to a wrong template, paper, serial or unit, or found where there is none, in words.
    ``errors_mm``: of field positions. ``fields``: of those located, words left out. ``reasons``: of those not located.
    """

    kind: str
    seed: int
    sheets: int
    located: int
    strange: tuple[str, ...]
    errors_mm: tuple[float, ...]
    fields: tuple[FieldTrial, ...] = field(repr=False)
    reasons: tuple[str, ...]


Kind = Callable[[np.random.Generator], tuple[list[_Filled], Shot]]


@lru_cache(maxsize=_FILLED)
def _filled_sheet(n: int) -> _Filled:
    """A filled sheet of a day: each number another hand, of every template and paper in turn."""
    daily = [t for t in built_in_templates() if t.covers == "day"]
    rng = np.random.default_rng([_SEED, n])
    template, size = daily[n % len(daily)], list(Paper)[n // len(daily) % 2]
    layout, unit, day = lay_out(template, size), _UNITS[n % len(_UNITS)], date(2026, 3, 2) + timedelta(days=n)
    (sheet,) = pad_sheets(template, size.value, f"DMG{n:03d}", unit=unit, days=(day,), copies=1)
    blank = render_pdf(sheets_pdf(layout, [sheet]), _DPI)[0]
    truth = random_truth(layout, rng, [unit], CREW, day, serial=sheet.code.serial)
    paper, truth = fill(layout, blank, truth, random_writer(rng), rng, printed=("unit", "date"))
    return _Filled(paper, size, truth)


def _one(rng: np.random.Generator) -> _Filled:
    return _filled_sheet(int(rng.integers(_FILLED)))


def _two(rng: np.random.Generator) -> list[_Filled]:
    return [_filled_sheet(int(n)) for n in rng.permutation(_FILLED)[:2]]


def _on_paper(damage: Damage) -> Kind:
    """Sheets with a damage of any strength, through an office scanner, in black and white, or a phone."""

    def make(rng: np.random.Generator) -> tuple[list[_Filled], Shot]:
        sheet = _one(rng)
        paper = damage(sheet.paper, _DPI, rng, float(rng.uniform(0, 1)))
        return [sheet], _scanned(paper, rng)

    return make


def _scanned(paper: np.ndarray, rng: np.random.Generator) -> Shot:
    grade = (Grade.OFFICE, Grade.OFFICE, Grade.BITONAL, Grade.PHONE)[int(rng.integers(4))]
    result = scan(paper, grade, rng, int(rng.choice([0, 0, 2, 1])))
    return Shot(result.pixels, (result.page_mm_to_px,))


def _photo(tilt_deg: tuple[float, float], curl_mm: tuple[float, float] = (0, 0), shadow: bool = False) -> Kind:
    def make(rng: np.random.Generator) -> tuple[list[_Filled], Shot]:
        sheet = _one(rng)
        shot = photo_at(sheet.paper, _DPI, rng, float(rng.uniform(*tilt_deg)), float(rng.uniform(*curl_mm)), _PHOTO_PX)
        pixels = shadow_edge(shot.pixels, rng, float(rng.uniform(0, 1))) if shadow else shot.pixels
        return [sheet], Shot(pixels, shot.maps)

    return make


def _blurred(rng: np.random.Generator) -> tuple[list[_Filled], Shot]:
    sheet = _one(rng)
    shot = photo_at(sheet.paper, _DPI, rng, float(rng.uniform(0, 10)), 0.0, _PHOTO_PX)
    middle = np.array([[100.0, 140.0], [101.0, 140.0]])
    px_per_mm = float(np.linalg.norm(np.diff(shot.maps[0](middle), axis=0)))
    return [sheet], Shot(cv2.GaussianBlur(shot.pixels, (0, 0), rng.uniform(0.05, 0.3) * px_per_mm), shot.maps)


def _fed(stretch: tuple[float, float], skew_deg: tuple[float, float]) -> Kind:
    def make(rng: np.random.Generator) -> tuple[list[_Filled], Shot]:
        sheet = _one(rng)
        skew = float(rng.uniform(*skew_deg) * rng.choice([-1, 1]))
        return [sheet], fed_unevenly(sheet.paper, _DPI, rng, float(rng.uniform(*stretch)), skew)

    return make


def _copied(scale: tuple[float, float]) -> Kind:
    def make(rng: np.random.Generator) -> tuple[list[_Filled], Shot]:
        sheet = _one(rng)
        copy, to_copy = on_copy(sheet.paper, _DPI, float(rng.uniform(*scale)))
        shot = _scanned(copy, rng)
        return [sheet], _composed(shot, [to_copy])

    return make


def _beside_each_other(rng: np.random.Generator) -> tuple[list[_Filled], Shot]:
    sheets = _two(rng)
    half = [cv2.resize(s.paper, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) for s in sheets]
    shake = rng.uniform(-1, 1, (2, 3)) * [4, 8, 4]
    places = [(115 + shake[0, 0], 165 + shake[0, 1], shake[0, 2]), (345 + shake[1, 0], 165 + shake[1, 1], shake[1, 2])]
    table, paper, on_table = laid_out(half, places, (460, 330), _DPI / 2, int(rng.uniform(30, 140)))
    shot = photo_at(table, _DPI / 2, rng, float(rng.uniform(0, 25)), 0.0, 3600, paper)
    return sheets, _composed(shot, on_table)


def _on_one_glass(rng: np.random.Generator) -> tuple[list[_Filled], Shot]:
    sheets = _two(rng)
    half = [cv2.resize(s.paper, None, fx=2 / 3, fy=2 / 3, interpolation=cv2.INTER_AREA) for s in sheets]
    places = [(109.0, 150.0, float(rng.normal(0, 1))), (327.0, 150.0, float(rng.normal(0, 1) + 180 * rng.integers(2)))]
    glass, _, on_glass = laid_out(half, places, (436, 302), _DPI * 2 / 3, int(rng.choice([250, 235, 40])))
    shot = fed_unevenly(glass, _DPI * 2 / 3, rng, 0.004, 0.0)
    return sheets, _composed(shot, on_glass)


def _edge_of_another(rng: np.random.Generator) -> tuple[list[_Filled], Shot]:
    """A strip of a second sheet beside the first, or peeking out from under it."""
    sheets = _two(rng)
    half = [cv2.resize(s.paper, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) for s in sheets]
    beside = rng.random() < 0.5
    x = 125.0 + (rng.choice([-1, 1]) * (222 if beside else rng.uniform(8, 45)))
    y = 165.0 + (0 if beside else rng.uniform(-20, 20))
    places = [(float(x), float(y), float(rng.normal(0, 1.5))), (125.0, 165.0, float(rng.normal(0, 1)))]
    table, paper, on_table = laid_out(half[::-1], places, (250, 330), _DPI / 2, int(rng.uniform(30, 140)))
    shot = photo_at(table, _DPI / 2, rng, float(rng.uniform(0, 10)), 0.0, _PHOTO_PX, paper)
    return sheets[:1], _composed(shot, on_table[1:])


def _composed(shot: Shot, places: Sequence[PointMap]) -> Shot:
    return Shot(shot.pixels, tuple(_one_after_the_other(place, shot.maps[0]) for place in places))


def _one_after_the_other(first: PointMap, second: PointMap) -> PointMap:
    return lambda points_mm: second(first(points_mm))


KINDS: dict[str, Kind] = {
    **{name: _on_paper(damage) for name, damage in PAPER_DAMAGES.items()},
    "skew to 15 degrees": _fed((0, 0.01), (2, 15)),
    "feeder stretch that varies, to 4 %": _fed((0.01, 0.04), (0, 2)),
    "reduced copy, 71 to 100 %": _copied((0.71, 1.0)),
    "enlarged copy, 100 to 141 %": _copied((1.0, 1.41)),
    "photo, to 20 degrees": _photo((0, 20)),
    "photo, 20 to 35 degrees": _photo((20, _MOST_TILT_DEG)),
    "photo of bent paper, ends to 25 mm up": _photo((0, 10), (5, 25)),
    "photo, shadow and glare": _photo((0, 15), shadow=True),
    "photo, all of these": _photo((10, _MOST_TILT_DEG), (3, 15), shadow=True),
    "photo, blurred to 0.3 mm": _blurred,
    "two sheets in one photo": _beside_each_other,
    "two sheets on one glass": _on_one_glass,
    "another sheet's edge": _edge_of_another,
}


def run_damage_trials(pages: int, workers: int | None = None, kinds: Sequence[str] = ()) -> Iterator[DamageTrial]:
    """So many pages of every kind (or of the named ones), made, located, read and compared; in order."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    os.environ.setdefault("OMP_THREAD_LIMIT", "1")
    plans = [(kind, _SEED + 1000 + n) for kind in kinds or KINDS for n in range(pages)]
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers or os.cpu_count(), mp_context=context) as pool:
        yield from pool.map(_trial, plans, chunksize=5)


def _trial(plan: tuple[str, int]) -> DamageTrial:
    return damage_trial(*plan)


def damage_trial(kind: str, seed: int) -> DamageTrial:
    """Make one damaged picture and see what becomes of it."""
    cv2.setNumThreads(1)
    rng = np.random.default_rng([seed, list(KINDS).index(kind)])
    sheets, shot = KINDS[kind](rng)
    known, instruments = setting()
    found = sheets_on(Page("damaged", 1, "", np.ascontiguousarray(shot.pixels)), known)
    strange: list[str] = []
    errors: list[float] = []
    fields: list[FieldTrial] = []
    reasons = [f"{sheet.outcome}: {sheet.reason}" for sheet in found if isinstance(sheet, NotLocated)]
    located = 0
    for sheet in found:
        if not isinstance(sheet, LocatedSheet):
            continue
        at = _sheet_there(sheet, sheets, shot)
        if at is None:
            strange.append("a sheet found where there is none")
            continue
        located += 1
        true = sheets[at]
        strange += _strange(sheet, true)
        errors += position_errors_mm(sheet, shot.maps[at])
        if sheet.layout.template.name == true.truth.template:
            readings = read_sheet(sheet, instruments)
            day = date.fromisoformat(str(true.truth.values["date"]))
            known_here = Known(tuple(UnitRecord(unit) for unit in _UNITS), CREW, today=day + timedelta(days=3))
            fields += [f for f in field_trials(sheet, readings, known_here, true.truth) if f.kind != "words"]
    return DamageTrial(kind, seed, len(sheets), located, tuple(strange), tuple(errors), tuple(fields), tuple(reasons))


def _sheet_there(found: LocatedSheet, sheets: Sequence[_Filled], shot: Shot) -> int | None:
    """Which of the sheets in the picture lies where one was found: within 30 mm of its middle."""
    box = found.layout.fields[0].box_mm
    seen = np.mean(found.polygon_px(box), axis=0)
    scale = found.map.px_per_mm() / found.raster_scale
    apart = [
        float(np.linalg.norm(shot.maps[n](np.array([box.centre_mm]))[0] - seen)) / scale for n in range(len(sheets))
    ]
    nearest = int(np.argmin(apart))
    return nearest if apart[nearest] < 30 else None


def _strange(found: LocatedSheet, true: _Filled) -> list[str]:
    said = found.layout.template
    wrong = []
    if (said.name, said.version) != (true.truth.template, true.truth.version):
        wrong.append(f"template {said.name} {said.version} instead of {true.truth.template} {true.truth.version}")
    elif found.layout.paper is not true.size:
        wrong.append(f"paper {found.layout.paper.value} instead of {true.size.value}")
    if found.code is not None and found.code.serial != true.truth.serial:
        wrong.append(f"serial {found.code.serial} instead of {true.truth.serial}")
    unit = found.code.unit if found.code is not None else None
    if unit is not None and unit_characters(unit) != unit_characters(str(true.truth.values["unit"])):
        wrong.append(f"unit {unit} instead of {true.truth.values['unit']}")
    return wrong


def damage_rows(trials: Sequence[DamageTrial]) -> str:
    """The table as Markdown: a row a kind of damage."""
    head = ("damage", "sheets", "located", "wrong template, serial or unit", "positions, 95th percentile")
    lines = [
        "| " + " | ".join((*head, "fields accepted", "silently wrong")) + " |",
        "| --- " * (len(head) + 2) + "|",
    ]
    for kind in dict.fromkeys(trial.kind for trial in trials):
        lines.append(_row(kind, [trial for trial in trials if trial.kind == kind]))
    lines.append(_row("all", trials))
    return "\n".join(lines)


def _row(name: str, trials: Sequence[DamageTrial]) -> str:
    sheets, located = sum(t.sheets for t in trials), sum(t.located for t in trials)
    strange = sum(len(t.strange) for t in trials)
    errors = np.concatenate([np.array(t.errors_mm) for t in trials]) if trials else np.array([])
    fields = [f for t in trials for f in t.fields]
    accepted = [f for f in fields if f.accepted]
    wrong = sum(silent(f) for f in fields)
    position = f"{np.percentile(errors, 95):.3f} mm" if len(errors) else "-"
    share = f"{int(len(accepted) / len(fields) * 1000) / 10:.1f} %" if fields else "-"
    return (
        f"| {name} | {sheets:,} | {int(located / sheets * 1000) / 10:.1f} % ({located:,}) | {strange} of {sheets:,} | "
        f"{position} | {share} ({len(accepted):,}) | {wrong} |"
    )


def main() -> None:
    """Make, read and compare, print the table and everything that went wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pages", type=int, default=100, help="pictures of each kind")
    parser.add_argument("--kinds", nargs="*", default=[], choices=list(KINDS), metavar="KIND")
    parser.add_argument("--workers", type=int)
    arguments = parser.parse_args()
    trials = list(run_damage_trials(arguments.pages, arguments.workers, arguments.kinds))
    print(damage_rows(trials))
    for trial in trials:
        for said in (*trial.strange, *trial.reasons, *(_said(f) for f in trial.fields if silent(f))):
            print(f"- {trial.kind}, seed {trial.seed}: {said}")


def _said(field: FieldTrial) -> str:
    return f"{field.id}: paper says {field.truth!r}, accepted as {field.value!r} at {field.confidence:.5f}"


if __name__ == "__main__":
    main()
