"""The check list of a form: its items' words, and where each is answered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from scanform.adopt.answers import answer_of, day_of
from scanform.adopt.found import FoundWord, text_of
from scanform.adopt.labels import asked_by
from scanform.adopt.places import Column, inside
from scanform.form import DAYS, Box

__all__ = ["CheckList", "DayRow", "ListedItem", "Place", "check_list"]

_HEAD_ABOVE_MM = 11.0  # from the first place up to the middle of its column's head
_BESIDE_MM = 4.5  # from a box to the word that says what ticking it means
_ON_ROW_MM = 1.4  # by which the middles of one row differ at most
_LONGEST_HEAD = 24
_FEWEST_ROWS = 3
_FEWEST_CIRCLED = 4
_SAME_X_MM = 1.6


@dataclass(frozen=True)
class Place:
    """One place to answer in. ``means``: an answer, ``mon`` to ``sun``, ``1`` to ``31``, or empty for a sign."""

    box_mm: Box
    means: str
    how: Literal["box", "word"] = "box"


@dataclass(frozen=True)
class ListedItem:
    """One item in print. ``words``: those that make its text. ``sure``: 0 to 1."""

    text: str
    places: tuple[Place, ...]
    words: tuple[FoundWord, ...]
    sure: float

    @property
    def y_mm(self) -> float:
        """Of the middle of its row."""
        return self.places[0].box_mm.centre_mm[1]


@dataclass(frozen=True)
class DayRow:
    """A row of a grid that asks for something else each day: the hours, the initials."""

    asks: str
    label: str
    places: tuple[Place, ...]


@dataclass(frozen=True)
class CheckList:
    """Items in reading order: down each block, blocks from left to right. ``used``: words that are explained by it.

    ``boxes``: every rectangle that is explained. ``strange_heads``: heads of columns that say no known answer or day.
    """

    items: tuple[ListedItem, ...]
    day_rows: tuple[DayRow, ...]
    used: tuple[FoundWord, ...]
    boxes: tuple[Box, ...]
    strange_heads: tuple[str, ...]


@dataclass(frozen=True)
class _Spot:
    box: Box
    head: str  # of its column
    how: Literal["box", "word"] = "box"


def check_list(columns: Sequence[Column], words: Sequence[FoundWord], cells: Sequence[Box]) -> CheckList:
    """Find the items beside the columns of places; words to be circled are places too."""
    circled = _circled(columns, words)
    heads = {id(column): _head(column, words, cells) for column in columns}
    days = _days_in_turn(columns, {key: text_of(head) for key, head in heads.items()})
    spots = [
        _Spot(cell, days.get(id(column)) or text_of(heads[id(column)]), "box")
        for column in columns
        for cell in column.cells
    ]
    spots += [_Spot(word.box_mm, word.text, "word") for word in circled]
    head_words = [word for head in heads.values() for word in head]
    rest = [w for w in words if not any(w is h for h in head_words) and not any(w is c for c in circled)]
    rows = _rows(spots)
    on_rows = [(row, _words_on(row, rest, cells)) for row in rows]
    text_first = _text_first(on_rows)
    items: list[ListedItem] = []
    day_rows: list[DayRow] = []
    boxes: list[Box] = []
    for row, beside in on_rows:
        for run, text in _runs(row, beside, text_first):
            boxes += [spot.box for spot in run]
            item = _item(run, text)
            asked = asked_by(item.text)
            if asked is not None and asked.id in {"hours", "initials", "operator", "signature"} and _by_day(item):
                day_rows.append(DayRow(asked.id, item.text, item.places))
            elif item.text:
                items.append(item)
    used = [*head_words, *circled, *(word for item in items for word in item.words)]
    strange = [
        text_of(heads[id(c)])
        for c in columns
        if heads[id(c)] and id(c) not in days and not _known(text_of(heads[id(c)]))
    ]
    return CheckList(
        tuple(_in_reading_order(items)), tuple(day_rows), tuple(used), tuple(boxes), tuple(dict.fromkeys(strange))
    )


def _known(head: str) -> bool:
    return answer_of(head) is not None or day_of(head) is not None


def _by_day(item: ListedItem) -> bool:
    return all(day_of(place.means) is not None for place in item.places)


_WEEK, _MONTH = 7, (28, 31)
_SAME_TOP_MM = 1.0


def _days_in_turn(columns: Sequence[Column], heads: dict[int, str]) -> dict[int, str]:
    """Days of columns by ``id``, where several side by side are a week or a month: small heads are often misread.

    A month's columns are 28 to 31, a week's seven; at least two heads, and more than half of those that say a day at
    all, must agree on where it begins.
    """
    found: dict[int, str] = {}
    for table in _tables(columns):
        said = [day_of(heads[id(column)]) for column in table]
        if len(table) == _WEEK:
            names: Sequence[str] = DAYS
        elif _MONTH[0] <= len(table) <= _MONTH[1]:
            names = [str(day) for day in range(1, len(table) + 1)]
        else:
            continue
        known = [(n, names.index(day)) for n, day in enumerate(said) if day in names]
        starts = Counter((place - n) % len(names) for n, place in known)
        if not starts:
            continue
        (start, votes), *_ = starts.most_common(1)
        if votes >= 2 and votes > len(known) / 2:
            found.update((id(column), names[(n + start) % len(names)]) for n, column in enumerate(table))
    return found


def _tables(columns: Sequence[Column]) -> list[list[Column]]:
    """Columns that begin at one height and touch, left to right."""
    tables: list[list[Column]] = []
    for column in sorted(columns, key=lambda c: c.x_mm):
        top = column.cells[0]
        for table in tables:
            last = table[-1].cells[0]
            if abs(last.y_mm - top.y_mm) < _SAME_TOP_MM and abs(top.x_mm - last.right_mm) < _SAME_TOP_MM:
                table.append(column)
                break
        else:
            tables.append([column])
    return tables


def _head(column: Column, words: Sequence[FoundWord], cells: Sequence[Box]) -> list[FoundWord]:
    """The words over a column: in the cell on top of it, else the lowest line of print right above it."""
    top = column.cells[0]
    for cell in cells:
        if abs(cell.bottom_mm - top.y_mm) < 1.0 and cell.x_mm - 1 < column.x_mm < cell.right_mm + 1:
            found = inside(cell, words)
            if found and cell.w_mm < top.w_mm * 1.5 + 2:
                return found
    reach = max(top.w_mm / 2, 3.5)
    above = [
        w
        for w in words
        if -0.5 < top.y_mm - w.box_mm.centre_mm[1] < _HEAD_ABOVE_MM
        and abs(w.box_mm.centre_mm[0] - column.x_mm) < reach
        and len(w.text) <= _LONGEST_HEAD
    ]
    if not above:
        return []
    lowest = max(w.box_mm.centre_mm[1] for w in above)
    head = [w for w in above if lowest - w.box_mm.centre_mm[1] < _ON_ROW_MM]
    return head if _known(text_of(head)) else []  # with no lines round them, words above may be about anything


def _circled(columns: Sequence[Column], words: Sequence[FoundWord]) -> list[FoundWord]:
    """Answers printed under each other with no box beside them, two or more to a row: one is to be ringed."""
    boxes = [cell for column in columns for cell in column.cells]
    answers = [w for w in words if answer_of(w.text) is not None and not any(_beside(w.box_mm, b) for b in boxes)]
    in_columns = [
        w
        for w in answers
        if sum(o.text == w.text and abs(o.box_mm.x_mm - w.box_mm.x_mm) < _SAME_X_MM for o in answers) >= _FEWEST_CIRCLED
    ]
    return [
        w
        for w in in_columns
        if any(o is not w and abs(o.box_mm.centre_mm[1] - w.box_mm.centre_mm[1]) < _ON_ROW_MM for o in in_columns)
    ]


def _beside(word: Box, box: Box) -> bool:
    level = box.y_mm - 0.5 < word.centre_mm[1] < box.bottom_mm + 0.5
    return level and (-1 < word.x_mm - box.right_mm < _BESIDE_MM or -1 < box.x_mm - word.right_mm < _BESIDE_MM)


def _rows(spots: Sequence[_Spot]) -> list[list[_Spot]]:
    rows: list[list[_Spot]] = []
    for spot in sorted(spots, key=lambda s: s.box.centre_mm[1]):
        if rows and abs(rows[-1][0].box.centre_mm[1] - spot.box.centre_mm[1]) < _ON_ROW_MM:
            rows[-1].append(spot)
        else:
            rows.append([spot])
    return [sorted(row, key=lambda s: s.box.x_mm) for row in rows]


def _words_on(row: Sequence[_Spot], words: Sequence[FoundWord], cells: Sequence[Box]) -> list[FoundWord]:
    """Words beside the row's places; where a table cell stands beside them, all words in it, on however many lines."""
    middle = sum(spot.box.centre_mm[1] for spot in row) / len(row)
    reach = max(1.5, min(spot.box.h_mm for spot in row) / 2)
    beside = [
        cell
        for cell in cells
        if any(abs(cell.y_mm - s.box.y_mm) < 0.8 and abs(cell.bottom_mm - s.box.bottom_mm) < 0.8 for s in row)
    ]
    in_cells = [word for cell in beside for word in inside(cell, words)]
    level = [w for w in words if abs(w.box_mm.centre_mm[1] - middle) < reach and not any(w is c for c in in_cells)]
    return sorted([*in_cells, *level], key=lambda w: w.box_mm.x_mm)


