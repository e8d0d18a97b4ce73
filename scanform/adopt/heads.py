"""What stands over the columns of a check list: answers, days, and the shifts that a day's columns are parted into."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from scanform.adopt.answers import Says, answer_by_sense, day_of, week_of
from scanform.adopt.found import FoundWord, phrases, text_of, whole_lines
from scanform.adopt.label_sense import sense_of
from scanform.adopt.labels import asked_by, guessed_by
from scanform.adopt.places import Column, inside
from scanform.form import DAYS, Box

__all__ = ["OCCASION", "Head", "answered_columns", "cell_round", "heads_of", "takes_either_sign"]

_HEAD_ABOVE_MM = 11.0  # from the first place up to the middle of its column's head, where no cell holds it
_LONGEST_HEAD = 24
# Words for when a box is signed, "07:30", "before", "2nd shift"; common wording of check sheets.
OCCASION = re.compile(
    r"\d|\b(am|pm|a\.m|p\.m|early|late|day|days|night|nights|morning|noon|afternoon|evening|before|after|start|"
    r"begin|beginning|end|finish|first|second|third|out|in|back|return|opening|closing|pre|post)\b",
    re.IGNORECASE,
)
# "Tick or cross", drawn or in words, over places that take either.
_TICK_AND_CROSS = re.compile(
    r"(\u2713|\u2714|\u221a|\btick\b|\bok\b)\s*(/|or|&|,)\s*(x\b|\u2717|\u2718|\u00d7|cross\b)", re.IGNORECASE
)
_ON_LINE_MM = 1.4  # by which the middles of one line's words differ at most
_TOUCH_MM = 1.0
_CLIMB_MM = 30.0  # over a part's heading, up to the heads of the table
_MOST_SPREAD = 4.0  # columns under one heading of a part
_WIDER = 1.25
_WEEK, _MONTH, _MOST_PARTS = 7, (28, 31), 3
_FEWEST_ANSWERS = 2


@dataclass(frozen=True)
class Head:
    """``text``: an answer or a day, or what nobody knows. ``part``: which of a day's columns, "" if it has one.

    ``words``: all that is printed over the column. ``day``: ``mon`` to ``sun``, ``1`` to ``31``, or empty.
    ``means``: the answer that it says, if any; ``guessed`` if by the sense of its words only.
    """

    text: str = ""
    words: tuple[FoundWord, ...] = ()
    day: str = ""
    part: str = ""
    means: str = ""
    guessed: bool = False

    @property
    def known(self) -> bool:
        """Whether it says an answer or a day."""
        return bool(self.day or self.means or day_of(self.text))


def heads_of(
    columns: Sequence[Column], words: Sequence[FoundWord], cells: Sequence[Box], says: Says
) -> dict[int, Head]:
    """Every column's head by the column's ``id``."""
    heads: dict[int, Head] = {}
    for table in _tables(columns):
        # A number over the columns of a month is a day; over other boxes it is an item's, printed above them.
        others = [column.x_mm for column in columns]
        free = words if len(table) >= _MONTH[0] else [w for w in words if not w.text.strip(".)(").isdecimal()]
        own = {
            id(column): _head(column, words, cells, says) or _line_above(column, free, others, says) for column in table
        }
        heads |= own | _days_in_turn(table, own)
    heads |= _between_answers(columns, heads, words)
    return heads | _weeks_apart(columns, words)


def _between_answers(columns: Sequence[Column], heads: dict[int, Head], words: Sequence[FoundWord]) -> dict[int, Head]:
    """Heads of columns without one that stand on a line with the answers over two of the columns beside them: a word
    among answers is an answer too, known or not.
    """
    found: dict[int, Head] = {}
    for column in columns:
        if heads[id(column)].words:
            continue
        top = column.cells[0].y_mm
        beside = [heads[id(c)] for c in columns if abs(c.cells[0].y_mm - top) < _TOUCH_MM and heads[id(c)].means]
        levels = [word.box_mm.centre_mm[1] for head in beside for word in head.words]
        over = _words_over(column, words, [c.x_mm for c in columns])
        line = [w for w in over if any(abs(w.box_mm.centre_mm[1] - level) < _ON_LINE_MM / 2 for level in levels)]
        if line and len({head.means for head in beside}) >= _FEWEST_ANSWERS:
            found[id(column)] = Head(text_of(line), tuple(line))
    return found


def takes_either_sign(text: str) -> bool:
    """Whether a head says that a tick or a cross goes into its places: "\u2713 / X", "tick or cross"."""
    return _TICK_AND_CROSS.search(text) is not None


def answered_columns(columns: Sequence[Column], heads: dict[int, Head]) -> list[Column]:
    """Without columns of a table that ask for words: beside those of two answers or of days, wider or headed so."""
    kept = []
    for table in _tables(columns):
        signed = [c for c in table if takes_either_sign(heads[id(c)].text)]
        if signed:
            kept += signed  # beside places for either sign, what is headed "Fault" is told in words
            continue
        known = [c for c in table if heads[id(c)].known]
        if len({heads[id(c)].means or heads[id(c)].day for c in known}) < 2:
            kept += table
            continue
        wide = _WIDER * max(c.cells[0].w_mm for c in known)
        first, last = table.index(known[0]), table.index(known[-1])
        for n, column in enumerate(table):
            asks = _asks(heads[id(column)].text) and not first < n < last  # "Watch" between OK and Defect
            if column in known or not (asks or _of_words(column, heads, wide)):
                kept.append(column)
    return [column for column in columns if any(column is c for c in kept)]


def _asks(text: str) -> bool:
    return asked_by(text) is not None or guessed_by(text) is not None or sense_of(text) is not None


def _of_words(column: Column, heads: dict[int, Head], wide_mm: float) -> bool:
    return bool(heads[id(column)].words) and column.cells[0].w_mm > wide_mm


def _said(words: Sequence[FoundWord], says: Says) -> Head | None:
    """The head that these words are if they say an answer or a day: all of them, or one of their lines or languages."""
    if takes_either_sign(text_of(words)):
        return Head(text_of(words), tuple(words))  # one place for either sign
    texts = [text_of(words), *(line.text for line in whole_lines(words)), *text_of(words).split("/")]
    for text in texts:
        means = says(text)
        if means is not None or day_of(text) is not None:
            return Head(text, tuple(words), means=means or "")
    asks = sense_of(text_of(words))
    sense = answer_by_sense(text_of(words)) if asks is None or asks[0] == "remarks" else None
    return Head(text_of(words), tuple(words), means=sense, guessed=True) if sense is not None else None


def _head(column: Column, words: Sequence[FoundWord], cells: Sequence[Box], says: Says) -> Head | None:
    """The words in the cells on top of the column; None if no cell holds its head."""
    top = cell_round(column.cells[0], cells)
    over = _cells_over(top, words, cells)
    narrow = [found for cell, found in over if cell.w_mm < top.w_mm * 1.5 + 2]
    told = next((head for found in narrow if (head := _said(found, says)) is not None), None)
    if told is not None:
        wide = [(cell, found) for cell, found in over if found not in narrow and cell.w_mm < _MOST_SPREAD * top.w_mm]
        part = wide[0][1] if wide and told.means and _parts_a_row(wide[0][0], cells, words) else []
        return replace(told, words=(*told.words, *part), part=text_of(part))
    first = narrow[0] if narrow else None
    spread = next((found for cell, found in over if found is not first and day_of(text_of(found)) is not None), None)
    if spread is not None:
        return Head(text_of(spread), (*spread, *(first or ())), part=text_of(first or ()))
    return Head(text_of(first), tuple(first)) if first else None


def cell_round(place: Box, cells: Sequence[Box]) -> Box:
    """The smallest cell of a table that a box is printed in; the box itself if there is none."""
    round_it = [c for c in cells if c is not place and c.grown(0.1).contains(place) and c.h_mm < 3 * place.h_mm + 3]
    return min(round_it, key=lambda c: c.w_mm * c.h_mm, default=place)


def _parts_a_row(cell: Box, cells: Sequence[Box], words: Sequence[FoundWord]) -> bool:
    """Whether another heading as wide stands beside this one: "Out" over two columns, "Back" over the next two."""
    return any(
        abs(other.y_mm - cell.y_mm) < _TOUCH_MM
        and abs(other.w_mm - cell.w_mm) < 2 * _TOUCH_MM
        and min(abs(other.x_mm - cell.right_mm), abs(other.right_mm - cell.x_mm)) < _TOUCH_MM
        and inside(other, words)
        for other in cells
    )


def _cells_over(first: Box, words: Sequence[FoundWord], cells: Sequence[Box]) -> list[tuple[Box, list[FoundWord]]]:
    """Cells with words that stand on the first one and on each other, from the lowest: its head, headings of parts."""
    top = first.y_mm
    found: list[tuple[Box, list[FoundWord]]] = []
    level = top
    while top - level < _CLIMB_MM:
        over = [
            (cell, held)
            for cell in cells
            if abs(cell.bottom_mm - level) < _TOUCH_MM
            and cell.h_mm > _TOUCH_MM
            and cell.x_mm - 1 < first.centre_mm[0] < cell.right_mm + 1
            and (held := inside(cell, words))
        ]
        if not over:
            break
        lowest = min(over, key=lambda pair: pair[0].w_mm)
        found.append(lowest)
        level = lowest[0].y_mm
    return found


def _line_above(column: Column, words: Sequence[FoundWord], columns_x_mm: Sequence[float], says: Says) -> Head:
    """The print right above the column if one of its lines says something known, else the lowest line.

    ``columns_x_mm``: the middles of all columns.
    """
    above = _words_over(column, words, columns_x_mm)
    if not above:
        return Head()
    head = _lowest_line(above)
    known = _said(head, says) or _said(above, says)
    if known is not None:
        return known
    # With no lines round them, words above may be about anything.
    return Head(text_of(head), tuple(head)) if OCCASION.search(text_of(head)) else Head()


def _words_over(column: Column, words: Sequence[FoundWord], columns_x_mm: Sequence[float]) -> list[FoundWord]:
    """The words over the middle of the column's first place, and what else is in a phrase over no other column."""
    top, x = column.cells[0], column.x_mm
    reach = max(top.w_mm / 2, 3.5)
    high = [
        w for w in words if -0.5 < top.y_mm - w.box_mm.centre_mm[1] < _HEAD_ABOVE_MM and len(w.text) <= _LONGEST_HEAD
    ]
    whole = []
    for phrase in phrases(high):
        left, right = phrase.box_mm.x_mm - _TOUCH_MM, phrase.box_mm.right_mm + _TOUCH_MM
        alone = not any(left < other < right for other in columns_x_mm if abs(other - x) > _TOUCH_MM)
        if alone and left < x < right and len(phrase.text) <= _LONGEST_HEAD:
            whole.append(phrase.box_mm.grown(0.01))
    return [w for w in high if abs(w.box_mm.centre_mm[0] - x) < reach or any(b.contains(w.box_mm) for b in whole)]


