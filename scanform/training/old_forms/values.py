"""What one page of an old binder truly says."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from scanform.adopt.labels import order_of
from scanform.form.days import DAYS
from scanform.simulate import CREW
from scanform.simulate.complaints import complaint_about
from scanform.training.old_forms.crew import Occasion, written_date, written_hours, written_unit
from scanform.training.old_forms.drawn import DrawnForm, FormField

__all__ = ["Written", "page_values"]

_SHARE_NA, _SHARE_MISSED, _SHARE_UNSIGNED = 0.05, 0.008, 0.03
_DEFECTS_A_PAGE = (0.55, 0.3, 0.15)
_SITES = ("upper bench", "crusher", "lower pit", "stockpile 2", "haul road", "face 4")
_SHIFTS = ("day", "night", "1", "2", "early")


@dataclass(frozen=True)
class Written:
    """``value`` as a reader should give it, ``text`` as it stands on the paper; for signs and ticks both are alike."""

    value: str | bool | None
    text: str = ""


def page_values(form: DrawnForm, what: Occasion, covers: str, rng: np.random.Generator) -> dict[str, Written]:
    """A value for every field that is filled in; fields left empty are there with None."""
    values: dict[str, Written] = {f.id: Written(None) for f in form.fields}
    used = _days_used(what.on, covers, rng)
    items = [f for f in form.fields if f.id.startswith("item.")]
    names = list(dict.fromkeys(f.id.split(".")[1] for f in items))
    fitted = {name for name in names if rng.random() >= _SHARE_NA}
    bad = [str(n) for n in rng.permutation(names)[: int(rng.choice(3, p=_DEFECTS_A_PAGE))]]
    since = {name: int(rng.integers(0, max(1, len(used) or 1))) for name in bad}
    for f in items:
        answer = _answer(f, fitted, since, used, rng)
        # What the form has no sign for is left blank: "if not used", or all that is well where only defects are ticked.
        values[f.id] = Written(answer if f.kind != "mark" or answer in form.legend.values() else None)
    for f in form.fields:
        if not f.id.startswith("item."):
            values[f.id] = _header(f, what, used, rng)
    _remarks(form, values, bad, rng)
    if bad and "told" in values:
        values["told"] = _plain(str(rng.choice(CREW)))
    return values


def _plain(text: str) -> Written:
    return Written(text, text)


def _days_used(on: date, covers: str, rng: np.random.Generator) -> list[str]:
    """Names of the day columns that are filled in."""
    if covers == "week":
        return [day for k, day in enumerate(DAYS) if rng.random() < (0.97 if k < 5 else 0.3 if k == 5 else 0.05)]
    if covers == "month":
        last = monthrange(on.year, on.month)[1]
        return [
            str(d) for d in range(1, last + 1) if rng.random() < (0.97 if on.replace(day=d).weekday() < 5 else 0.06)
        ]
    return []


def _answer(
    f: FormField, fitted: set[str], since: dict[str, int], used: list[str], rng: np.random.Generator
) -> str | None:
    name, day = f.id.split(".")[1], f.id.split(".")[2] if f.id.count(".") == 2 else None
    if (day is not None and day not in used) or rng.random() < _SHARE_MISSED:
        return None
    if name in since and (day is None or since[name] <= used.index(day) < since[name] + 3):
        return "defect"
    offered = {answer for answer, _ in f.answers} or {"na"}
    return "na" if name not in fitted and "na" in offered else "ok"


def _header(f: FormField, what: Occasion, used: list[str], rng: np.random.Generator) -> Written:
    stem, _, day = f.id.partition(".")
    hand = what.hand
    if stem == "unit":
        return Written(what.unit, what.unit if f.kind == "comb" else written_unit(what.unit, hand))
    if stem == "hours" and (not day or day in used):
        hours = what.hours + Decimal(8) * (used.index(day) if day else 0)
        if f.kind == "comb":
            return _plain(f"{hours:.1f}")
        return Written(*written_hours(hours, hand))
    if stem == "date" or stem == "week":
        on = what.on - timedelta(days=what.on.weekday()) if stem == "week" else what.on
        return Written(on.isoformat(), _in_cells(f, on) if f.kind == "comb" else written_date(on, hand))
    if stem == "month":
        return Written(what.on.strftime("%Y-%m"), what.on.strftime(str(rng.choice(["%B %Y", "%b %y", "%m/%Y"]))))
    if stem == "operator":
        return _plain(hand.name)
    if stem == "initials" and day in used:
        return _plain("".join(part[0] for part in hand.name.split()))
    if stem == "signature":
        return Written(bool(rng.random() >= _SHARE_UNSIGNED))
    if stem == "site":
        return _plain(str(rng.choice(_SITES)))
    if stem == "shift" and f.answers:
        return Written(str(rng.choice([answer for answer, _ in f.answers])))
    if stem == "shift":
        return _plain(str(rng.choice(_SHIFTS)))
    return Written(None)


def _in_cells(f: FormField, on: date) -> str:
    """The day in a comb's cells, in the order that its label says: day, month, year if it says none."""
    order = "".join(dict.fromkeys(order_of(f.label)[0])) or "dmy"
    parts = {"d": "%d", "m": "%m", "y": "%Y" if len(f.cells_mm) == 8 else "%y"}
    return on.strftime("".join(parts[part] for part in order))


def _remarks(form: DrawnForm, values: dict[str, Written], bad: list[str], rng: np.random.Generator) -> None:
    """A complaint a defect, on the lines there are; a long one goes on in the next line."""
    lines: list[str] = []
    for name in bad:
        text = complaint_about(name, rng)
        words = text.split()
        if len(words) > 3 and rng.random() < 0.4:
            half = len(words) // 2
            lines += [" ".join(words[:half]), " ".join(words[half:])]
        else:
            lines.append(text)
    places = [f.id for f in form.fields if f.id.startswith("remarks.")]
    if places:
        for place, line in zip(places, lines, strict=False):
            values[place] = _plain(line)
    elif "remarks" in values and lines:
        values["remarks"] = _plain("\n".join(lines))
