"""Templates of paper that scanform never printed: every place in millimetres, and a picture of the blank form.

Such a template has no layout engine behind it. Its file says where everything is, and beside the file lies the picture
that pages are matched with; a page is known by that print alone, since it has no marks, no code and no serial.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from scanform.form.geometry import Box
from scanform.form.layout import Answer, FieldKind, Layout, Line, Paper, Words
from scanform.form.layout import Field as LaidOutField
from scanform.form.template import Prose, Slug, Stage, Template

__all__ = [
    "BLANK_PX_PER_MM",
    "AdoptedAnswer",
    "AdoptedField",
    "AdoptedTemplate",
    "BlankPicture",
    "PrintedWord",
    "Rule",
    "Sign",
    "adopted_layout",
]

BLANK_PX_PER_MM = 8.0  # as the reading room samples pages
_LEAST_SIDE_MM, _MOST_SIDE_MM = 70.0, 450.0  # from a postcard (A6 is 105 x 148) to A3
_BASELINE = 0.22  # of a word's height lies under its baseline
_PT_PER_MM = 72 / 25.4
_NOWHERE = Box(0.0, 0.0, 0.0, 0.0)

_DIGITS = 2  # hundredths of a millimetre: less than a tenth of the picture's pixel


def _to_hundredths(value: float) -> float:
    return round(value, _DIGITS)


Mm = Annotated[float, AfterValidator(_to_hundredths)]
Corner = Annotated[Mm, Field(ge=-1.0, le=_MOST_SIDE_MM)]
Side = Annotated[Mm, Field(gt=0.0, le=_MOST_SIDE_MM)]
BoxMm = tuple[Corner, Corner, Side, Side]
FieldId = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*([.-][a-z0-9]+)*$", max_length=60)]
# A label or a word of the form's own print may be as short as one letter, and is not ours to reword.
Print = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
# The order of a date's cells or of its parts, and of an hour meter's cells: h a whole hour, t a tenth.
Pattern = Annotated[str, StringConstraints(pattern=r"^([dmy]{3,8}|h{1,8}t{0,2})$")]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class BlankPicture(_Strict):
    """The picture of the blank form: a grey PNG at 8 px/mm in the template's own folder, and its bytes' SHA-256."""

    file: Annotated[str, StringConstraints(pattern=r"^[^/\\\x00-\x1f]+\.png$", max_length=200)]
    sha256: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


class AdoptedAnswer(_Strict):
    """One answer of a choice or a circle: a tick box, or a printed word to be ringed."""

    answer: Slug
    box_mm: BoxMm


class AdoptedField(_Strict):
    """One thing to fill in, as :class:`scanform.form.Field` has it, without what follows from the other keys.

    ``pattern``: dates and hour meters, what stands in the cells in turn: ``ddmmyyyy``, ``mmddyy``, ``hhhhht``. Of a
    ``date`` without cells it is the order of the parts that the form prints, ``dmy`` or another; empty if it says none.
    """

    id: FieldId
    kind: FieldKind
    label: Annotated[str, StringConstraints(strip_whitespace=True, max_length=200)] = ""
    box_mm: BoxMm | None = None
    cells_mm: tuple[BoxMm, ...] = ()
    answers: tuple[AdoptedAnswer, ...] = ()
    charset: Literal["digits", "alnum", ""] = ""
    pattern: Pattern | Literal[""] = ""

    @model_validator(mode="after")
    def _has_what_its_kind_needs(self) -> AdoptedField:
        needs, has = _NEEDS[self.kind], [key for key in _PLACES if getattr(self, key)]
        if has != [needs]:
            raise ValueError(f"a field of kind '{self.kind.value}' is placed by the key {needs}, and by no other")
        if (self.kind is FieldKind.COMB) != bool(self.charset):
            raise ValueError("a comb says its charset, digits or alnum, and no other kind of field does")
        if len({answer.answer for answer in self.answers}) < len(self.answers):
            raise ValueError("two answers of this field have the same name; give each its own")
        return self


_PLACES = ("box_mm", "cells_mm", "answers")
_NEEDS = dict.fromkeys(FieldKind, "box_mm") | {
    FieldKind.COMB: "cells_mm",
    FieldKind.CHOICE: "answers",
    FieldKind.DECISION: "answers",
    FieldKind.CIRCLE: "answers",
}


class Sign(_Strict):
    """What a sign of the form's legend means. ``sign``: ``tick``, ``cross``, ``dash`` or code letters as printed."""

    sign: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=8)]
    answer: Slug
    words: Annotated[str, StringConstraints(strip_whitespace=True, max_length=80)] = ""


class PrintedWord(_Strict):
    """A word of the form's own print."""

    text: Print
    box_mm: BoxMm


class Rule(_Strict):
    """A printed line from (x1, y1) to (x2, y2)."""

    from_mm: tuple[Mm, Mm]
    to_mm: tuple[Mm, Mm]
    width_mm: Annotated[Mm, Field(gt=0, le=20)] = 0.3


