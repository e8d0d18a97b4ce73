"""Cells of a table whose upright lines were lost on the way: the rows and the columns above them say where they are."""

from __future__ import annotations

from collections.abc import Sequence

from scanform.adopt.found import FoundPrint
from scanform.adopt.places import Column, columns_of, inside
from scanform.form import Box

__all__ = ["completed"]

_TOUCH_MM = 1.0
_RULE_NEAR_MM = 0.8
_RULED = 0.8  # of a cell's width must have a level line over and under it
_LIKE_ROW = 0.35  # by how much a row may be higher or lower than those above it


def completed(found: FoundPrint, cells: Sequence[Box]) -> list[Box]:
    """The cells, and those that a table must have: right of a cell in the row, under the cells of a column.

    Nothing is added where print stands or other cells are, nor where no level lines are over and under it.
    """
    made = list(cells)
    columns = sorted(columns_of(cells, found.words), key=lambda c: c.x_mm)
    for left, column in ((a, b) for a in columns for b in columns if _touch(a, b)):
        lower = [cell for cell in _rows_of(left, made) if cell.y_mm > column.cells[-1].bottom_mm - _TOUCH_MM]
        for beside in lower:
            last = column.cells[-1]
            cell = Box(last.x_mm, beside.y_mm, last.w_mm, beside.h_mm)
            if abs(cell.h_mm - last.h_mm) > _LIKE_ROW * last.h_mm or not _free(cell, made, found):
                break
            made.append(cell)
    return made


def _touch(left: Column, right: Column) -> bool:
    a, b = left.cells[0], right.cells[0]
    return abs(a.right_mm - b.x_mm) < _TOUCH_MM and a.y_mm < b.y_mm + _TOUCH_MM < left.cells[-1].bottom_mm


def _rows_of(column: Column, cells: Sequence[Box]) -> list[Box]:
    """The column's cells and those that were added under it, from the top."""
    first = column.cells[0]
    return sorted(
        (c for c in cells if abs(c.x_mm - first.x_mm) < _TOUCH_MM and abs(c.w_mm - first.w_mm) < _TOUCH_MM),
        key=lambda c: c.y_mm,
    )


def _free(cell: Box, cells: Sequence[Box], found: FoundPrint) -> bool:
    inner = cell.grown(-_TOUCH_MM)
    if inside(cell, found.words) or any(inner.overlaps(other) for other in cells):
        return False
    return all(_ruled(cell, y, found) for y in (cell.y_mm, cell.bottom_mm))


def _ruled(cell: Box, y: float, found: FoundPrint) -> bool:
    near = [rule.box_mm for rule in found.rules if abs(rule.box_mm.centre_mm[1] - y) < _RULE_NEAR_MM]
    covered = sum(max(0.0, min(r.right_mm, cell.right_mm) - max(r.x_mm, cell.x_mm)) for r in near)
    return covered >= _RULED * cell.w_mm
