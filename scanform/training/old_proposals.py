"""How far a proposed template agrees with the truth of the form that it was proposed for.

    python -m scanform.training.old_proposals CORPUS [--forms NAME...] [--scans]

proposes a template from each form's blank, its PDF or with ``--scans`` its clean scan, and counts. CORPUS is a folder
made by ``python -m scanform.training.old_forms``; ``--copies 0`` makes the blanks alone.
"""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from scanform.adopt import FoundPrint, print_of, propose
from scanform.adopt.registering import registered_to
from scanform.adopt.stacking import Laid, Sheet, ink_of_page
from scanform.errors import TemplateError
from scanform.form import BLANK_PX_PER_MM, AdoptedField, AdoptedTemplate, Box
from scanform.locate import PageMap
from scanform.locate.print_match import Keypoints, match_print, page_keypoints
from scanform.simulate import render_pdf

__all__ = ["Agreement", "agreement", "laid_over", "row", "same_place", "true_places"]

_DPI = 300.0

_NEAR_MM = 0.7
_LIKE_MM = 1.4  # sides: a frame's outer edge, its middle and its inside are all "the box"
_COVERED = 0.6
# Who was told, where a form has a line for its foreman; a week's or a month's sheet is filed under its first day.
_ALSO_RIGHT = {
    "told": ("told", "foreman"),
    "week": ("date",),
    "month": ("date",),
    "make": ("machine",),
    "model": ("machine",),
    "make-model": ("machine",),
    "kilometres": ("odometer",),
    "depot": ("site",),
    "hours-start": ("hours",),
    "hours-out": ("hours",),
}
# Fields whose ids the rest of the program knows; any other is called by its label.
_KNOWN_ROOMS = {"unit", "date", "week", "hours", "operator", "signature", "remarks", "told", "foreman", "shift", "site"}
# Of an id made from a label: its shift's name stands over it, and numbers keep two of a name apart.
_NOT_OF_A_LABEL = {"no", "1st", "2nd", "3rd", "2", "3", "4", "5"}
_ROOMIER = 4.0  # times the true area; more is not the same place


@dataclass(frozen=True)
class Agreement:
    """Counts over one form. ``places``: tick boxes, cells, words to circle and combs' cells; ``named``: header fields,
    remarks and signatures. ``meant``: places found whose answer or day is right too. ``signs``: of the legend, and
    ``told`` those whose meaning is right. ``wrong``: in words, what is not.
    """

    places: int = 0
    found: int = 0
    meant: int = 0
    false: int = 0
    headers: int = 0
    named: int = 0
    signs: int = 0
    told: int = 0
    wrong: tuple[str, ...] = field(default=())

    def __add__(self, other: Agreement) -> Agreement:
        return Agreement(
            self.places + other.places,
            self.found + other.found,
            self.meant + other.meant,
            self.false + other.false,
            self.headers + other.headers,
            self.named + other.named,
            self.signs + other.signs,
            self.told + other.told,
            self.wrong + other.wrong,
        )


def agreement(template: AdoptedTemplate, truth: Mapping[str, Any]) -> Agreement:
    """Compare a proposal with a form's truth, in the shape that ``scanform layout`` prints."""
    fields = truth["pages"][0]["fields"]
    true = [place for entry in fields for place in true_places(entry)]
    own_places = [place for made in template.fields for place in _own_places(made)]
    left = list(own_places)
    found = meant = 0
    wrong = []
    for box, means in true:
        match = next((place for place in left if same_place(place[0], box)), None)
        if match is None:
            wrong.append(f"place not found: {means or 'cell'} at {box.x_mm:.1f}, {box.y_mm:.1f}")
            continue
        left.remove(match)
        found += 1
        meant += match[1] == means
    wrong += [f"false place: {means or 'cell'} at {box.x_mm:.1f}, {box.y_mm:.1f}" for box, means in left]
    rooms = [entry for entry in fields if not entry["id"].startswith("item.")]
    right = [entry for entry in rooms if any(_same_field(made, entry) for made in template.fields)]
    wrong += [f"header not named right: {entry['id']} ('{entry['label']}')" for entry in rooms if entry not in right]
    legend = truth.get("legend") or {}
    own_signs = {sign.sign: sign.answer for sign in template.signs}
    told = [sign for sign, answer in legend.items() if own_signs.get(sign) == answer]
    wrong += [f"sign not told: {s} is {a}, not {own_signs.get(s)}" for s, a in legend.items() if s not in told]
    counts = (len(true), found, meant, len(left), len(rooms), len(right), len(legend), len(told))
    return Agreement(*counts, tuple(f"{template.name}: {w}" for w in wrong))