class AdoptedTemplate(Template):
    """A kind of sheet that scanform reads and does not print.

    ``walk`` names its check list, if it has one, in printed order; ``fields`` says where the answers are
    (``item.NAME``, ``item.NAME.DAY``) and everything else that is filled in. ``words`` and ``rules_mm`` are what is
    printed. ``picture_png`` is the picture's bytes, put there by whoever reads the file.
    """

    machines: Prose = "not said on the form"
    walk: tuple[Stage, ...] = ()
    width_mm: Annotated[Mm, Field(ge=_LEAST_SIDE_MM, le=_MOST_SIDE_MM)]
    height_mm: Annotated[Mm, Field(ge=_LEAST_SIDE_MM, le=_MOST_SIDE_MM)]
    picture: BlankPicture
    picture_png: bytes = Field(exclude=True, repr=False)
    fields: tuple[AdoptedField, ...] = Field(min_length=1)
    signs: tuple[Sign, ...] = ()
    words: tuple[PrintedWord, ...] = Field(default=(), repr=False)
    rules_mm: tuple[Rule, ...] = Field(default=(), repr=False)

    @property
    def paper(self) -> Paper:
        """The paper size under which the record files it, the nearer one by shape: its own size is in ``width_mm``."""
        ratio = max(self.width_mm, self.height_mm) / min(self.width_mm, self.height_mm)
        return min(Paper, key=lambda paper: abs(paper.size_mm[1] / paper.size_mm[0] - ratio))

    @model_validator(mode="after")
    def _fields_stand_on_the_page(self) -> AdoptedTemplate:
        seen: set[str] = set()
        names = {item.name for item in self.items}
        for n, field in enumerate(self.fields):
            if field.id in seen:
                raise PydanticCustomError(
                    "field_twice",
                    "field '{id}' stands here twice; keep one",
                    {"id": field.id, "at": ("fields", n, "id")},
                )
            seen.add(field.id)
            box = _whole_box(field)
            if box.right_mm > self.width_mm + 1 or box.bottom_mm > self.height_mm + 1:
                raise PydanticCustomError(
                    "off_page", "field '{id}' lies off the page", {"id": field.id, "at": ("fields", n)}
                )
            if field.id.startswith("item.") and field.id.split(".")[1] not in names:
                raise PydanticCustomError(
                    "no_item",
                    "field '{id}' is for an item that the walk does not have",
                    {"id": field.id, "at": ("fields", n, "id")},
                )
        answered = {field.id.split(".")[1] for field in self.fields if field.id.startswith("item.")}
        missing = next((item.name for item in self.items if item.name not in answered), None)
        if missing is not None:
            raise ValueError(f"item '{missing}' has no field for its answer; add one called item.{missing}")
        return self

    @model_validator(mode="after")
    def _says_nothing_of_printing(self) -> AdoptedTemplate:
        printing = {"unit_cells", "hour_cells", "defect_lines", "rules"} & self.model_fields_set
        if printing:
            raise ValueError(f"key {min(printing)} is for sheets that scanform prints; an adopted form has none")
        return self


def _whole_box(field: AdoptedField) -> Box:
    boxes = [Box(*field.box_mm)] if field.box_mm is not None else []
    boxes += [Box(*cell) for cell in field.cells_mm] + [Box(*answer.box_mm) for answer in field.answers]
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    return whole


def adopted_layout(template: AdoptedTemplate) -> Layout:
    """The template's fields and print as every room takes them: no marks, no code, no serial."""
    critical = {item.name for item in template.items if item.critical}
    return Layout(
        template=template,
        paper=template.paper,
        width_mm=template.width_mm,
        height_mm=template.height_mm,
        fields=tuple(_laid_out(field, critical) for field in template.fields),
        marks=(),
        lines=tuple(Line(*rule.from_mm, *rule.to_mm, rule.width_mm) for rule in template.rules_mm),
        words=tuple(_words(word) for word in template.words),
        polygons=(),
        code_box_mm=_NOWHERE,
        serial_box_mm=_NOWHERE,
        open_lines_mm=(),
        blank_png=template.picture_png,
        signs=tuple((sign.sign, sign.answer) for sign in template.signs),
    )


def _laid_out(field: AdoptedField, critical: set[str]) -> LaidOutField:
    return LaidOutField(
        id=field.id,
        kind=field.kind,
        box_mm=_whole_box(field),
        cells_mm=tuple(Box(*cell) for cell in field.cells_mm),
        charset=field.charset,
        answers=tuple(Answer(answer.answer, Box(*answer.box_mm)) for answer in field.answers),
        label=field.label,
        critical=field.id.startswith("item.") and field.id.split(".")[1] in critical,
        pattern=field.pattern,
    )


def _words(word: PrintedWord) -> Words:
    x, y, _, h = word.box_mm
    return Words(x, y + h * (1 - _BASELINE), word.text, h * _PT_PER_MM)
