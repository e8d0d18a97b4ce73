"""The drawing board: where the engine's blocks put fields and artwork, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass, field

from scanform.errors import LayoutError
from scanform.form.geometry import Box
from scanform.form.layout import Answer, Field, FieldKind, Line, Polygon, Words
from scanform.form.typeface import unprintable, width_mm

__all__ = ["BORDER_GREY", "BORDER_MM", "CELL_H_MM", "CELL_W_MM", "Board"]

CELL_W_MM = 6.2  # room for a hand-printed capital in gloves
CELL_H_MM = 8.0
BORDER_MM = 0.3
# Dark enough to survive a bitonal scan's threshold, lighter than any pen: borders are told from ink by place anyway.
BORDER_GREY = 0.25
LABEL_PT = 6.5


@dataclass
class Board:
    """Collects what the blocks draw. Content lies between ``left_mm`` and ``right_mm``."""

    template_name: str
    left_mm: float
    right_mm: float
    fields: list[Field] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    polygons: list[Polygon] = field(default_factory=list)

    @property
    def width_mm(self) -> float:
        """Width of the content."""
        return self.right_mm - self.left_mm

    def rule(
        self, x1: float, y1: float, x2: float, y2: float, width: float = BORDER_MM, grey: float = BORDER_GREY
    ) -> None:
        """A straight printed line."""
        self.lines.append(Line(x1, y1, x2, y2, width, grey))

    def frame(self, box: Box) -> None:
        """The four border lines of a box, centred on its edges."""
        self.rule(box.x_mm, box.y_mm, box.right_mm, box.y_mm)
        self.rule(box.right_mm, box.y_mm, box.right_mm, box.bottom_mm)
        self.rule(box.right_mm, box.bottom_mm, box.x_mm, box.bottom_mm)
        self.rule(box.x_mm, box.bottom_mm, box.x_mm, box.y_mm)

    def print_line(self, x: float, baseline: float, text: str, size_pt: float, room: float, bold: bool = False) -> None:
        """A line of print that must fit in ``room`` mm; shrunk by up to a fifth if need be, refused beyond that."""
        if missing := unprintable(text):
            shown = " ".join(text.split())
            raise LayoutError(
                f"Template '{self.template_name}': the typeface cannot print {missing[0]!r} in '{shown}'; "
                "write it with Latin letters."
            )
        need = width_mm(text, size_pt, bold)
        if need > room:
            size_pt *= room / need
            if room / need < 0.8:
                raise LayoutError(
                    f"Template '{self.template_name}': '{text}' is {need:.0f} mm wide and there are "
                    f"{room:.0f} mm; shorten it."
                )
        self.words.append(Words(x, baseline, text, size_pt, bold))

    def print_centred(self, x: float, baseline: float, text: str, size_pt: float, bold: bool = False) -> None:
        """A line of print centred on ``x``."""
        self.words.append(Words(x - width_mm(text, size_pt, bold) / 2, baseline, text, size_pt, bold))

    def comb(
        self,
        field_id: str,
        charset: str,
        x: float,
        y: float,
        groups: tuple[int, ...],
        gap: float,
        *,
        height_mm: float = CELL_H_MM,
        label: str = "",
        point: bool = False,
    ) -> float:
        """A row of cells in groups with a gap between them; returns the x where it ends.

        ``point`` prints a decimal point in the last gap, low down, where a writer would put it.
        """
        cells: list[Box] = []
        if label:
            self.print_line(x, y - 0.8, label, LABEL_PT, CELL_W_MM * sum(groups) + gap * (len(groups) - 1))
        for n, size in enumerate(groups):
            if n and point:
                self.polygons.append(_square(x - gap / 2, y + height_mm - 0.9, 0.9))
            group = [Box(x + CELL_W_MM * i, y, CELL_W_MM, height_mm) for i in range(size)]
            outline = Box(x, y, CELL_W_MM * size, height_mm)
            self.frame(outline)
            for cell in group[1:]:
                self.rule(cell.x_mm, y, cell.x_mm, y + height_mm)
            cells += group
            x = outline.right_mm + gap
        self.fields.append(
            Field(field_id, FieldKind.COMB, _around(cells), cells_mm=tuple(cells), charset=charset, label=label)
        )
        return x - gap

    def writing_box(self, field_id: str, kind: FieldKind, box: Box, label: str) -> None:
        """A framed zone for free handwriting, its label above."""
        self.frame(box)
        if label:
            self.print_line(box.x_mm, box.y_mm - 0.8, label, LABEL_PT, box.w_mm)
        self.fields.append(Field(field_id, kind, box, label=label))

    def tick_boxes(
        self,
        field_id: str,
        kind: FieldKind,
        boxes: list[tuple[str, Box]],
        *,
        label: str = "",
        critical: bool = False,
    ) -> None:
        """One framed box per answer."""
        for _, box in boxes:
            self.frame(box)
        self.fields.append(
            Field(
                field_id,
                kind,
                _around([box for _, box in boxes]),
                answers=tuple(Answer(answer, box) for answer, box in boxes),
                label=label,
                critical=critical,
            )
        )

    def sign_box(self, field_id: str, box: Box, *, label: str, critical: bool) -> None:
        """One framed box for a written sign."""
        self.frame(box)
        self.fields.append(Field(field_id, FieldKind.MARK, box, label=label, critical=critical))

    def diamond(self, x: float, y: float, reach: float) -> None:
        """The sign of a safety-critical item: a solid diamond centred on (x, y)."""
        self.polygons.append(Polygon(((x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y))))


def _square(x: float, y: float, side: float) -> Polygon:
    half = side / 2
    return Polygon(((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)))


def _around(boxes: list[Box]) -> Box:
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    return whole