def true_places(entry: Mapping[str, Any]) -> Iterable[tuple[Box, str]]:
    """The places of a field of the truth, each with the answer or the day that it stands for, "" if none."""
    if entry["kind"] == "comb":
        return [(Box(*cell), "") for cell in entry["cells_mm"]]
    if entry["kind"] == "choice":
        return [(Box(*answer["box_mm"]), str(answer["answer"])) for answer in entry["answers"]]
    return [(Box(*entry["box_mm"]), _day(entry["id"]))] if entry["kind"] == "mark" else []


def _own_places(made: AdoptedField) -> Iterable[tuple[Box, str]]:
    places = [(Box(*cell), "") for cell in made.cells_mm]
    places += [(Box(*answer.box_mm), answer.answer) for answer in made.answers]
    if made.kind.value == "mark" and made.box_mm is not None:
        places.append((Box(*made.box_mm), _day(made.id)))
    return places


def _day(field_id: str) -> str:
    parts = field_id.split(".")
    return parts[2] if len(parts) == 3 else ""


def same_place(a: Box, b: Box) -> bool:
    """Whether a place that was found is that of the truth."""
    middles = (abs(u - v) <= _NEAR_MM for u, v in zip(a.centre_mm, b.centre_mm, strict=True))
    return all(middles) and abs(a.w_mm - b.w_mm) <= _LIKE_MM and abs(a.h_mm - b.h_mm) <= _LIKE_MM


def _same_field(made: AdoptedField, entry: Mapping[str, Any]) -> bool:
    stem, own_stem = entry["id"].split(".")[0], made.id.split(".")[0]
    right = own_stem in _ALSO_RIGHT.get(stem, (stem,)) or (own_stem, stem) == ("dated", "date")
    if stem not in _KNOWN_ROOMS and own_stem not in _KNOWN_ROOMS:
        words = re.findall(r"[a-z]+", re.sub(r"['\u2019]", "", entry["label"].lower()))
        right = right or set(own_stem.split("-")) - _NOT_OF_A_LABEL <= set(words)
    if not right or _day(made.id) != _day(entry["id"]):
        return False
    answers = [Box(*answer["box_mm"]) for answer in entry.get("answers", [])]
    true = _whole([Box(*b) for b in entry.get("cells_mm", [])] or answers or [Box(*entry["box_mm"])])
    own_boxes = [Box(*b) for b in made.cells_mm] or [Box(*answer.box_mm) for answer in made.answers]
    own = _whole(own_boxes or ([Box(*made.box_mm)] if made.box_mm else [true.grown(-50)]))
    w = min(true.right_mm, own.right_mm) - max(true.x_mm, own.x_mm)
    h = min(true.bottom_mm, own.bottom_mm) - max(true.y_mm, own.y_mm)
    area = true.w_mm * true.h_mm
    return w > 0 and h > 0 and w * h >= _COVERED * area and own.w_mm * own.h_mm <= _ROOMIER * area


def _whole(boxes: list[Box]) -> Box:
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    return whole


