"""The check list of a form: its items' words, and where each is answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scanform.adopt.answers import Says
from scanform.adopt.day_rows import DayRow, Place, by_day, rows_by_day
from scanform.adopt.days_down import items_by_day, wide_by_day
from scanform.adopt.found import FoundWord, phrases
from scanform.adopt.heads import answered_columns, heads_of, takes_either_sign
from scanform.adopt.items import (
    ListedItem,
    Spot,
    as_the_others,
    beside,
    captions_box,
    items_of,
    says_answer,
    worded_above,
    written_each_turn,
)
from scanform.adopt.labels import plain
from scanform.adopt.places import ON_ROW_MM, Column, inside, rows_of
from scanform.adopt.ringed import SAME_X_MM, days_in_boxes, spot_of, words_to_ring
from scanform.form import Box

__all__ = ["CheckList", "DayRow", "ListedItem", "Place", "check_list"]

_SPANS_ROWS, _SPANS_PITCH = 1.8, 1.3
_ANOTHER_MATTER_MM = 20.0
_HALF_WAY = 0.45
_WORD_SPACE = 0.6  # of the print's height


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


def check_list(columns: Sequence[Column], words: Sequence[FoundWord], cells: Sequence[Box], says: Says) -> CheckList:
    """Find the items beside the columns of places; words to be circled are places too.

    ``says``: what a printed word says on this form.
    """
    boxes = [cell for column in columns for cell in column.cells]
    words = _with_its_no(words, says)
    joined = _answers_joined(words, boxes, cells, says)
    words = [w for w in words if not any(w is part for parts in joined.values() for part in parts)]
    words = [*words, *joined]
    circled = words_to_ring(columns, words, cells, says)
    heads = heads_of(columns, words, cells, says)
    columns = answered_columns(columns, heads)
    spots = [Spot(cell, heads[id(column)]) for column in columns for cell in column.cells]
    spots += [spot_of(word, cells, says) for word in circled]
    head_words = [word for head in heads.values() for word in head.words]
    rest = [w for w in words if not any(w is h for h in head_words) and not any(w is c for c in circled)]
    on_rows = [
        (row, _on_its_side(row, level, columns))
        for row, level in _levels(rows_of(spots, lambda spot: spot.box), rest, cells, says)
    ]
    text_first = _text_first(on_rows, says)
    items: list[ListedItem] = []
    wordless: list[ListedItem] = []
    day_rows = rows_by_day(columns, heads, words, cells)
    down = items_by_day(on_rows, says)
    if down is not None:
        items, day_rows, day_words = down
        head_words += day_words
        day_rows += wide_by_day(items, boxes, rest, cells, says)
    for row, level in on_rows if down is None else ():
        for found, text in _runs(row, level, text_first, says):
            run = days_in_boxes(found)
            turns = written_each_turn(run, text, says)
            day_rows += turns
            for item in items_of(run, text, says) if not turns else ():
                row_of_days = by_day(item.text, item.places)
                if row_of_days is not None:
                    day_rows.append(row_of_days)
                else:
                    (items if item.text else wordless).append(item)
    spoken_for = [*head_words, *(word for item in items for word in item.words)]
    items += worded_above(wordless, [w for w in rest if not any(w is s for s in spoken_for)])
    items = as_the_others(items)
    used = [*head_words, *circled, *(word for item in items for word in item.words)]
    used += [part for word, parts in joined.items() if any(word is u for u in used) for part in parts]
    own_heads = [heads[id(column)] for column in columns]
    strange = [h.text for h in own_heads if h.words and not h.known and not takes_either_sign(h.text)]
    return CheckList(
        tuple(_in_reading_order(items)), tuple(day_rows), tuple(used), tuple(boxes), tuple(dict.fromkeys(strange))
    )


def _with_its_no(words: Sequence[FoundWord], says: Says) -> list[FoundWord]:
    """The words with "No" put to the word that it goes with: "No leaks underneath" is an item and answers nothing."""
    made: list[FoundWord] = []
    for word in sorted(words, key=lambda w: (round(w.box_mm.centre_mm[1]), w.box_mm.x_mm)):
        before = made[-1] if made else None
        if (
            before is not None
            and plain(before.text) == "no"
            and word.text[:1].islower()
            and -0.2 < word.box_mm.x_mm - before.box_mm.right_mm < _WORD_SPACE * word.box_mm.h_mm
            and abs(word.box_mm.centre_mm[1] - before.box_mm.centre_mm[1]) < ON_ROW_MM
            and says(f"{before.text} {word.text}") is None
        ):
            made[-1] = FoundWord(f"{before.text} {word.text}", before.box_mm.union(word.box_mm))
        else:
            made.append(word)
    return made


def _answers_joined(
    words: Sequence[FoundWord], boxes: Sequence[Box], cells: Sequence[Box], says: Says
) -> dict[FoundWord, list[FoundWord]]:
    """Answers of several words beside boxes ("not fitted"), each as one, with the words that it is made of."""
    joined = {}
    for phrase in phrases([w for w in words if any(sign.isalpha() for sign in w.text)], cells):
        parts = [w for w in words if phrase.box_mm.grown(0.01).contains(w.box_mm)]
        if len(parts) > 1 and says(phrase.text) is not None and any(beside(phrase.box_mm, b) for b in boxes):
            joined[phrase] = parts
    return joined


def _on_its_side(row: Sequence[Spot], words: Sequence[FoundWord], columns: Sequence[Column]) -> list[FoundWord]:
    """Without words that another block's columns of places part from the row's: its items stand a hair higher."""
    y, start = row[0].box.centre_mm[1], row[0].box.x_mm
    between = [
        column.cells[0].right_mm
        for column in columns
        if column.cells[0].right_mm < start
        and column.cells[0].y_mm < y < column.cells[-1].bottom_mm
        and not any(spot.box in column.cells for spot in row)
    ]
    wall = max(between, default=float("-inf"))
    own = [word for word in words if word.box_mm.x_mm > wall]
    return own if any(word.box_mm.x_mm < start for word in own) else list(words)


def _to_next_row(row: Sequence[Spot], rows: Sequence[Sequence[Spot]]) -> float:
    """From a row to the nearest with places under or over its own, in mm; 0 if there is none."""
    x, y = row[0].box.centre_mm
    own = [spot.box.centre_mm[1] for other in rows if other is not row for spot in other
           if abs(spot.box.centre_mm[0] - x) < SAME_X_MM]  # fmt: skip
    return min((abs(y - other) for other in own), default=0.0)


def _words_on(
    row: Sequence[Spot], words: Sequence[FoundWord], cells: Sequence[Box], pitch_mm: float
) -> list[FoundWord]:
    """Words beside the row's places; where a table cell stands beside them, all words in it, on however many lines.

    ``pitch_mm``: to the next row.
    """
    middle = sum(spot.box.centre_mm[1] for spot in row) / len(row)
    reach = max(1.5, min(spot.box.h_mm for spot in row) / 2)
    flush = [
        cell
        for cell in cells
        if any(abs(cell.y_mm - s.box.y_mm) < 0.8 and abs(cell.bottom_mm - s.box.bottom_mm) < 0.8 for s in row)
    ]
    in_cells = [word for cell in flush for word in inside(cell, words)]
    level = [
        w
        for w in words
        if abs(w.box_mm.centre_mm[1] - middle) < reach
        and not any(w is c for c in in_cells)
        and not _heads_rows(w, row, cells, pitch_mm)
    ]
    return sorted([*in_cells, *level], key=lambda w: w.box_mm.x_mm)


def _heads_rows(word: FoundWord, row: Sequence[Spot], cells: Sequence[Box], pitch_mm: float) -> bool:
    """Whether a word stands in a cell that spans several rows beside their places: the name of a part of the list."""
    around = [c for c in cells if c.contains(word.box_mm)]
    cell = min(around, key=lambda c: c.w_mm * c.h_mm, default=None)
    if cell is None or cell.h_mm < max(_SPANS_ROWS * max(spot.box.h_mm for spot in row), _SPANS_PITCH * pitch_mm):
        return False
    return not any(cell.x_mm < spot.box.centre_mm[0] < cell.right_mm for spot in row)


def _levels(
    rows: Sequence[Sequence[Spot]], words: Sequence[FoundWord], cells: Sequence[Box], says: Says
) -> list[tuple[Sequence[Spot], list[FoundWord]]]:
    """Every row with the words on its level; where an item has none, with those up to half way to the next rows."""
    on_rows = []
    middles = [row[0].box.centre_mm[1] for row in rows]
    for n, row in enumerate(rows):
        level = _words_on(row, words, cells, _to_next_row(row, rows))
        texts = phrases([w for w in level if says(w.text) is None and any(s.isalpha() for s in w.text)], cells)
        begins = [spot for spot in row if spot.head.means == row[0].head.means]
        if len(texts) < (len(begins) if row[0].head.means else 1):
            gaps = [abs(middles[n] - other) for k, other in enumerate(middles) if k != n]
            reach = _HALF_WAY * min(gaps, default=0.0)
            taken = [*(spot.box for spot in row), *(w.box_mm for w in level if says(w.text))]
            for line in phrases([w for w in words if abs(w.box_mm.centre_mm[1] - middles[n]) < reach], cells):
                # What stands over the places is for :func:`worded_above`.
                if not any(line.box_mm.x_mm < b.right_mm and b.x_mm < line.box_mm.right_mm for b in taken):
                    level += [w for w in words if w not in level and line.box_mm.grown(0.01).contains(w.box_mm)]
        told = [w for w in words if says(w.text) and any(captions_box(w.box_mm, spot.box) for spot in row)]
        level = sorted({id(w): w for w in [*level, *told]}.values(), key=lambda w: w.box_mm.x_mm)
        on_rows.append((row, level))
    return on_rows


def _text_first(rows: Sequence[tuple[Sequence[Spot], Sequence[FoundWord]]], says: Says) -> bool:
    """Whether items' words stand left of their places on most rows."""
    left = right = 0
    for row, words in rows:
        texts = [w for w in words if says(w.text) is None and any(sign.isalpha() for sign in w.text)]
        left += any(w.box_mm.right_mm < row[0].box.x_mm + 0.5 for w in texts)
        right += any(w.box_mm.x_mm > row[-1].box.right_mm - 0.5 for w in texts)
    return left >= right


