"""A doubt as the page that settles it needs it: everything in words, and nothing that a spot check must not tell."""

from __future__ import annotations

from pathlib import PurePath

from pydantic import BaseModel

from scanform.binder import Binder, LentDoubt
from scanform.desk.page_pictures import field_places, ink_box, upright_aspect
from scanform.desk.wording import field_title, sort_title, value_words
from scanform.form import parted
from scanform.settle import SettledField

__all__ = ["AnswerView", "DoubtView", "InkView", "ReadingView", "doubt_view"]

_MOST_ALTERNATIVES = 5
_LIKELY = 0.005  # alternatives below this would only be noise to choose from

# Answers of fields that are ticked, each with its key; no two of one field share a key.
_ANSWER_KEYS: dict[str, tuple[tuple[str, str | bool], ...]] = {
    "choice": (("o", "ok"), ("d", "defect"), ("n", "na")),
    "fit": (("f", "fit"), ("p", "parked")),
    "repair": (("r", "repaired"), ("n", "not-needed")),
    "signature": (("s", True), ("u", False)),
}


class ReadingView(BaseModel):
    """A value as the machine read it; ``share``: its probability by the ink, None for the reading itself."""

    value: str | bool | None
    words: str
    share: float | None = None


class AnswerView(BaseModel):
    """An answer that can be given by one key."""

    key: str
    value: str | bool
    words: str


class InkView(BaseModel):
    """The picture of the ink and where the field lies in it, as shares of its size; ``aspect``: width by height."""

    url: str
    left: float
    top: float
    width: float
    height: float
    aspect: float


class DoubtView(BaseModel):
    """One field that waits. ``typed_as``: choice, fit, repair, signature, date, hours, unit or words.

    ``reading`` is None for a spot check. ``corners``: the field on the upright page, as shares of its size, None where
    its place is not known; ``page_aspect``: width by height. ``seen`` goes back with the decision.
    """

    ref: str
    number: int
    title: str
    typed_as: str
    critical: bool
    spot_check: bool
    reading: ReadingView | None
    alternatives: list[ReadingView]
    answers: list[AnswerView]
    reasons: list[str]
    unit: str | None
    date: str | None
    source: str
    sort: str
    ink: InkView | None
    page_url: str
    page_aspect: float
    corners: list[tuple[float, float]] | None
    seen: int


def doubt_view(binder: Binder, lent: LentDoubt) -> DoubtView:
    """A doubt on loan for the page that settles it."""
    doubt, field = lent.doubt, lent.doubt.field
    page = binder.page_numbered(doubt.number)
    assert page is not None  # pages are never deleted
    place = next((p for p in field_places(page) if p.field_id == field.id), None)
    typed_as = _typed_as(field)
    answers = _ANSWER_KEYS.get(typed_as, ())
    others = [a for a in field.alternatives if a.value != field.value and a.probability >= _LIKELY]
    shown = [] if answers else others  # every answer has its key already
    box = ink_box(field.polygon_px) if len(field.polygon_px) == 4 else None
    return DoubtView(
        ref=doubt.ref,
        number=doubt.number,
        title=field_title(field.id, doubt.label),
        typed_as=typed_as,
        critical=field.critical,
        spot_check=lent.spot_check,
        reading=None if lent.spot_check else ReadingView(value=field.value, words=value_words(field.kind, field.value)),
        alternatives=[
            ReadingView(value=a.value, words=value_words(field.kind, a.value), share=a.probability)
            for a in shown[:_MOST_ALTERNATIVES]
        ],
        answers=[AnswerView(key=key, value=value, words=value_words(field.kind, value)) for key, value in answers],
        reasons=[_sentence(reason) for reason in field.reasons],
        unit=doubt.unit,
        date=doubt.date.isoformat() if doubt.date else None,
        source=f"{PurePath(doubt.source).name}, page {doubt.page_number}",
        sort=sort_title(parted(field.id)[0], doubt.label),
        ink=InkView(
            url=f"/pages/{doubt.number}/ink/{field.id}",
            left=box.left,
            top=box.top,
            width=box.width,
            height=box.height,
            aspect=box.aspect,
        )
        if box is not None
        else None,
        page_url=f"/pages/{doubt.number}/picture",
        page_aspect=upright_aspect(page),
        corners=list(place.corners) if place is not None else None,
        seen=lent.seen,
    )


def _typed_as(field: SettledField) -> str:
    last = parted(field.id)[0].rpartition(".")[2]
    if field.kind in ("choice", "mark"):
        return "choice"
    if field.kind == "circle":
        usual = {answer for _, answer in _ANSWER_KEYS["choice"]}
        return "choice" if {a.value for a in field.alternatives} <= usual | {None} else "words"
    if field.kind == "date":
        return "date"
    if field.kind == "decision":
        return last if last in _ANSWER_KEYS else "words"
    if field.kind == "signature":
        return "signature"
    return last if last in ("date", "hours", "unit") else "words"


def _sentence(reason: str) -> str:
    """A reason with a capital and a full stop; what it quotes stays as it is."""
    whole = reason[:1].upper() + reason[1:]
    return whole if whole.endswith((".", "?", "!")) else whole + "."
