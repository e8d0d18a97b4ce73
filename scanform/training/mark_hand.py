"""A hand that fills a page's tick boxes for the box network to learn from: answers, second thoughts, dirt."""

from __future__ import annotations

import numpy as np

from scanform.form import Box, Field, FieldKind, Layout
from scanform.simulate import (
    ANSWER_MARKS,
    DIRT,
    MARKS,
    NON_MARKS,
    ODD_MARKS,
    ODD_STRIKES,
    STRIKES,
    Pen,
    Writer,
    draw,
    draw_mark,
    random_pen,
    random_writer,
    strike_out,
)
from scanform.simulate.sheet import answer_mark
from scanform.training.mark_shapes import PLAIN_DIRT, PLAIN_MARKS, PLAIN_STRIKES, draw_plain

__all__ = ["EMPTY_KINDS", "GROUPS", "KINDS", "Hand", "states_of"]

# What a box holds, for the reports; the state follows from it. New kinds go to the end: stored pages hold the numbers.
KINDS = (
    "nothing",
    *NON_MARKS,
    *PLAIN_DIRT,
    "another box's mark",
    *MARKS,
    *PLAIN_MARKS,
    "run down",
    *STRIKES,
    *PLAIN_STRIKES,
    *DIRT,
    "line beside",
    *ODD_MARKS,
    *ODD_STRIKES,
)
EMPTY_KINDS = tuple(
    KINDS.index(kind) for kind in (*NON_MARKS, *PLAIN_DIRT, *DIRT, "nothing", "another box's mark", "line beside")
)
_STRUCK_KINDS = tuple(KINDS.index(kind) for kind in (*STRIKES, *PLAIN_STRIKES, *ODD_STRIKES))
# Shares of groups with no mark, one mark, one taken back and another made, two marks, one taken back and none made.
GROUPS = {
    "everyday": (0.02, 0.943, 0.02, 0.012, 0.005),
    "trouble": (0.10, 0.44, 0.26, 0.10, 0.10),
    "odd": (0.15, 0.45, 0.15, 0.08, 0.17),
}
_COLUMNS = {"everyday": 0.02, "trouble": 0.12, "odd": 0.3}  # share of pages with a line drawn down a column
_DIRTY = {"everyday": 0.01, "trouble": 0.2, "odd": 0.25}  # share of boxes


def states_of(kinds: np.ndarray) -> np.ndarray:
    """States int8 (n,), index in BOX_STATES, of int (n,) kinds."""
    return np.where(np.isin(kinds, EMPTY_KINDS), 0, np.where(np.isin(kinds, _STRUCK_KINDS), 2, 1)).astype(np.int8)


_SHARE_UNREPAIRED = 0.85  # of the workshop's decisions: most defect lines are empty


