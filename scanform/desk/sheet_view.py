"""A sheet as the desk shows it: its fields in groups, each with words, state and place on the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pydantic import BaseModel

from scanform.binder import Binder, RecordedPage
from scanform.binder.typed import FILED_UNDER
from scanform.binder.values import CHOICE_ANSWERS, DECISION_ANSWERS
from scanform.desk.page_pictures import field_places
from scanform.desk.wording import CHECK_WORDS, NOT_SHOWN, STATE_WORDS, field_title, value_words
from scanform.form import Layout, parted
from scanform.report import quarter_turns, value_in_words
from scanform.settle import SettledField, State

__all__ = [
    "FieldLine",
    "Filed",
    "Group",
    "Outline",
    "SheetView",
    "empty_groups",
    "field_line",
    "filed",
    "heading",
    "sheet_view",
]

_GROUPS = (
    ("Head of the sheet", ("unit", "date", "hours", "operator")),
    ("Items", ("item",)),
    ("Defects written down", ("defect",)),
    ("What happens next", ("fit", "told", "signature", "initials")),
    ("Workshop", ("workshop",)),
)
_REST = "Other fields"
_CHECK = "check"  # beside the states: accepted, and a person is to read it unseen
_WHY_HIDDEN = (
    "What the machine read is shown once somebody has said what the paper says: that is how the record learns how "
    "often it is wrong."
)
_SEEN_IN_LISTS = "Lists tell it already, so this one is answered under Settle, where nothing else is shown."


class FieldLine(BaseModel):
    """One field for a person: ``words`` is its value, ``typed`` the same as one would type it.

    ``answers``: what may be chosen, as (value, words), empty where something is typed. ``seen``: the journal entry that
    last changed it. ``hidden``: it waits as a spot check, so ``words`` and ``typed`` do not tell its value;
    ``elsewhere``: and it cannot be answered beside what else this page tells.
    """

    field_id: str
    title: str
    words: str
    typed: str
    state: str
    sign: str
    state_words: str
    reasons: list[str]
    critical: bool
    answers: list[tuple[str, str]]
    seen: int
    hidden: bool = False
    elsewhere: bool = False


class Filed(BaseModel):
    """What a sheet is filed under: the ``heading`` of its page, and the unit, both as far as they may be told."""

    heading: str
    unit: str | None


@dataclass(frozen=True)
class Group:
    """Fields that stand together on the sheet."""

    title: str
    lines: tuple[FieldLine, ...]


@dataclass(frozen=True)
class Outline:
    """A field's corners on the picture as an SVG polygon's ``points``, and the box (x, y, w, h) around them."""

    field_id: str
    state: str
    points: str
    box: str


@dataclass(frozen=True)
class SheetView:
    """All that a sheet's page shows. ``width`` and ``height`` are the picture's in the units of the outlines."""

    groups: tuple[Group, ...]
    outlines: tuple[Outline, ...]
    width: int
    height: int
    counts: tuple[tuple[str, str, str, int], ...]  # state, sign, words, and how many fields are in it
    by_hand: bool
    filed: Filed


def sheet_view(binder: Binder, page: RecordedPage) -> SheetView:
    """The view of a page; no groups if it was not read, no outlines if nobody knows where its fields lie."""
    record = page.record
    labels = _labels(binder, page)
    entries = binder.last_entries(page.number)
    checks = binder.checks_on(page.number)
    lines = [_line(labels, field, entries.get(field.id, 0), field.id in checks) for field in record.fields]
    width, height = _upright_size(page)
    states = {line.field_id: line.state for line in lines}
    outlines = []
    for place in field_places(page):
        corners = [(x * width, y * height) for x, y in place.corners]
        left, top = min(x for x, _ in corners), min(y for _, y in corners)
        right, bottom = max(x for x, _ in corners), max(y for _, y in corners)
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
        box = f"{left:.1f} {top:.1f} {right - left:.1f} {bottom - top:.1f}"
        outlines.append(Outline(place.field_id, states[place.field_id], points, box))
    kinds = {_CHECK: CHECK_WORDS} | {state.value: words for state, words in STATE_WORDS.items()}
    counts = tuple((kind, *words, sum(line.state == kind for line in lines)) for kind, words in kinds.items())
    by_hand = bool(record.fields) and not any(f.polygon_px for f in record.fields)
    return SheetView(_grouped(lines), tuple(outlines), width, height, counts, by_hand, filed(binder, page))


def heading(binder: Binder, page: RecordedPage) -> str:
    """The unit and the day that a sheet is filed under; one that waits as a spot check is not told."""
    said = {"unit": page.record.unit, "date": page.record.date}
    checks = binder.checks_on(page.number)
    return ", ".join(f"{name} {NOT_SHOWN}" if name in checks else str(said[name] or f"no {name}") for name in said)


def filed(binder: Binder, page: RecordedPage) -> Filed:
    """What a sheet is filed under, for its page."""
    unit = None if "unit" in binder.checks_on(page.number) else page.record.unit
    return Filed(heading=heading(binder, page), unit=unit)


def empty_groups(layout: Layout) -> tuple[Group, ...]:
    """The fields of a sheet on which nothing is said yet, for a person to fill in."""
    labels = {f"item.{item.name}": f"{item.number}. {item.text}" for item in layout.template.items}
    blank = [
        SettledField(spec.id, spec.kind.value, None, State.CONFIRMED, 1.0, (), (), critical=spec.critical)
        for spec in layout.fields
    ]
    return _grouped([_line(labels, field) for field in blank])


def field_line(binder: Binder, page: RecordedPage, field: SettledField) -> FieldLine:
    """One field of a page."""
    seen = binder.last_entries(page.number).get(field.id, 0)
    return _line(_labels(binder, page), field, seen, field.id in binder.checks_on(page.number))


def _answers_of(kind: str, field_id: str) -> list[tuple[str, str]]:
    """What may be said of a field by choosing, nothing marked included; empty where something is typed."""
    if kind == "signature":
        return [("signed", value_words(kind, True)), ("unsigned", value_words(kind, False))]
    if kind in ("choice", "mark", "circle"):
        allowed: Sequence[str] = CHOICE_ANSWERS
    elif kind == "decision":
        allowed = DECISION_ANSWERS.get(field_id.rpartition(".")[2], ())
    else:
        return []
    return [*((answer, value_words(kind, answer)) for answer in allowed), ("", value_words(kind, None))]


def _labels(binder: Binder, page: RecordedPage) -> dict[str, str]:
    template, version = page.record.template, page.record.version
    if template is None or version is None:
        return {}
    return {item.field_id: f"{item.number}. {item.text}" for item in binder.items(template, version)}


def _line(labels: dict[str, str], field: SettledField, seen: int = 0, hidden: bool = False) -> FieldLine:
    shown = _shown_line(labels, field, seen)
    if not hidden:
        return shown
    sign, words = CHECK_WORDS
    elsewhere = field.id in FILED_UNDER
    reasons = [_WHY_HIDDEN, _SEEN_IN_LISTS] if elsewhere else [_WHY_HIDDEN]
    told = {"words": NOT_SHOWN, "typed": "", "state": _CHECK, "sign": sign, "state_words": words, "reasons": reasons}
    return shown.model_copy(update=told | {"hidden": True, "elsewhere": elsewhere})


def _shown_line(labels: dict[str, str], field: SettledField, seen: int) -> FieldLine:
    sign, words = STATE_WORDS[field.state]
    return FieldLine(
        field_id=field.id,
        title=field_title(field.id, labels.get(parted(field.id)[0], "")),
        words=value_words(field.kind, field.value),
        typed=_as_typed(field.value),
        state=field.state.value,
        sign=sign,
        state_words=words,
        reasons=list(field.reasons),
        critical=field.critical,
        answers=_answers_of(field.kind, field.id),
        seen=seen,
    )


def _as_typed(value: str | bool | None) -> str:
    """A value as a person would type it; empty for nothing written."""
    return "" if value is None else value_in_words(value)


def _grouped(lines: Sequence[FieldLine]) -> tuple[Group, ...]:
    titles = {stem: title for title, stems in _GROUPS for stem in stems}
    by_title: dict[str, list[FieldLine]] = {title: [] for title in (*(title for title, _ in _GROUPS), _REST)}
    for line in lines:
        by_title[titles.get(line.field_id.partition(".")[0], _REST)].append(line)
    return tuple(Group(title, tuple(found)) for title, found in by_title.items() if found)


def _upright_size(page: RecordedPage) -> tuple[int, int]:
    """Width and height of the upright page in px; 0, 0 if it could not even be opened."""
    record = page.record
    if not record.width_px or not record.height_px:
        return 0, 0
    turns = quarter_turns(f.polygon_px for f in record.fields if f.polygon_px)
    return (record.width_px, record.height_px) if turns % 2 == 0 else (record.height_px, record.width_px)
