"""The check list of a form: its items' words, and where each is answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from scanform.adopt.answers import answer_of, day_of
from scanform.adopt.day_rows import DayRow, Place, by_day, rows_by_day
from scanform.adopt.found import FoundWord, phrases, text_of
from scanform.adopt.heads import Head, heads_of
from scanform.adopt.places import Column, inside
from scanform.form import Box

__all__ = ["CheckList", "DayRow", "ListedItem", "Place", "check_list"]

_BESIDE_MM = 4.5  # from a box to the word that says what ticking it means
_ON_ROW_MM = 1.4  # by which the middles of one row differ at most
_FEWEST_ROWS = 3
_FEWEST_CIRCLED = 4
_SAME_X_MM = 1.6
_ABOVE_MM = 6.0  # from the words of an item down to places under them
_NO_TEXT = 0.3  # how sure one is of places without words


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
    head: Head  # of its column; of a word to circle, the word
    how: Literal["box", "word"] = "box"


def check_list(columns: Sequence[Column], words: Sequence[FoundWord], cells: Sequence[Box]) -> CheckList:
    """Find the items beside the columns of places; words to be circled are places too."""
    boxes = [cell for column in columns for cell in column.cells]
    joined = _answers_joined(words, boxes, cells)
    words = [w for w in words if not any(w is part for parts in joined.values() for part in parts)]
    words = [*words, *joined]
    circled = _circled(boxes, words)
    heads = heads_of(columns, words, cells)
    spots = [_Spot(cell, heads[id(column)]) for column in columns for cell in column.cells]
    spots += [_Spot(word.box_mm, Head(word.text), "word") for word in circled]
    head_words = [word for head in heads.values() for word in head.words]
    rest = [w for w in words if not any(w is h for h in head_words) and not any(w is c for c in circled)]
    on_rows = [(row, _words_on(row, rest, cells)) for row in _rows(spots)]
    text_first = _text_first(on_rows)
    items: list[ListedItem] = []
    wordless: list[ListedItem] = []
    day_rows = rows_by_day(columns, heads, rest, cells)
    for row, beside in on_rows:
        for run, text in _runs(row, beside, text_first):
            for item in _items(run, text):
                row_of_days = by_day(item.text, item.places)
                if row_of_days is not None:
                    day_rows.append(row_of_days)
                else:
                    (items if item.text else wordless).append(item)
    spoken_for = [*head_words, *(word for item in items for word in item.words)]
    items += _worded_above(wordless, [w for w in rest if not any(w is s for s in spoken_for)])
    used = [*head_words, *circled, *(word for item in items for word in item.words)]
    used += [part for word, parts in joined.items() if any(word is u for u in used) for part in parts]
    strange = [heads[id(c)].text for c in columns if heads[id(c)].words and not heads[id(c)].known]
    return CheckList(
        tuple(_in_reading_order(items)), tuple(day_rows), tuple(used), tuple(boxes), tuple(dict.fromkeys(strange))
    )


def _answers_joined(
    words: Sequence[FoundWord], boxes: Sequence[Box], cells: Sequence[Box]
) -> dict[FoundWord, list[FoundWord]]:
    """Answers of several words beside boxes ("not fitted"), each as one, with the words that it is made of."""
    joined = {}
    for phrase in phrases([w for w in words if any(sign.isalpha() for sign in w.text)], cells):
        parts = [w for w in words if phrase.box_mm.grown(0.01).contains(w.box_mm)]
        if len(parts) > 1 and answer_of(phrase.text) is not None and any(_beside(phrase.box_mm, b) for b in boxes):
            joined[phrase] = parts
    return joined


def _circled(boxes: Sequence[Box], words: Sequence[FoundWord]) -> list[FoundWord]:
    """Answers printed under each other with no box beside them, two or more to a row: one is to be ringed."""
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
            # An answer's word before the item's is of the places before it, one after it of those to come.
            begins = pending.index(texts[0]) if texts and runs else 0
            if runs:
                runs[-1][1].extend(pending[:begins])
            runs.append(([thing], pending[begins:]))
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


def _items(run: Sequence[_Spot], words: Sequence[FoundWord]) -> list[ListedItem]:
    """The items of a run: more than one where each day has a place for every shift, or where the answers begin anew."""
    parts = list(dict.fromkeys(spot.head.part for spot in run))
    if len(parts) > 1:
        made = [_item([spot for spot in run if spot.head.part == part], words) for part in parts]
        return [
            replace(item, text=f"{item.text}, {part}" if item.text else "")
            for item, part in zip(made, parts, strict=True)
        ]
    whole = _item(run, words)
    turns: list[list[_Spot]] = []
    said: set[str] = set()
    for spot, place in zip(run, whole.places, strict=True):
        if not turns or (place.means and place.means in said):
            turns.append([])
            said = set()
        turns[-1].append(spot)
        said.add(place.means)
    if len(turns) == 1 or len({len(turn) for turn in turns}) > 1 or len(turns[0]) == 1:
        return [whole]
    return [_item(turn, [w for w in words if any(_beside(w.box_mm, spot.box) for spot in turn)]) for turn in turns]


def _worded_above(wordless: Sequence[ListedItem], words: Sequence[FoundWord]) -> list[ListedItem]:
    """Items whose words stand over their places, as on cards; those that have none there are left out."""
    found = []
    for item in wordless:
        span = item.places[0].box_mm
        for box in [*(place.box_mm for place in item.places), *(word.box_mm for word in item.words)]:
            span = span.union(box)
        over = [
            w
            for w in words
            if -0.5 < span.y_mm - w.box_mm.bottom_mm < _ABOVE_MM
            and span.x_mm - _ABOVE_MM < w.box_mm.x_mm < span.right_mm
        ]
        if not over:
            continue
        lowest = max(w.box_mm.centre_mm[1] for w in over)
        own = [w for w in over if lowest - w.box_mm.centre_mm[1] < _ON_ROW_MM]
        sure = round(item.sure / _NO_TEXT, 2)
        found.append(replace(item, text=_text(own), words=(*own, *item.words), sure=min(sure, 0.9)))
    return found


def _item(run: Sequence[_Spot], words: Sequence[FoundWord]) -> ListedItem:
    labels = [w for w in words if _says_answer(w, run) and answer_of(w.text) is not None]
    follows = _labels_follow(run, labels)
    places = tuple(Place(spot.box, _means(spot, labels, len(run), follows), spot.how) for spot in run)
    text_words = [w for w in words if not _says_answer(w, run)]
    text = _text(text_words)
    known = sum(bool(place.means) for place in places) / len(places)
    one_each = len({place.means for place in places}) == len(places)
    sure = (0.95 if one_each else 0.4) * (1.0 if known == 1 or len(places) == 1 else 0.6) * (1.0 if text else _NO_TEXT)
    return ListedItem(text, places, (*text_words, *labels), round(sure, 2))


def _text(words: Sequence[FoundWord]) -> str:
    """An item's words without the form's own numbering: items are numbered in printed order."""
    text = text_of(words).strip(" -\u2013/|:.")
    number, _, rest = text.partition(" ")
    return rest if number.strip(".)(").isdecimal() and rest else text


def _labels_follow(run: Sequence[_Spot], labels: Sequence[FoundWord]) -> bool:
    """Whether words that say what a box means stand after their boxes, as on most forms, and not before them."""
    first, last = run[0].box, run[-1].box
    before = any(w.box_mm.x_mm < first.x_mm and _beside(w.box_mm, first) for w in labels)
    after = any(w.box_mm.x_mm > last.x_mm and _beside(w.box_mm, last) for w in labels)
    return after or not before


def _means(spot: _Spot, labels: Sequence[FoundWord], places: int, follows: bool) -> str:
    if spot.how == "word":
        return answer_of(spot.head.text) or ""
    day = spot.head.day or day_of(spot.head.text)
    if day and places > _FEWEST_ROWS:
        return day
    answer = answer_of(spot.head.text)
    if answer is not None:
        return answer
    near = [w for w in labels if _beside(w.box_mm, spot.box)]
    own = [w for w in near if (w.box_mm.x_mm > spot.box.centre_mm[0]) == follows]
    first = min(own or near, key=lambda w: abs(w.box_mm.centre_mm[0] - spot.box.centre_mm[0]), default=None)
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