class Hand:
    """Marks the boxes of one page and keeps what each holds."""

    def __init__(self, page: np.ndarray, plain: float, groups: str, faces: str, rng: np.random.Generator) -> None:
        """``plain``: share of shapes not drawn by the simulator; ``groups``, ``faces``: see GROUPS and FACES."""
        self.page, self.plain, self.groups, self.faces, self.rng = page, plain, groups, faces, rng
        self.writer: Writer = random_writer(rng)
        self.kinds: dict[Box, int] = {}

    def pen(self) -> Pen:
        """The writer's own pen mostly."""
        return self.writer.pen if self.rng.random() < 0.6 else random_pen(self.rng)

    def _shape(self, box: Box, shapes: dict) -> str:
        shares = np.array([share for share, _ in shapes.values()])
        kind = str(self.rng.choice(list(shapes), p=shares / shares.sum()))
        draw_plain(self.page, box, kind, self.rng, self.faces)
        return kind

    def mark(self, box: Box) -> str:
        """Make one mark."""
        if self.rng.random() < self.plain:
            return self._shape(box, PLAIN_MARKS)
        if self.groups == "everyday":
            kind = answer_mark(self.writer, self.rng)
        elif self.groups == "odd" and self.rng.random() < 0.6:
            kind = str(self.rng.choice(ODD_MARKS))
        elif self.rng.random() < 0.5:
            kind = str(self.rng.choice(MARKS))
        else:
            shares = np.array(list(ANSWER_MARKS.values()))
            kind = str(self.rng.choice(list(ANSWER_MARKS), p=shares / shares.sum()))
        draw_mark(self.page, box, kind, self.pen(), self.rng)
        return kind

    def strike(self, box: Box) -> str:
        """Make a mark and take it back."""
        self.mark(box)
        if self.rng.random() < self.plain:
            return self._shape(box, PLAIN_STRIKES)
        how = str(self.rng.choice((*STRIKES, *ODD_STRIKES) if self.groups == "odd" else STRIKES))
        strike_out(self.page, box, how, self.pen(), self.rng)
        return how

    def dirt(self, box: Box) -> str:
        """Ink or dirt that answers nothing."""
        if self.rng.random() < max(self.plain, 0.3):
            return self._shape(box, PLAIN_DIRT)
        kind = str(self.rng.choice((*NON_MARKS, *DIRT) if self.groups == "odd" else NON_MARKS))
        draw_mark(self.page, box, kind, self.pen(), self.rng)
        return kind

    def group(self, field: Field) -> None:
        """All boxes of one field."""
        boxes = [field.answers[k].box_mm for k in self.rng.permutation(len(field.answers))]
        everyday = self.groups == "everyday"
        if everyday and field.id.endswith(".repair") and self.rng.random() < _SHARE_UNREPAIRED:
            self.kinds.update(dict.fromkeys(boxes, 0))
            return
        if everyday and field.kind is FieldKind.CHOICE and self.rng.random() < 0.6:
            boxes.sort(key=lambda box: box.x_mm)  # OK comes first and is the usual answer
        marks, strikes = ((0, 0), (1, 0), (1, 1), (2, 0), (0, 1))[
            self.rng.choice(5, p=np.array(GROUPS[self.groups]) / sum(GROUPS[self.groups]))
        ]
        for n, box in enumerate(boxes):
            if n < marks:
                kind = self.mark(box)
            elif n < marks + strikes:
                kind = self.strike(box)
            elif self.rng.random() < _DIRTY[self.groups]:
                kind = self.dirt(box)
            else:
                kind = "nothing"
            self.kinds[box] = KINDS.index(kind)

    def run_down(self, fields: list[Field]) -> None:
        """One line down a column instead of a mark in each box; on odd pages it may miss the boxes."""
        column = int(self.rng.integers(3))
        boxes = [field.answers[column].box_mm for field in fields]
        x = boxes[0].centre_mm[0]
        y = np.linspace(boxes[0].y_mm + self.rng.uniform(0, 2), boxes[-1].bottom_mm - self.rng.uniform(0, 2), 12)
        path = np.column_stack([x + np.cumsum(self.rng.normal(0, 0.15, 12)) + self.rng.normal(0, 0.5), y])
        path[:, 0] = np.clip(path[:, 0], x - 1.8, x + 1.8)
        missed = self.groups == "odd" and self.rng.random() < 0.3
        if missed:  # from 0.4 mm outside the box to the middle between two columns
            path[:, 0] += self.rng.choice([-1.0, 1.0]) * (self.rng.uniform(3.0, 4.2)) + (x - path[:, 0]) * 0.9
        draw(self.page, [path], self.pen(), self.rng)
        for field in fields:
            for answer in field.answers:
                kind = ("line beside" if missed else "run down") if answer.box_mm in boxes else "nothing"
                self.kinds[answer.box_mm] = KINDS.index(kind)

    def fields(self, layout: Layout) -> None:
        """All groups of the sheet."""
        groups = [f for f in layout.fields if f.answers]
        choices = [f for f in groups if f.kind is FieldKind.CHOICE]
        column: list[Field] = []
        if self.rng.random() < _COLUMNS[self.groups]:
            start = int(self.rng.integers(len(choices) - 3))
            column = choices[start : start + int(self.rng.integers(3, 9))]
            column = [f for f in column if f.answers[0].box_mm.x_mm == column[0].answers[0].box_mm.x_mm]
        for f in groups:
            if f not in column:
                self.group(f)
        if column:
            self.run_down(column)