def _lowest_line(words: Sequence[FoundWord]) -> list[FoundWord]:
    lowest = max(w.box_mm.centre_mm[1] for w in words)
    return [w for w in words if lowest - w.box_mm.centre_mm[1] < _ON_LINE_MM]


def _weeks_apart(columns: Sequence[Column], words: Sequence[FoundWord]) -> dict[int, Head]:
    """Heads of columns that do not touch, five to seven in a row under the first letters of days."""
    found: dict[int, Head] = {}
    rows: list[list[Column]] = []
    for column in sorted(columns, key=lambda c: c.x_mm):
        top = column.cells[0]
        row = next((r for r in rows if abs(r[0].cells[0].y_mm - top.y_mm) < _TOUCH_MM
                    and abs(r[0].cells[0].w_mm - top.w_mm) < _TOUCH_MM), None)  # fmt: skip
        if row is None:
            rows.append([column])
        else:
            row.append(column)
    for row in rows:
        xs = [column.x_mm for column in row]
        over = [_words_over(column, words, xs) for column in row]
        lines = [_lowest_line(held) if held else [] for held in over]
        week = week_of([text_of(line) for line in lines])
        for column, line, day in zip(row, lines, week, strict=False):
            found[id(column)] = Head(text_of(line), tuple(line), day=day)
    return found