def _text_first(rows: Sequence[tuple[Sequence[_Spot], Sequence[FoundWord]]]) -> bool:
    """Whether items' words stand left of their places on most rows."""
    left = right = 0
    for row, words in rows:
        texts = [w for w in words if answer_of(w.text) is None and any(sign.isalpha() for sign in w.text)]
        left += any(w.box_mm.right_mm < row[0].box.x_mm + 0.5 for w in texts)
        right += any(w.box_mm.x_mm > row[-1].box.right_mm - 0.5 for w in texts)
    return left >= right


def _runs(
    row: Sequence[_Spot], words: Sequence[FoundWord], text_first: bool
) -> list[tuple[list[_Spot], list[FoundWord]]]:
    """The row's places in groups, each with the words of its item and of its answers."""
    runs: list[tuple[list[_Spot], list[FoundWord]]] = []
    pending: list[FoundWord] = []
    things: list[_Spot | FoundWord] = [*row, *words]
    for thing in sorted(things, key=lambda t: t.box.x_mm if isinstance(t, _Spot) else t.box_mm.x_mm):
        if isinstance(thing, FoundWord):
            pending.append(thing)
            continue
        texts = [w for w in pending if not _says_answer(w, row)]
        if runs and not texts:
            runs[-1][0].append(thing)
            runs[-1][1].extend(pending)
        elif text_first:
            if runs:
                runs[-1][1].extend(w for w in pending if _says_answer(w, row))
            runs.append(([thing], texts if runs else pending))
        else:
            if runs:
                runs[-1][1].extend(pending)
            runs.append(([thing], [] if runs else [w for w in pending if _says_answer(w, row)]))
        pending = []
    if runs:
        runs[-1][1].extend(w for w in pending if not text_first or _says_answer(w, row))
    return runs


