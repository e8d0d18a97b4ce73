"""Tables on the terminal: whole where there is room, a block a row where there is not.

A unit, a meter reading or a date cut off at the edge of a narrow terminal is worse than a longer list.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rich.cells import cell_len
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from scanform.cli.options import console

__all__ = ["Column", "show_table"]

_LEAST_WORDS = 16  # characters a line at which a column of words can still be read
_BETWEEN = 3  # between two columns: a line with a space on both sides
_INDENT = 2


class Column(NamedTuple):
    """One column. ``names``: what tells a row from the others. ``words``: may take several lines; all else stays whole.
    ``number``: stands to the right.
    """

    heading: str
    names: bool = False
    words: bool = False
    number: bool = False


def show_table(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], title: str | None = None, out: Console = console
) -> None:
    """Print rows of cells. A row's first cell, if it has no heading, is a warning and stands out."""
    if _room_for(columns, rows) <= out.width:
        out.print(_table(columns, rows, title))
        return
    if title is not None:
        out.print(Text(title, style="italic"))
    for row in rows:
        _show_block(columns, row, out)


def _room_for(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> int:
    widths = [_widest(column, [row[n] for row in rows]) for n, column in enumerate(columns)]
    return sum(widths) + _BETWEEN * (len(columns) - 1)


def _widest(column: Column, cells: Sequence[str]) -> int:
    lines = [line for cell in (column.heading, *cells) for line in (cell.split("\n"))]
    widest = max(cell_len(line) for line in lines)
    return min(widest, max(_LEAST_WORDS, cell_len(column.heading))) if column.words else widest


def _table(columns: Sequence[Column], rows: Sequence[Sequence[str]], title: str | None) -> Table:
    table = Table(title=title, title_justify="left", show_edge=False, pad_edge=False)
    for n, column in enumerate(columns):
        table.add_column(
            column.heading,
            overflow="fold",
            no_wrap=not column.words,
            min_width=_widest(column, [row[n] for row in rows]),
            justify="right" if column.number else "left",
            style="bold" if not column.heading else None,
        )
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def _show_block(columns: Sequence[Column], row: Sequence[str], out: Console) -> None:
    cells = [(column, cell) for column, cell in zip(columns, row, strict=True) if cell]
    out.print(Text("  ".join(cell for column, cell in cells if _leads(column)), style="bold"))
    short = [f"{column.heading} {cell}" for column, cell in cells if not _leads(column) and not column.words]
    words = [f"{column.heading}: {cell}" for column, cell in cells if column.words]
    for paragraph in (*_in_lines(short, out.width - _INDENT), *words):
        out.print(Padding(Text(paragraph), (0, 0, 0, _INDENT)))


def _in_lines(parts: Sequence[str], width: int) -> list[str]:
    """The parts beside each other as far as there is room, none of them broken."""
    lines: list[str] = []
    for part in parts:
        if lines and cell_len(f"{lines[-1]}; {part}") <= width:
            lines[-1] += f"; {part}"
        else:
            lines.append(part)
    return lines


def _leads(column: Column) -> bool:
    return column.names or not column.heading
