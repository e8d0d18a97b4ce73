"""What a laid-out sheet is: fields, marks and artwork in millimetres. Made by :mod:`scanform.form.engine`."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from scanform.form.geometry import Box
from scanform.form.template import Template

__all__ = ["Answer", "Field", "FieldKind", "Layout", "Line", "Mark", "Paper", "Polygon", "Words"]


class Paper(StrEnum):
    """Paper sizes the engine lays out for."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height. ISO 216 for A4; 8.5 x 11 in for US Letter."""
        return {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}[self]


class FieldKind(StrEnum):
    """What a field holds, and so how it is read."""

    COMB = "comb"
    CHOICE = "choice"
    DECISION = "decision"
    MARK = "mark"
    TEXT = "text"
    SIGNATURE = "signature"
    # On adopted forms only: what our own sheets have cells or boxes for.
    DATE = "date"
    NUMBER = "number"
    CIRCLE = "circle"


@dataclass(frozen=True)
class Answer:
    """One tick box of a choice or decision, or one printed word of a circle."""

    answer: str
    box_mm: Box


@dataclass(frozen=True)
class Field:
    """One thing to fill in.

    ``cells_mm`` is set for combs, ``answers`` for choices and decisions, ``box_mm`` always: the area that
    belongs to the field (for combs and choices the union of their cells or boxes).
    ``charset`` is ``"digits"`` or ``"alnum"`` for combs, empty otherwise. ``pattern``: adopted forms only, the order in
    which a date's or an hour meter's characters stand (:class:`scanform.form.adopted.AdoptedField`).
    """

    id: str
    kind: FieldKind
    box_mm: Box
    cells_mm: tuple[Box, ...] = ()
    charset: str = ""
    answers: tuple[Answer, ...] = ()
    label: str = ""
    critical: bool = False
    pattern: str = ""


@dataclass(frozen=True)
class Line:
    """A printed rule from (x1, y1) to (x2, y2)."""

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    width_mm: float
    grey: float = 0.0  # 0 black, 1 white


@dataclass(frozen=True)
class Words:
    """A line of print; (x, y) is the left end of its baseline, in mm from the top left."""

    x_mm: float
    y_mm: float
    text: str
    size_pt: float
    bold: bool = False
    grey: float = 0.0


@dataclass(frozen=True)
class Polygon:
    """A filled shape: corner points in mm, clockwise."""

    points_mm: tuple[tuple[float, float], ...]
    grey: float = 0.0


@dataclass(frozen=True)
class Mark:
    """A registration mark: an ArUco marker (DICT_4X4_50) with its identity; ``box_mm`` is the black square."""

    identity: int
    box_mm: Box


@dataclass(frozen=True)
class Layout:
    """A template laid out on one paper size.

    Of an adopted form there are no marks, and the boxes of code and serial have no size; ``blank_png`` is the picture
    of its blank (grey, 8 px/mm, empty for sheets that scanform prints itself) and ``signs`` what its legend says of
    signs: (sign, answer).
    """

    template: Template
    paper: Paper
    width_mm: float
    height_mm: float
    fields: tuple[Field, ...]
    marks: tuple[Mark, ...]
    lines: tuple[Line, ...]
    words: tuple[Words, ...]
    polygons: tuple[Polygon, ...]
    code_box_mm: Box  # the QR symbol without its quiet zone
    serial_box_mm: Box  # the same in plain characters
    open_lines_mm: tuple[Box, ...]  # room for "still open on this unit", one box a line
    day_heads_mm: tuple[Box, ...] = ()  # sheets of a week: room for each day's date, Monday first
    blank_png: bytes = field(default=b"", repr=False)
    signs: tuple[tuple[str, str], ...] = ()

    def field(self, field_id: str) -> Field:
        """The field with that id; KeyError if the sheet has none."""
        for candidate in self.fields:
            if candidate.id == field_id:
                return candidate
        raise KeyError(field_id)