def _runs(
    row: Sequence[Spot], words: Sequence[FoundWord], text_first: bool, says: Says
) -> list[tuple[list[Spot], list[FoundWord]]]:
    """The row's places in groups, each with the words of its item and of its answers."""
    pairs = _pairs(row, words, says)
    if pairs:
        return pairs
    runs: list[tuple[list[Spot], list[FoundWord]]] = []
    pending: list[FoundWord] = []
    things: list[Spot | FoundWord] = [*row, *words]
    for thing in sorted(things, key=lambda t: t.box.x_mm if isinstance(t, Spot) else t.box_mm.x_mm):
        if isinstance(thing, FoundWord):
            pending.append(thing)
            continue
        texts = [w for w in pending if not says_answer(w, row, says)]
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
                runs[-1][1].extend(_up_to_gap(pending, runs[-1][0][-1].box))
            runs.append(([thing], [] if runs else [w for w in pending if says_answer(w, row, says)]))
        pending = []
    if runs:
        own = [w for w in pending if says_answer(w, row, says)] if text_first else _up_to_gap(pending, row[-1].box)
        runs[-1][1].extend(own)
    return runs


def _up_to_gap(words: Sequence[FoundWord], box: Box) -> list[FoundWord]:
    """The words after a place up to a gap so wide that what comes then is about something else."""
    own: list[FoundWord] = []
    end = box.right_mm
    for word in words:
        if own and word.box_mm.x_mm - end > _ANOTHER_MATTER_MM:
            break
        own.append(word)
        end = max(end, word.box_mm.right_mm)
    return own