def laid_over(layout: Mapping[str, Any], blank: Path, found: FoundPrint) -> dict[str, Any]:
    """The truth with its boxes where a picture of the form has them, by the print of ``blank``, a PDF.

    Nobody can tell a form's own size from a scan of it: feeders stretch, copiers enlarge. ValueError if the picture
    does not show the form.
    """
    page = layout["pages"][0]
    (drawn,) = render_pdf(blank, _DPI)
    seen = page_keypoints(drawn)
    true = Keypoints((seen.places + 0.5) * 25.4 / _DPI, seen.descriptors)
    keypoints = page_keypoints(found.picture)
    match = match_print(keypoints, true, (page["width_mm"], page["height_mm"]))
    if match is None:
        raise ValueError(f"{layout['template']}: the picture does not show the form")
    ink = ink_of_page(found.picture, BLANK_PX_PER_MM)
    to_px = _finely(match.map, drawn, Sheet(str(blank), 1, ink, BLANK_PX_PER_MM, keypoints))

    def moved(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: _moved(to_px, value[key]) if key == "box_mm" else moved(value[key]) for key in value}
        if isinstance(value, list) and value and isinstance(value[0], list) and len(value[0]) == 4:
            return [_moved(to_px, box) for box in value]
        return [moved(one) for one in value] if isinstance(value, list) else value

    return dict(moved(layout))


def _finely(rough: PageMap, drawn: np.ndarray, seen: Sheet) -> PageMap:
    """The map that makes the picture's ink agree with the drawn form's: keypoints leave a millimetre and more."""
    width, height = (round(side * BLANK_PX_PER_MM) for side in rough.size_mm)
    target = ink_of_page(cv2.resize(drawn, (width, height), interpolation=cv2.INTER_AREA), BLANK_PX_PER_MM)
    return registered_to(target, Laid(seen, seen.ink, rough, 0), BLANK_PX_PER_MM, steps=3).map


def _moved(to_px: PageMap, box: Sequence[float]) -> list[float]:
    x, y, w, h = box
    (x0, y0), (x1, y1) = (to_px.to_px(np.array([[x, y], [x + w, y + h]])) + 0.5) / BLANK_PX_PER_MM
    return [float(x0), float(y0), float(x1 - x0), float(y1 - y0)]


def row(name: str, found: Agreement) -> str:
    """One line of figures."""
    return (
        f"{name}: places {found.found} of {found.places}, meant right {found.meant}, false {found.false}; "
        f"header fields {found.named} of {found.headers}; signs {found.told} of {found.signs}"
    )


def _trial(run: Path, scans: bool) -> Agreement:
    """A proposal from the blank of one print run. A form that is refused has none of its places found."""
    layout = json.loads((run / "layout.json").read_text())
    blank = run / "blank.pdf"
    found = print_of(next(run.glob("blank-scan.*")) if scans else blank)
    truth = laid_over(layout, blank, found) if scans else layout
    try:
        template = propose(found, layout["template"]).template
    except TemplateError as problem:
        nothing = AdoptedTemplate.model_construct(name=layout["template"], fields=())
        return agreement(nothing, truth) + Agreement(wrong=(f"{layout['template']}: {problem}",))
    return agreement(template, truth)


def main() -> None:
    """Command line: ``--help`` says how."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("corpus", type=Path)
    parser.add_argument("--forms", nargs="*", help="names; all of the corpus if not given")
    parser.add_argument("--scans", action="store_true", help="from the blanks' scans, not their PDFs")
    wanted = parser.parse_args()
    total, shares = Agreement(), []
    for run in sorted(path.parent for path in wanted.corpus.glob("*/*/blank.pdf")):
        if wanted.forms and run.parent.name not in wanted.forms:
            continue
        trial = _trial(run, wanted.scans)
        total += trial
        shares.append(trial.found / trial.places)
        print(row(f"{run.parent.name} {run.name}", trial), *trial.wrong[:12], sep="\n    ", flush=True)
    print(row("all", total) + f"; places found on the mean form: {100 * sum(shares) / len(shares):.1f} %")


if __name__ == "__main__":
    main()
