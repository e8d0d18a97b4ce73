"""How far a proposed template agrees with the truth of the form that it was proposed for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from scanform.form import AdoptedField, AdoptedTemplate, Box

__all__ = ["Agreement", "agreement"]

_NEAR_MM = 0.7
_LIKE_MM = 1.4  # sides: a frame's outer edge, its middle and its inside are all "the box"
_COVERED = 0.6
_ROOMIER = 4.0  # times the true area; more is not the same place


@dataclass(frozen=True)
class Agreement:
    """Counts over one form. ``places``: tick boxes, cells, words to circle and combs' cells; ``named``: header fields,
    remarks and signatures. ``meant``: places found whose answer or day is right too. ``wrong``: in words, what is not.
    """

    places: int = 0
    found: int = 0
    meant: int = 0
    false: int = 0
    headers: int = 0
    named: int = 0
    wrong: tuple[str, ...] = field(default=())

    def __add__(self, other: Agreement) -> Agreement:
        return Agreement(
            self.places + other.places,
            self.found + other.found,
            self.meant + other.meant,
            self.false + other.false,
            self.headers + other.headers,
            self.named + other.named,
            self.wrong + other.wrong,
        )


def agreement(template: AdoptedTemplate, truth: Mapping[str, Any]) -> Agreement:
    """Compare a proposal with a form's truth, in the shape that ``scanform layout`` prints."""
    fields = truth["pages"][0]["fields"]
    true_places = [place for entry in fields for place in _true_places(entry)]
    own_places = [place for made in template.fields for place in _own_places(made)]
    left = list(own_places)
    found = meant = 0
    wrong = []
    for box, means in true_places:
        match = next((place for place in left if _same_place(place[0], box)), None)
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
    return Agreement(
        len(true_places), found, meant, len(left), len(rooms), len(right), tuple(f"{template.name}: {w}" for w in wrong)
    )


def _true_places(entry: Mapping[str, Any]) -> Iterable[tuple[Box, str]]:
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


def _same_place(a: Box, b: Box) -> bool:
    middles = (abs(u - v) <= _NEAR_MM for u, v in zip(a.centre_mm, b.centre_mm, strict=True))
    return all(middles) and abs(a.w_mm - b.w_mm) <= _LIKE_MM and abs(a.h_mm - b.h_mm) <= _LIKE_MM


def _same_field(made: AdoptedField, entry: Mapping[str, Any]) -> bool:
    if made.id.split(".")[0] != entry["id"].split(".")[0] or _day(made.id) != _day(entry["id"]):
        return False
    true = _whole([Box(*b) for b in entry.get("cells_mm", [])] or [Box(*entry["box_mm"])])
    own = _whole([Box(*b) for b in made.cells_mm] or ([Box(*made.box_mm)] if made.box_mm else [true.grown(-50)]))
    w = min(true.right_mm, own.right_mm) - max(true.x_mm, own.x_mm)
    h = min(true.bottom_mm, own.bottom_mm) - max(true.y_mm, own.y_mm)
    area = true.w_mm * true.h_mm
    return w > 0 and h > 0 and w * h >= _COVERED * area and own.w_mm * own.h_mm <= _ROOMIER * area


def _whole(boxes: list[Box]) -> Box:
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    return whole