def _says_answer(word: FoundWord, row: Sequence[_Spot]) -> bool:
    """Whether a word says what ticking the box beside it means, or parts two words to circle."""
    if not any(sign.isalnum() for sign in word.text):
        return any(_beside(word.box_mm, spot.box) for spot in row)
    return answer_of(word.text) is not None and any(_beside(word.box_mm, spot.box) for spot in row)


def _item(run: Sequence[_Spot], words: Sequence[FoundWord]) -> ListedItem:
    labels = [w for w in words if _says_answer(w, run) and answer_of(w.text) is not None]
    places = tuple(Place(spot.box, _means(spot, labels, len(run)), spot.how) for spot in run)
    text_words = [w for w in words if not _says_answer(w, run)]
    text = text_of(text_words).strip(" -\u2013/|:.")
    number, _, rest = text.partition(" ")
    if number.strip(".)(").isdecimal() and rest:
        text = rest  # the form's own numbering; items are numbered in printed order
    known = sum(bool(place.means) for place in places) / len(places)
    one_each = len({place.means for place in places}) == len(places)
    sure = (0.95 if one_each else 0.4) * (1.0 if known == 1 or len(places) == 1 else 0.6) * (1.0 if text else 0.3)
    return ListedItem(text, places, (*text_words, *labels), round(sure, 2))


def _means(spot: _Spot, labels: Sequence[FoundWord], places: int) -> str:
    if spot.how == "word":
        return answer_of(spot.head) or ""
    day = day_of(spot.head)
    if day is not None and places > _FEWEST_ROWS:
        return day
    answer = answer_of(spot.head)
    if answer is not None:
        return answer
    near = [w for w in labels if _beside(w.box_mm, spot.box)]
    right = [w for w in near if w.box_mm.x_mm > spot.box.centre_mm[0]]
    # A word between two boxes belongs to the one it follows, as on most forms, unless the last has none after it.
    first = min(right or near, key=lambda w: abs(w.box_mm.centre_mm[0] - spot.box.centre_mm[0]), default=None)
    return (answer_of(first.text) or "") if first is not None else ""


def _in_reading_order(items: Sequence[ListedItem]) -> list[ListedItem]:
    """Down each block of columns; blocks lie side by side where their first places' middles do."""
    blocks: list[float] = []
    for item in items:
        x = item.places[0].box_mm.centre_mm[0]
        if not any(abs(x - block) < 4 * _SAME_X_MM for block in blocks):
            blocks.append(x)
    blocks.sort()

    def place(item: ListedItem) -> tuple[int, float]:
        x = item.places[0].box_mm.centre_mm[0]
        return min(range(len(blocks)), key=lambda n: abs(blocks[n] - x)), item.y_mm

    return sorted(items, key=place)