def _pairs(row: Sequence[Spot], words: Sequence[FoundWord], says: Says) -> list[tuple[list[Spot], list[FoundWord]]]:
    """Places in twos with their item's words between them, if the whole row is so; else none."""
    pairs = list(zip(row[::2], row[1::2], strict=False))
    texts = [w for w in words if not says_answer(w, row, says)]
    between = [
        [w for w in texts if a.box.right_mm - 0.5 < w.box_mm.x_mm and w.box_mm.right_mm < b.box.x_mm + 0.5]
        for a, b in pairs
    ]
    if 2 * len(pairs) != len(row) or not all(between) or sum(map(len, between)) < len(texts):
        return []
    if any(a.head.means == b.head.means for a, b in pairs):
        return []
    return [([a, b], own) for (a, b), own in zip(pairs, between, strict=True)]


def _in_reading_order(items: Sequence[ListedItem]) -> list[ListedItem]:
    """Down each block of columns; blocks lie side by side where their first places' middles do."""
    blocks: list[float] = []
    for item in items:
        x = item.places[0].box_mm.centre_mm[0]
        if not any(abs(x - block) < 4 * SAME_X_MM for block in blocks):
            blocks.append(x)
    blocks.sort()

    def place(item: ListedItem) -> tuple[int, float]:
        x = item.places[0].box_mm.centre_mm[0]
        return min(range(len(blocks)), key=lambda n: abs(blocks[n] - x)), item.y_mm

    return sorted(items, key=place)