def _days_in_turn(table: Sequence[Column], heads: dict[int, Head]) -> dict[int, Head]:
    """Heads of columns side by side that are a week or a month, days filled in: small heads are often misread.

    A month's columns are 28 to 31, a week's seven, or as many shifts to each of its days; at least two heads, and more
    than half of those that say a day at all, must agree on where it begins.
    """
    week = week_of([heads[id(column)].text for column in table])
    if week:
        return {id(c): replace(heads[id(c)], day=day, means="") for c, day in zip(table, week, strict=True)}
    parts = len(table) // _WEEK if len(table) % _WEEK == 0 and len(table) // _WEEK <= _MOST_PARTS else 1
    if len(table) == _WEEK * parts:
        names: Sequence[str] = DAYS
    elif _MONTH[0] <= len(table) <= _MONTH[1]:
        names = [str(day) for day in range(1, len(table) + 1)]
    else:
        return {}
    said = [day_of(heads[id(column)].text) for column in table]
    known = [(n, names.index(day)) for n, day in enumerate(said) if day in names]
    starts = Counter((place - n // parts) % len(names) for n, place in known)
    (start, votes), *_ = starts.most_common(1) or [(0, 0)]
    if votes < 2 or votes <= len(known) / 2:
        return {}
    shifts = [_said_most([heads[id(c)].part for c in table[k::parts]]) or str(k + 1) for k in range(parts)]
    return {
        id(column): replace(
            heads[id(column)],
            day=names[(n // parts + start) % len(names)],
            part=shifts[n % parts] if parts > 1 else "",
        )
        for n, column in enumerate(table)
    }


def _said_most(texts: Sequence[str]) -> str:
    (text, _), *_ = Counter(text for text in texts if text).most_common(1) or [("", 0)]
    return text


def _tables(columns: Sequence[Column]) -> list[list[Column]]:
    """Columns that begin at one height and touch, left to right."""
    tables: list[list[Column]] = []
    for column in sorted(columns, key=lambda c: c.x_mm):
        top = column.cells[0]
        for table in tables:
            last = table[-1].cells[0]
            if abs(last.y_mm - top.y_mm) < _TOUCH_MM and abs(top.x_mm - last.right_mm) < _TOUCH_MM:
                table.append(column)
                break
        else:
            tables.append([column])
    return tables
